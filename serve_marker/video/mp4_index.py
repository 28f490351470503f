"""What the index of an MP4 or MOV file says of one track's times, read box by box without decoding anything.

The library that decodes takes each table for itself; here they are read to be held against each other. Boxes are those
of ISO/IEC 14496-12 (clauses 4.2 and 8, numbers from memory). No size is believed: every box has to end within the one
around it, and nothing is read or counted beyond fixed bounds.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

Span = tuple[int, int]
MOST_BOXES, MOST_FRAMES, MOST_TABLE_BYTES = 100_000, 5_000_000, 1 << 26
CONTAINERS = (b"edts", b"mdia", b"minf", b"stbl")
NEEDED_TABLES = frozenset((b"stsd", b"stts", b"ctts", b"stsc", b"stsz", b"stco", b"stss"))
OTHER_TABLES = frozenset(
    b"cslg stz2 co64 stps stsh padb stdp sdtp sbgp sgpd csgp subs saiz saio free skip uuid".split()
)


class BrokenIndexError(Exception):
    """Why the index cannot be read, in the words of the sentence about it."""


@dataclass(frozen=True)
class Edit:
    """One part of the film as shown: `span` in movie ticks, from `start` in media ticks, -1 where nothing is shown."""

    span: int
    start: int
    rate: float


@dataclass(frozen=True, eq=False)
class Packed:
    """One value [ticks] a sample, packed as the file does: (K,) int64 `values`, each for so many samples (`counts`)."""

    counts: NDArray[np.int64]
    values: NDArray[np.int64]

    def samples(self) -> int:
        """For how many samples there is a value."""
        return int(self.counts.sum())

    def each(self) -> NDArray[np.int64]:
        """The value of each sample, (N,) int64."""
        return np.repeat(self.values, self.counts)


@dataclass(frozen=True, eq=False)
class TrackIndex:
    """The times of one track, as its boxes hold them.

    `deltas` are the decode gaps (stts), `offsets` lead from decode to shown times (ctts), None without that box;
    `samples` is what the table of sizes counts. Lengths are in ticks of `ticks_s` (media) and `movie_ticks_s`
    [ticks/s], 0 where the file does not say.
    """

    ticks_s: int
    media_length: int
    movie_ticks_s: int
    movie_length: int
    track_length: int
    edits: tuple[Edit, ...]
    samples: int
    deltas: Packed
    offsets: Packed | None


def read_index(path: Path, track_id: int) -> TrackIndex | None:
    """The index of the track; None where the file has none, or keeps its times in fragments.

    Raises
    ------
    BrokenIndexError
        If boxes do not fit into each other, lack, or hold less than they say.
    """
    with path.open("rb") as file:
        end = file.seek(0, 2)
        moov = next((span for kind, span in _boxes(file, (0, end), strict=False) if kind == b"moov"), None)
        if moov is None:
            return None
        inside = list(_boxes(file, moov, strict=False))
        if any(kind in (b"mvex", b"cmov", b"rmra") for kind, _ in inside):
            return None
        movie_ticks_s, movie_length = _ticks(_body(file, _found(inside, b"mvhd")))
        for kind, span in inside:
            head = _found(_boxes(file, span, strict=False), b"tkhd") if kind == b"trak" else None
            number, track_length = _track(_body(file, head)) if head else (None, 0)
            if number == track_id:
                return _index(file, _tree(file, span), movie_ticks_s, movie_length, track_length)
        raise BrokenIndexError("its parts do not fit together")


def _index(
    file: BinaryIO, track: list[tuple[bytes, Span]], movie_ticks_s: int, movie_length: int, track_length: int
) -> TrackIndex:
    ticks_s, media_length = _ticks(_body(file, _found(track, b"mdhd")))
    (samples,) = _numbers(">I", _body(file, _found(track, b"stsz", b"stz2")), 8)
    if samples > MOST_FRAMES:
        raise BrokenIndexError(f"it counts {samples} frames")
    shown, edits = _found(track, b"ctts"), _found(track, b"elst")
    return TrackIndex(
        ticks_s=ticks_s,
        media_length=media_length,
        movie_ticks_s=movie_ticks_s,
        movie_length=movie_length,
        track_length=track_length,
        edits=tuple(_edits(_body(file, edits))) if edits else (),
        samples=samples,
        deltas=_packed(_body(file, _found(track, b"stts")), ">u4"),
        offsets=_packed(_body(file, shown), ">i4") if shown else None,
    )


def _boxes(file: BinaryIO, span: Span, strict: bool = True) -> Iterator[tuple[bytes, Span]]:
    """Name and content of each box in a span of the file (4.2); those at the top may be cut off by the file's end."""
    at, end = span
    for _ in range(MOST_BOXES):
        if at + 8 > end:
            return
        file.seek(at)
        size, kind, wide = struct.unpack(">I4sQ", file.read(16).ljust(16, b"\0"))
        head = 16 if size == 1 else 8
        size = {0: end - at, 1: wide}.get(size, size)
        if strict and (size > end - at or not all(32 <= letter < 127 for letter in kind)):
            raise BrokenIndexError("its parts do not fit together")
        if size < head:
            if strict:
                raise BrokenIndexError("its parts do not fit together")
            return
        yield kind, (at + head, min(at + size, end))
        at += size


def _tree(file: BinaryIO, span: Span) -> list[tuple[bytes, Span]]:
    """The boxes in a track that hold something themselves, however deep."""
    found = []
    for kind, inner in _boxes(file, span):
        within = _tree(file, inner) if kind in CONTAINERS else [(kind, inner)]
        names = [name for name, _ in within]
        if kind == b"stbl" and (names.count(b"stts") != 1 or _has_a_spoilt_name(set(names))):
            raise BrokenIndexError("one of its tables has no known name")
        found += within
    return found


def _has_a_spoilt_name(names: set[bytes]) -> bool:
    """Whether an unknown table is one bit away from one that is needed and lacks; makers add their own."""
    strange = names - NEEDED_TABLES - OTHER_TABLES
    return any(_bits_apart(name, lost) == 1 for name in strange for lost in NEEDED_TABLES - names)


def _bits_apart(name: bytes, other: bytes) -> int:
    return (int.from_bytes(name, "big") ^ int.from_bytes(other, "big")).bit_count()


def _found(boxes: Iterable[tuple[bytes, Span]], *kinds: bytes) -> Span | None:
    return next((span for kind, span in boxes if kind in kinds), None)


def _body(file: BinaryIO, span: Span | None) -> bytes:
    if span is None or span[1] - span[0] > MOST_TABLE_BYTES:
        raise BrokenIndexError("one of its tables is missing")
    file.seek(span[0])
    return file.read(span[1] - span[0])


def _numbers(layout: str, body: bytes, at: int) -> tuple[int, ...]:
    try:
        return struct.unpack_from(layout, body, at)
    except struct.error:
        raise BrokenIndexError("one of its tables is cut short") from None


def _known(length: int, wide: bool) -> int:
    """A length of all ones means that it is not known."""
    return 0 if length == (1 << (64 if wide else 32)) - 1 else length


def _ticks(body: bytes) -> tuple[int, int]:
    """Ticks a second and length of mvhd (8.2.2) and mdhd (8.4.2), which begin alike."""
    wide = body[:1] == b"\x01"
    ticks_s, length = _numbers(">IQ" if wide else ">II", body, 20 if wide else 12)
    return ticks_s, _known(length, wide)


def _track(body: bytes) -> tuple[int, int]:
    """Number and length of a track (tkhd, 8.3.2)."""
    wide = body[:1] == b"\x01"
    number, _, length = _numbers(">IIQ" if wide else ">III", body, 20 if wide else 12)
    return number, _known(length, wide)


def _edits(body: bytes) -> Iterator[Edit]:
    """The edit list (elst, 8.6.6)."""
    layout = ">Qqhh" if body[:1] == b"\x01" else ">Iihh"
    (count,) = _numbers(">I", body, 4)
    for k in range(min(count, MOST_BOXES)):
        span, start, whole, part = _numbers(layout, body, 8 + k * struct.calcsize(layout))
        yield Edit(span, start, whole + part / (1 << 16))


def _packed(body: bytes, kind: str) -> Packed:
    """The table of stts (8.6.1.2) and ctts (8.6.1.3), whose offsets are signed whatever their version."""
    (count,) = _numbers(">I", body, 4)
    if 8 + 8 * count > len(body):
        raise BrokenIndexError("one of its tables is cut short")
    table = np.frombuffer(body, dtype=[("count", ">u4"), ("value", kind)], count=count, offset=8)
    return Packed(table["count"].astype(np.int64), table["value"].astype(np.int64))
