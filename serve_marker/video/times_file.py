"""A clip's packet table kept in a file of its own, so that a long clip is read through only once.

The file is a checksum and an .npz after it. The checksum also covers the format's version and the clip's size, so
that where it holds the table is of this version, of this clip and as it was written.
"""

from __future__ import annotations

import hashlib
import os
import zipfile
import zlib
from contextlib import suppress
from io import BytesIO
from pathlib import Path

import numpy as np

from serve_marker.video.packet_stamps import PacketTable

VERSION = 3
CHECKSUM_BYTES = 16


def load_table(path: Path, clip_bytes: int) -> PacketTable | None:
    """The table of a clip of this size, or None where there is none that can be trusted."""
    try:
        kept = path.read_bytes()
    except OSError:
        return None
    checksum, content = kept[:CHECKSUM_BYTES], kept[CHECKSUM_BYTES:]
    if checksum != _checksum(content, clip_bytes):
        return None
    try:
        return _table_in(content)
    except (ValueError, TypeError, LookupError, EOFError, MemoryError, zipfile.BadZipFile, zlib.error):
        return None


def _table_in(content: bytes) -> PacketTable:
    """The table of an .npz. Whoever wrote it may have known the checksum: nothing in it may be packed or be code."""
    with zipfile.ZipFile(BytesIO(content)) as packed:
        if any(part.compress_type != zipfile.ZIP_STORED for part in packed.infolist()):
            raise ValueError("a table of times is never compressed")
    with np.load(BytesIO(content), allow_pickle=False) as columns:
        damaged, without_stamp, out_of_order, read_error, hidden = columns["facts"].tolist()
        stamps = {name: columns[name] for name in ("shown_pts", "shown_key", "key_stamps")}
        shown, key_frames, key_stamps = stamps.values()
        if shown.ndim != 1 or key_frames.shape != shown.shape or key_stamps.shape[1:] != (2,):
            raise ValueError(f"no table of times has {shown.shape}, {key_frames.shape} and {key_stamps.shape}")
        if [column.dtype.kind for column in stamps.values()] != ["i", "b", "i"] or (np.diff(shown) < 0).any():
            raise ValueError("a table of times holds whole numbers in rising order")
        return PacketTable(
            **stamps,
            damaged=damaged,
            without_stamp=without_stamp,
            out_of_order=bool(out_of_order),
            read_error=bool(read_error),
            hidden=hidden,
        )


def save_table(path: Path, table: PacketTable, clip_bytes: int) -> None:
    """Write the table, all of it or nothing; where it cannot be written the clip is simply read again next time."""
    facts = [table.damaged, table.without_stamp, table.out_of_order, table.read_error, table.hidden]
    columns = BytesIO()
    np.savez(
        columns,
        facts=np.array(facts, dtype=np.int64),
        shown_pts=table.shown_pts,
        shown_key=table.shown_key,
        key_stamps=table.key_stamps,
    )
    content = columns.getvalue()
    partly = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        partly.write_bytes(_checksum(content, clip_bytes) + content)
        partly.replace(path)
    except OSError:
        with suppress(OSError):
            partly.unlink()


def _checksum(content: bytes, clip_bytes: int) -> bytes:
    return hashlib.blake2b(f"{VERSION} {clip_bytes} ".encode() + content, digest_size=CHECKSUM_BYTES).digest()
