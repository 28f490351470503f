"""The packets of a clip's picture stream, read without decoding, and where decoding may start."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

from serve_marker.video.progress import ProgressReporter

VP8_SHOWN_BIT = 0x10
TELL_EVERY = 500


@dataclass(frozen=True)
class EntryPoint:
    """A packet from which decoding can start: it and all frames shown after it come out right.

    `index` is the first frame of the table it serves, `pts` and `dts` are its own stamps [ticks].
    """

    index: int
    pts: int
    dts: int


@dataclass(frozen=True, eq=False)
class PacketTable:
    """What demuxing tells. Stamps are in ticks of the stream's time base.

    shown_pts: (N,) int64 stamps of the frames in presentation order; shown_key: (N,) bool;
    key_stamps: (K, 2) int64 pts and dts of every key packet, also of those an edit list hides; `hidden` counts the
    frames it hides.
    """

    shown_pts: NDArray[np.int64]
    shown_key: NDArray[np.bool_]
    key_stamps: NDArray[np.int64]
    damaged: int
    without_stamp: int
    out_of_order: bool
    read_error: bool
    hidden: int = 0

    def entry_points(self) -> tuple[EntryPoint, ...]:
        """One per key packet, in the order of the frames they serve."""
        first = np.searchsorted(self.shown_pts, self.key_stamps[:, 0], side="left")
        points = [EntryPoint(int(i), int(p), int(d)) for i, (p, d) in zip(first, self.key_stamps, strict=True)]
        return tuple(sorted(points, key=lambda point: (point.pts, point.dts)))

    def from_first_shown(self, first_pts: int) -> PacketTable:
        """The table without the frames that a decoder starting at the beginning never shows."""
        start = int(np.searchsorted(self.shown_pts, first_pts, side="left"))
        if start == 0:
            return self
        return replace(self, shown_pts=self.shown_pts[start:], shown_key=self.shown_key[start:])


def read_packets(container: Any, stream: Any, reporter: ProgressReporter) -> PacketTable:
    """Read every packet of `stream` (av VideoStream) from where the container stands, reporting how far it is.

    A last packet that the file's end cuts short holds no whole picture and is left out.
    """
    shows = shows_a_picture(stream.codec_context.codec.canonical_name)
    stamps: list[int] = []
    key_flags: list[bool] = []
    key_stamps: list[tuple[int, int]] = []
    damaged = without_stamp = hidden = 0
    cut_short = read_error = runs_back = False
    last_dts: int | None = None
    packets = iter(container.demux(stream))
    while True:
        try:
            packet = next(packets, None)
        except (av.FFmpegError, OSError):
            read_error = True
            break
        if packet is None or is_end(packet):
            break
        cut_short = packet.is_corrupt
        pts, dts = packet.pts, packet.dts
        if pts is None:
            pts = dts
        if pts is None:
            without_stamp += 1
            continue
        if dts is not None:
            runs_back |= last_dts is not None and dts < last_dts
            last_dts = dts
        if len(stamps) % TELL_EVERY == 0:
            reporter.reach(packet.pos or 0, container.size)
        key = packet.is_keyframe
        if key:
            key_stamps.append((pts, pts if dts is None else dts))
        damaged += packet.is_corrupt
        hidden += packet.is_discard
        if not packet.is_discard and shows(packet):
            stamps.append(pts)
            key_flags.append(key)
    if cut_short and stamps:
        for column in (stamps, key_flags):
            column.pop()
    shown = np.array(stamps, dtype=np.int64)
    order = np.argsort(shown, kind="stable")
    shown = shown[order]
    return PacketTable(
        shown_pts=shown,
        shown_key=np.array(key_flags, dtype=bool)[order],
        key_stamps=np.array(key_stamps, dtype=np.int64).reshape(-1, 2),
        damaged=damaged,
        without_stamp=without_stamp,
        out_of_order=runs_back or bool(np.any(np.diff(shown) <= 0)),
        read_error=read_error,
        hidden=hidden,
    )


def frames_listed(stream: Any) -> int:
    """How many frames of the stream (av VideoStream) the container's index lists, without those an edit list hides."""
    return sum(not entry.is_discard for entry in stream.index_entries)


def shows_a_picture(codec: str) -> Callable[[Any], bool]:
    """Whether a packet holds a picture to show: VP8 and VP9 store some that only serve as reference.

    Sources: RFC 6386, 9.1 (show_frame); VP9 Bitstream Specification 0.6, 6.2 and annex B, from memory.
    """
    if codec == "vp8":
        return lambda packet: packet.size > 0 and bool(bytes(packet)[0] & VP8_SHOWN_BIT)
    if codec == "vp9":
        return lambda packet: packet.size > 0 and _vp9_shows(bytes(packet))
    return lambda packet: True


def _vp9_shows(content: bytes) -> bool:
    """Several frames in one packet (a superframe) end in one that is shown."""
    if content[-1] & 0xE0 == 0xC0:
        return True
    shown_bits = 0b0101 if content[0] & 0x30 == 0x30 else 0b1010
    return bool(content[0] & shown_bits)


def is_end(packet: Any) -> bool:
    """Whether this is the empty packet (av Packet) that follows a stream's last one and makes the decoder let go."""
    return bool(packet.size == 0 and packet.pts is None and packet.dts is None)


def decoded(packets: Iterable[Any]) -> Iterator[Any]:
    """Frames (av VideoFrame) of these packets (av Packet), passing over packets that cannot be decoded.

    Packets without content are passed over too: to the decoder they would mean the end.
    """
    for packet in packets:
        end = is_end(packet)
        if packet.size == 0 and not end:
            continue
        try:
            frames = packet.decode()
        except (av.error.InvalidDataError, av.error.UndefinedError, av.error.PatchWelcomeError):
            frames = []
        yield from frames
        if end:
            return
