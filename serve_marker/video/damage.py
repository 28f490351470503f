"""Where a clip's pictures may be wrong: found by decoding all of it once, packet by packet.

A damaged picture spoils what is predicted from it, so a stretch lasts until the next key frame decodes well. Signs of
damage are: a packet the demuxer or the decoder refuses, a frame flagged as corrupt, a complaint of the decoder (it
patches over lost parts without failing), a frame that is in the table but never comes, two frames at the same time,
and the very same picture again although a whole packet was spent on it. Codecs that carry no check of their own (VP9)
can show a wrong picture without any of these.
"""

from __future__ import annotations

import threading
import zlib
from bisect import bisect_right
from typing import Any

import av
import numpy as np

from serve_marker.video.clip import Clip, opened
from serve_marker.video.packets import is_end
from serve_marker.video.progress import IsCancelled, Progress, ProgressReporter
from serve_marker.video.sentences import FrameRange, runs

DECODE_ERRORS = (av.error.InvalidDataError, av.error.UndefinedError, av.error.PatchWelcomeError)
REPEAT_SHARE = 0.25
_LOG_IN_USE = threading.Lock()


def scan_damage(
    clip: Clip, progress: Progress | None = None, cancelled: IsCancelled | None = None
) -> tuple[FrameRange, ...]:
    """The damaged stretches of a clip, in order; decodes every frame, so run it in the background.

    Raises
    ------
    UserError
        If the file cannot be opened.
    Stopped
        If `cancelled` says so.
    """
    told = ProgressReporter(progress, cancelled)
    found = _Findings(clip)
    with _LOG_IN_USE, opened(clip.path, clip.stream_index) as (container, stream):
        stream.thread_type = "NONE"
        level = av.logging.get_level()
        av.logging.set_level(av.logging.ERROR)
        try:
            with av.logging.Capture(local=False) as complaints:
                _decode_all(container, stream, found, complaints, told)
        finally:
            av.logging.set_level(level)
    told.reach(1, 1)
    return found.stretches()


def _decode_all(container: Any, stream: Any, found: _Findings, complaints: list[Any], told: ProgressReporter) -> None:
    packets = iter(container.demux(stream))
    while True:
        try:
            packet = next(packets, None)
        except (av.FFmpegError, OSError):
            return
        if packet is None:
            return
        end = is_end(packet)
        if packet.size == 0 and not end:
            continue
        complaints.clear()
        try:
            frames, failed = packet.decode(), False
        except DECODE_ERRORS:
            frames, failed = [], True
        except (av.FFmpegError, OSError):
            return
        if not end:
            found.packet(packet, failed or bool(complaints))
        elif complaints:
            found.spoil_rest()
        for frame in frames:
            found.frame(frame)
            told.reach(found.last, found.clip.frame_count)
        if end:
            return


class _Findings:
    """What one pass over the clip sees."""

    def __init__(self, clip: Clip) -> None:
        self.clip = clip
        self.last = -1
        self._seen = np.zeros(clip.frame_count, dtype=bool)
        self._wrong = np.zeros(clip.frame_count, dtype=bool)
        self._spoilt = False
        self._key_stamp: int | None = None
        self._spoilt_before_key = False
        self._sizes: dict[int, int] = {}
        self._repeats: list[int] = []
        self._before: tuple[int, int] | None = None

    def packet(self, packet: Any, complaint: bool) -> None:
        """Take note of a packet and of what the decoder said while it was fed."""
        stamp = packet.pts if packet.pts is not None else packet.dts
        if packet.is_keyframe:
            self._spoilt_before_key, self._spoilt, self._key_stamp = self._spoilt, False, stamp
        if complaint or packet.is_corrupt:
            self._spoilt = True
        leads = stamp is not None and self._key_stamp is not None and stamp < self._key_stamp
        if stamp is not None:
            self._sizes[stamp] = packet.size
            if self._spoilt or (leads and self._spoilt_before_key):
                self._mark(stamp)

    def frame(self, frame: Any) -> None:
        """Take note of a frame that came out."""
        index = self._index(frame.pts)
        if index is None:
            return
        if index < self.last:
            self._wrong[index : self.last + 1] = True
        self._seen[index] = True
        self.last = max(index, self.last)
        if frame.is_corrupt:
            self._spoil_group(index)
        print_of = zlib.crc32(frame.planes[0])
        if self._before is not None and self._before == (index - 1, print_of):
            self._repeats.append(index)
        self._before = (index, print_of)

    def spoil_rest(self) -> None:
        """The decoder complained about the frames it held back to the end."""
        self._wrong[max(self.last, 0) + 1 :] = True

    def stretches(self) -> tuple[FrameRange, ...]:
        """Runs of frames that are wrong, or did not come."""
        sizes = np.array([self._sizes.get(int(stamp), 0) for stamp in self.clip.stamps])
        usual = float(np.median(sizes)) if len(sizes) else 0.0
        for index in self._repeats:
            if sizes[index] > REPEAT_SHARE * usual:
                self._wrong[index] = True
        for index in np.flatnonzero(~self._seen).tolist():
            self._spoil_group(index)
        same_time = np.diff(self.clip.stamps) <= 0
        self._wrong[1:] |= same_time
        self._wrong[:-1] |= same_time
        bad = self._wrong | ~self._seen
        return tuple(
            FrameRange(
                first, last, "frames are lost" if not self._seen[first : last + 1].any() else "packets are damaged"
            )
            for first, last in runs(bad)
        )

    def _mark(self, stamp: int) -> None:
        index = self._index(stamp)
        if index is not None:
            self._wrong[index] = True

    def _spoil_group(self, index: int) -> None:
        """A frame that is corrupt or lacking spoils those after it up to the next key frame."""
        following = bisect_right(self.clip.keyframes, index)
        end = self.clip.keyframes[following] if following < len(self.clip.keyframes) else self.clip.frame_count
        self._wrong[index:end] = True

    def _index(self, stamp: int | None) -> int | None:
        if stamp is None and self.clip.frames_without_time:
            return None
        if stamp is None:
            return self.last + 1 if self.last + 1 < self.clip.frame_count else None
        index = int(self.clip.stamps.searchsorted(stamp))
        if index == self.clip.frame_count or self.clip.stamps[index] != stamp:
            return None
        repeated = index + 1 < self.clip.frame_count and self.clip.stamps[index + 1] == stamp and self._seen[index]
        return index + 1 if repeated else index
