"""Where a clip's pictures may be wrong: found by decoding all of it once, packet by packet.

Only what says that a picture itself is wrong counts: a packet cut short or refused by the decoder, a frame the decoder
flags because references are missing or lost parts were patched over, a frame that is in the table but never comes, two
frames at the same time. What the decoder logs, and pictures that repeat exactly, are no damage by themselves. A wrong
picture spoils what is predicted from it, so a range lasts until the next key frame. Codecs that carry no check of their
own (VP9) can show a wrong picture without any of these.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import Any

import av
import numpy as np

from serve_marker.video.clip import Clip
from serve_marker.video.clip_warnings import FrameRange, runs
from serve_marker.video.opening import opened
from serve_marker.video.packet_stamps import is_end
from serve_marker.video.progress import IsCancelled, Progress, ProgressReporter

DECODE_ERRORS = (av.error.InvalidDataError, av.error.UndefinedError, av.error.PatchWelcomeError)


def scan_damage(
    clip: Clip, progress: Progress | None = None, cancelled: IsCancelled | None = None
) -> tuple[FrameRange, ...]:
    """The damaged frame ranges of a clip, in order; decodes every frame, so run it in the background.

    Raises
    ------
    UserError
        If the file cannot be opened.
    Cancelled
        If `cancelled` says so.
    """
    reporter = ProgressReporter(progress, cancelled)
    found = _Findings(clip)
    with opened(clip.path, clip.stream_index) as (container, stream):
        stream.thread_type = "NONE"
        _decode_all(container, stream, found, reporter)
    reporter.reach(1, 1)
    return found.frame_ranges()


def _decode_all(container: Any, stream: Any, found: _Findings, reporter: ProgressReporter) -> None:
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
        try:
            frames, refused = packet.decode(), False
        except DECODE_ERRORS:
            frames, refused = [], True
        except (av.FFmpegError, OSError):
            return
        if not end:
            found.packet(packet, refused)
        for frame in frames:
            found.frame(frame)
            reporter.reach(found.last, found.clip.frame_count)
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

    def packet(self, packet: Any, refused: bool) -> None:
        """Take note of a packet, and whether the decoder refused it."""
        stamp = packet.pts if packet.pts is not None else packet.dts
        if packet.is_keyframe:
            self._spoilt_before_key, self._spoilt, self._key_stamp = self._spoilt, False, stamp
        if refused or packet.is_corrupt:
            self._spoilt = True
        leads = stamp is not None and self._key_stamp is not None and stamp < self._key_stamp
        if stamp is not None and (self._spoilt or (leads and self._spoilt_before_key)):
            self._mark(stamp)

    def frame(self, frame: Any) -> None:
        """Take note of a frame that came out."""
        index = self._index(frame.pts)
        if index is None:
            return
        self._seen[index] = True
        self.last = max(index, self.last)
        if frame.is_corrupt:
            self._spoil_group(index)

    def frame_ranges(self) -> tuple[FrameRange, ...]:
        """Runs of frames that are wrong, or did not come."""
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
