"""A copy of a logbook beside itself, made before its tables are changed."""

from __future__ import annotations

import sqlite3
from pathlib import Path


def back_up(connection: sqlite3.Connection, path: Path, version: int) -> Path:
    """Copy a logbook beside itself, under a name that is free, and return the copy's path."""
    copy = path.with_name(f"{path.stem}.version-{version}{path.suffix}")
    attempt = 2
    while copy.exists():
        copy = path.with_name(f"{path.stem}.version-{version}-{attempt}{path.suffix}")
        attempt += 1
    target = sqlite3.connect(copy)
    try:
        connection.backup(target)
    except BaseException:
        target.close()
        copy.unlink(missing_ok=True)
        raise
    target.close()
    return copy
