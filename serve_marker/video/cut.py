"""Parts of a clip as an MP4 of their own, copied as they are: nothing is decoded, so every frame stays exact."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import av

from serve_marker.errors import UserError
from serve_marker.video.clip import Clip
from serve_marker.video.encode import MADE_BY
from serve_marker.video.progress import IsCancelled, Progress, ProgressReporter


def joined_spans(spans_s: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return spans of time [s] in their order, those that touch each other as one.

    Examples
    --------
    >>> joined_spans([(7.0, 9.0), (1.0, 3.0), (2.5, 4.0)])
    [(1.0, 4.0), (7.0, 9.0)]
    """
    joined: list[tuple[float, float]] = []
    for from_s, to_s in sorted(spans_s):
        if joined and from_s <= joined[-1][1]:
            joined[-1] = joined[-1][0], max(joined[-1][1], to_s)
        else:
            joined.append((from_s, to_s))
    return joined


def copy_parts(
    clip: Clip,
    spans_s: Sequence[tuple[float, float]],
    path: Path,
    progress: Progress | None = None,
    cancelled: IsCancelled | None = None,
) -> None:
    """Write spans of a clip [s after its first frame] one after the other, with picture as filmed and without sound.

    A copied part can only begin at a key frame: it begins at the last one before its span.

    Raises
    ------
    UserError
        Where the clip cannot be read, the place not be written, or MP4 not hold what the camera wrote.
    Cancelled
        If `cancelled` says so; nothing is left then.
    """
    unfinished = path.with_name(f".{path.name}.unfinished")
    reporter = ProgressReporter(progress, cancelled)
    try:
        with (
            av.open(str(clip.path)) as source,
            av.open(str(unfinished), "w", format="mp4") as target,
        ):
            target.metadata.update(MADE_BY)
            stream = source.streams[clip.stream_index]
            copied = target.add_stream_from_template(stream)
            parts = joined_spans([(_key_frame_before_s(clip, from_s), to_s) for from_s, to_s in spans_s])
            ends = _Ends()
            for done, (from_s, to_s) in enumerate(parts):
                reporter.reach(done, len(parts))
                start, end = (int(clip.stamps[clip.frame_at(time_s)]) for time_s in (from_s, to_s))
                source.seek(start, stream=stream, backward=True)
                for packet in _packets(source.demux(stream), start, end):
                    ends.moved_behind(packet, start)
                    packet.stream = copied
                    target.mux(packet)
                ends.next_part()
        unfinished.replace(path)
        reporter.reach(1, 1)
    except OSError as error:
        raise UserError(f"{path} could not be written ({error.strerror}); choose another place.") from error
    except av.FFmpegError as error:
        raise UserError(
            f"{clip.path.name} could not be copied ({error.strerror}); make it with the overlay."
        ) from error
    finally:
        with suppress(OSError):
            unfinished.unlink()


class _Ends:
    """Where the film written so far ends [ticks of the clip], when shown and when decoded."""

    def __init__(self) -> None:
        self._shown = self._last_shown = self._decoded = 0
        self._by: int | None = None

    def moved_behind(self, packet: Any, start: int) -> None:
        """Move a packet of a part that begins at ``start`` behind the parts before it."""
        if self._by is None:
            self._by = max(self._shown, self._decoded + start - packet.dts) - start
        packet.pts, packet.dts = packet.pts + self._by, packet.dts + self._by
        self._last_shown = max(self._last_shown, packet.pts + (packet.duration or 1))
        self._decoded = packet.dts + 1

    def next_part(self) -> None:
        """Let the next packet begin another part."""
        self._shown, self._by = self._last_shown, None


def _key_frame_before_s(clip: Clip, time_s: float) -> float:
    first = clip.frame_at(time_s)
    return clip.time_s(max((key for key in clip.keyframes if key <= first), default=0))


def _packets(packets: Iterable[Any], start: int, end: int) -> Iterator[Any]:
    """The packets from a key frame on until all is decoded that is shown by ``end``."""
    for packet in packets:
        if packet.dts is None or packet.dts > end:
            return
        if packet.pts is not None and packet.pts >= start:
            yield packet
