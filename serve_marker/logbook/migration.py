"""An older logbook is brought up to date, step after step, each in a transaction of its own."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from pathlib import Path

from serve_marker.logbook.checksums import add_checksum_columns, has_checksums, keep_wrong_rows, renew_checksums
from serve_marker.logbook.copy_before_migration import back_up
from serve_marker.logbook.schema import MIGRATIONS, Migration


def version_of(connection: sqlite3.Connection) -> int:
    """The version a file stands at: the number of migrations it has been through, 0 for a new one.

    Examples
    --------
    >>> from contextlib import closing
    >>> with closing(sqlite3.connect(":memory:")) as connection:
    ...     version_of(connection)
    0
    """
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    return version


def migrate(connection: sqlite3.Connection, path: Path, migrations: Sequence[Migration] = MIGRATIONS) -> Path | None:
    """Bring a logbook up to the newest version, each step in a transaction of its own.

    Returns the copy made beside an existing logbook before the first step, or None where nothing had to be kept.
    """
    start = version_of(connection)
    if start >= len(migrations):
        return None
    copy = back_up(connection, path, start) if start else None
    for number, migration in enumerate(migrations, start=1):
        connection.execute("BEGIN IMMEDIATE")
        try:
            if version_of(connection) < number:
                take_step(connection, number, migration)
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
    return copy


def bring_up_to_date(connection: sqlite3.Connection, migrations: Sequence[Migration] = MIGRATIONS) -> None:
    """Take all steps that a file in memory, or a copy of one, has not been through."""
    for number, migration in enumerate(migrations, start=1):
        if version_of(connection) < number:
            take_step(connection, number, migration)


def take_step(connection: sqlite3.Connection, number: int, migration: Migration) -> None:
    """Take the step that makes a logbook of version ``number``, and keep the checksums true to it."""
    if has_checksums(connection):
        keep_wrong_rows(connection)
    migration(connection)
    if has_checksums(connection):
        add_checksum_columns(connection)
        renew_checksums(connection)
    connection.execute(f"PRAGMA user_version = {number}")
