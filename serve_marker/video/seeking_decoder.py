"""A clip's decoder: runs of frames from the key frame before the one wanted, each with its true index."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from contextlib import suppress
from itertools import chain
from typing import Any

import av

from serve_marker.errors import UserError
from serve_marker.video.clip import Clip
from serve_marker.video.opening import open_container, picture_stream
from serve_marker.video.packet_stamps import EntryPoint, decoded, shows_a_picture

MOST_REORDERED = 16
"""Pictures a decoder of H.264 or HEVC holds at most (ITU-T H.264 and H.265, annex A, from memory)."""
BEGINNING = EntryPoint(index=0, pts=-(2**63), dts=-(2**63))


class Decoder:
    """Decodes forward; frames arrive with the index their presentation stamp has in the clip's table.

    A frame that the decoder does not deliver is simply absent from a run: nothing is shown in its place.
    """

    def __init__(self, clip: Clip) -> None:
        self.clip = clip
        self._starts = (BEGINNING, *clip.entry_points)
        self._start_indices = [start.index for start in self._starts]
        self._run: Iterator[tuple[int, Any]] | None = None
        self._position = -1
        self._end = clip.frame_count
        self._container: Any = None
        self._open()

    def run_to(self, i: int, ends_there: bool = False) -> Iterator[tuple[int, Any]]:
        """Frames (index, av VideoFrame) up to and including `i`, from the nearest place decoding can start.

        The run goes on from the frame delivered last where that is nearer. A run that `ends_there` decodes nothing
        beyond `i`, but cannot go on. Where `i` is not delivered from the key frame before it, one earlier key frame is
        tried, and at last a decoder of a single thread: several lose whole frames beside a damaged one.
        """
        latest = bisect_right(self._start_indices, i) - 1
        if not self.continues_to(i):
            self._start_at(latest, end=i if ends_there else None)
        yield from self._advance(i)
        if self._position != i and latest > 0:
            self._start_at(latest - 1)
            yield from self._advance(i)
        if self._position != i:
            self._open("NONE")
            self._start_at(latest)
            yield from self._advance(i)
            self._open()

    def continues_to(self, i: int) -> bool:
        """Whether the run going on reaches `i` without starting anew."""
        latest = bisect_right(self._start_indices, i) - 1
        begun = self._starts[latest].index - 1 <= self._position < i
        return self._run is not None and begun and i <= self._end

    def close(self) -> None:
        """Release the file and the decoder's threads."""
        self._run = None
        if self._container is not None:
            self._container.close()
            self._container = None

    def _advance(self, i: int) -> Iterator[tuple[int, Any]]:
        while self._run is not None and self._position < i:
            following = next(self._run, None)
            if following is None:
                self._run = None
                return
            self._position = following[0]
            yield following

    def _open(self, thread_type: str = "AUTO") -> None:
        """Open the file anew; if that fails the container opened before stays in use."""
        container = open_container(self.clip.path)
        try:
            stream = picture_stream(self.clip.path, container, self.clip.stream_index)
        except UserError:
            container.close()
            raise
        stream.thread_type = thread_type
        self.close()
        self._container, self._stream = container, stream
        self._shows = shows_a_picture(stream.codec_context.codec.canonical_name)

    def _start_at(self, which: int, end: int | None = None) -> None:
        """Begin a run at the start point `which`, or before it where the container cannot go there."""
        start = self._starts[which]
        self._run, self._end = None, self.clip.frame_count
        self._position = start.index - 1
        for nearby in self._starts[max(which - 1, 0) : which + 1][::-1]:
            for stamp in (nearby.pts, nearby.dts):
                packets = None if nearby is BEGINNING else self._packets_from(stamp, start.pts)
                if packets is not None:
                    if end is not None:
                        packets, self._end = self._packets_of(start.index, end, packets), end
                    self._run = self._indexed(packets, start.index)
                    return
        self._open(self._stream.thread_type.name)
        self._run = self._indexed(self._container.demux(self._stream), start.index)

    def _packets_from(self, stamp: int, no_later_than: int) -> Iterable[Any] | None:
        """Packets after seeking to `stamp` [ticks], None if the container went past `no_later_than` or nowhere."""
        try:
            self._container.seek(stamp, stream=self._stream, backward=True)
            packets = self._container.demux(self._stream)
            first = next(packets, None)
        except av.FFmpegError:
            return None
        if first is None or first.pts is None or first.pts > no_later_than or not first.is_keyframe:
            return None
        return chain([first], packets)

    def _packets_of(self, first: int, last: int, packets: Iterable[Any]) -> Iterator[Any]:
        """The packets until all that these frames are made of have come, then the empty one that ends decoding."""
        stamps = self.clip.stamps[[first, last]]
        awaited = last - first + 1
        for packet in packets:
            yield packet
            if packet.pts is not None and stamps[0] <= packet.pts <= stamps[1] and self._shows(packet):
                awaited -= 1
                if awaited == 0:
                    break
        end = av.Packet()
        end.stream = self._stream
        yield end

    def _frames(self, packets: Iterable[Any]) -> Iterator[Any]:
        """Decoded frames, also those the decoder still holds where the file breaks off."""
        try:
            yield from decoded(packets)
        except (av.FFmpegError, OSError):
            with suppress(av.FFmpegError):
                yield from self._stream.decode(None)
            raise

    def _indexed(self, packets: Iterable[Any], first_index: int) -> Iterator[tuple[int, Any]]:
        """Decoded frames with their index, in order, from `first_index` on, but for those the table does not hold."""
        return frames_in_order(self._found_in_table(packets, first_index), first_index)

    def _found_in_table(self, packets: Iterable[Any], first_index: int) -> Iterator[tuple[int, Any]]:
        stamps = self.clip.stamps
        before, before_stamp = first_index - 1, None
        for frame in self._frames(packets):
            stamp = frame.pts
            if stamp is None and self.clip.frames_without_time:
                continue
            index = before + 1 if stamp is None or stamp == before_stamp else int(stamps.searchsorted(stamp))
            if index < len(stamps) and (stamp is None or stamps[index] == stamp):
                yield index, frame
                before, before_stamp = index, stamp


def frames_in_order(frames: Iterable[tuple[int, Any]], first: int) -> Iterator[tuple[int, Any]]:
    """Frames (index, frame) from `first` on in the order of their indices; those that come too late are left out.

    Some encoders understate how far they reorder, so a decoder lets frames go early. One is held back only while
    another before it is missing, and no longer than MOST_REORDERED frames.

    Examples
    --------
    >>> list(frames_in_order([(0, "a"), (2, "c"), (1, "b"), (3, "d")], 0))
    [(0, 'a'), (1, 'b'), (2, 'c'), (3, 'd')]
    """
    early: dict[int, Any] = {}
    following = first
    try:
        for index, frame in frames:
            if index >= following:
                early[index] = frame
            while early and (following in early or len(early) > MOST_REORDERED):
                index = min(early)
                following = index + 1
                yield index, early.pop(index)
    except (av.FFmpegError, OSError):
        yield from sorted(early.items(), key=lambda pair: pair[0])
        raise
    yield from sorted(early.items(), key=lambda pair: pair[0])
