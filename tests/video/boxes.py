"""MP4 indexes made by hand, box by box (ISO/IEC 14496-12, clauses 4.2 and 8, from memory), and their spoiling."""

from __future__ import annotations

import struct
from collections.abc import Sequence

Pairs = Sequence[tuple[int, int]]


def box(kind: bytes, *parts: bytes, wide: bool = False) -> bytes:
    """A box with a size of 32 bits, or of 64 where `wide`."""
    body = b"".join(parts)
    if wide:
        return struct.pack(">I4sQ", 1, kind, 16 + len(body)) + body
    return struct.pack(">I4s", 8 + len(body), kind) + body


def clock(kind: bytes, ticks_s: int, length: int, version: int = 0) -> bytes:
    """A mvhd or a mdhd, which begin alike."""
    times = bytes(8 if version == 0 else 16)
    return box(kind, bytes([version, 0, 0, 0]), times, struct.pack(">IQ" if version else ">II", ticks_s, length))


def track_head(number: int, length: int, version: int = 0) -> bytes:
    """A tkhd as far as it is read."""
    times = bytes(8 if version == 0 else 16)
    return box(b"tkhd", bytes([version, 0, 0, 7]), times, struct.pack(">IIQ" if version else ">III", number, 0, length))


def edit_list(edits: Sequence[tuple[int, int]], version: int = 0) -> bytes:
    """An elst of (span, start) at full rate."""
    rows = [struct.pack(">Qqhh" if version else ">Iihh", span, start, 1, 0) for span, start in edits]
    return box(b"edts", box(b"elst", bytes([version, 0, 0, 0]), struct.pack(">I", len(rows)), *rows))


def table(kind: bytes, pairs: Pairs) -> bytes:
    """A stts or a ctts."""
    return box(kind, bytes(4), struct.pack(">I", len(pairs)), *(struct.pack(">Ii", *pair) for pair in pairs))


def movie(
    deltas: Pairs,
    offsets: Pairs | None,
    samples: int,
    ticks_s: int,
    length: int,
    movie_ticks_s: int = 1000,
    movie_length: int | None = None,
    edits: Sequence[tuple[int, int]] = (),
    version: int = 0,
) -> bytes:
    """A moov with one track, number 1."""
    shown_length = length * movie_ticks_s // ticks_s if movie_length is None else movie_length
    tables = [table(b"stts", deltas), *([table(b"ctts", offsets)] if offsets else [])]
    sizes = box(b"stsz", bytes(8), struct.pack(">I", samples), bytes(4 * samples))
    media = box(b"mdia", clock(b"mdhd", ticks_s, length, version), box(b"minf", box(b"stbl", *tables, sizes)))
    head = [track_head(1, shown_length, version), *([edit_list(edits, version)] if edits else [])]
    return box(b"moov", clock(b"mvhd", movie_ticks_s, shown_length, version), box(b"trak", *head, media))


def body_of(content: bytes, kind: bytes) -> int:
    """Where the content of the first box of this kind begins."""
    return content.index(kind) + 4


def with_number(content: bytes, kind: bytes, at: int, value: int) -> bytes:
    """The bytes with another 32-bit number so many bytes into a box's content."""
    start = body_of(content, kind) + at
    return content[:start] + struct.pack(">I", value) + content[start + 4 :]


def number_in(content: bytes, kind: bytes, at: int) -> int:
    """The 32-bit number so many bytes into a box's content."""
    return int(struct.unpack_from(">I", content, body_of(content, kind) + at)[0])
