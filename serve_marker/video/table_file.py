"""A clip's packet table kept in a file of its own, so that a long clip is read through only once."""

from __future__ import annotations

import os
import zipfile
from contextlib import suppress
from pathlib import Path

import numpy as np

from serve_marker.video.packets import PacketTable

VERSION = 2


def load_table(path: Path, clip_bytes: int) -> PacketTable | None:
    """The table of a clip of this size, or None where there is none that can be trusted."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as kept:
            version, size_bytes, damaged, without_stamp, out_of_order, read_error, hidden = kept["facts"].tolist()
            if (version, size_bytes) != (VERSION, clip_bytes):
                return None
            return PacketTable(
                shown_pts=kept["shown_pts"],
                shown_key=kept["shown_key"],
                key_stamps=kept["key_stamps"],
                damaged=damaged,
                without_stamp=without_stamp,
                out_of_order=bool(out_of_order),
                read_error=bool(read_error),
                hidden=hidden,
            )
    except (OSError, ValueError, KeyError, EOFError, AttributeError, TypeError, zipfile.BadZipFile):
        return None


def save_table(path: Path, table: PacketTable, clip_bytes: int) -> None:
    """Write the table, all of it or nothing; where it cannot be written the clip is simply read again next time."""
    faults = [table.damaged, table.without_stamp, table.out_of_order, table.read_error]
    facts = [VERSION, clip_bytes, *faults, table.hidden]
    partly = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with partly.open("wb") as file:
            np.savez(
                file,
                facts=np.array(facts, dtype=np.int64),
                shown_pts=table.shown_pts,
                shown_key=table.shown_key,
                key_stamps=table.key_stamps,
            )
        partly.replace(path)
    except OSError:
        with suppress(OSError):
            partly.unlink()
