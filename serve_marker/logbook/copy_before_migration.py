"""A copy of a logbook beside itself, made before its tables are changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from serve_marker.errors import UserError

_NOT_HERE = (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN)


def back_up(connection: sqlite3.Connection, path: Path, version: int) -> Path:
    """Copy a logbook beside itself, under a name that is free, and return the copy's path.

    Raises
    ------
    UserError
        If the logbook or its folder may not be written to.
    """
    copy = path.with_name(f"{path.stem}.version-{version}{path.suffix}")
    attempt = 2
    while copy.exists():
        copy = path.with_name(f"{path.stem}.version-{version}-{attempt}{path.suffix}")
        attempt += 1
    with _asking_for_a_copy(path):
        _try_to_write(connection, version)
        try:
            with closing(sqlite3.connect(copy)) as target:
                connection.backup(target)
        except BaseException:
            copy.unlink(missing_ok=True)
            raise
    return copy


def copies_before_migration(path: Path) -> list[Path]:
    """Return the copies that lie beside a logbook, by name."""
    ours = path.absolute().parent.glob(f"*.version-*{path.suffix}")
    return sorted(copy for copy in ours if copy.name.startswith(f"{path.stem}.version-"))


def _try_to_write(connection: sqlite3.Connection, version: int) -> None:
    """Raise where the file cannot be changed, before a copy is made in vain."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        connection.execute(f"PRAGMA user_version = {version}")
    finally:
        connection.execute("ROLLBACK")


@contextmanager
def _asking_for_a_copy(path: Path) -> Iterator[None]:
    try:
        yield
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF not in _NOT_HERE:
            raise
        raise UserError(
            f"{path.name} is of an older version and cannot be changed where it is. "
            "Copy it to another folder and open the copy."
        ) from error
