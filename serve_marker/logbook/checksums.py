"""A checksum beside each row, so that a bit that flipped on a disk is found: SQLite has none of its own.

Each table has a column ``checksum``: the CRC-32 of the row's other cells in the order of their columns' names, written
as JSON. A new column or table needs nothing more: `schema.py` adds and renews checksums after each step.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from operator import itemgetter
from typing import Any, NamedTuple
from zlib import crc32

CHECKSUM = "checksum"
WRONG_BEFORE = -1
"""In place of a checksum: this row did not agree with its own when a later version came."""


class WrongRow(NamedTuple):
    """A row that is not as it was written: its table and its key."""

    table: str
    key: tuple[str, ...]


def checksum_of(cells: Sequence[object]) -> int:
    """Return the CRC-32 of cells.

    Examples
    --------
    >>> checksum_of(("Noor", 7, None, 0.5)), checksum_of(("Noor", 6, None, 0.5))
    (2518308392, 1267503021)
    """
    return crc32(json.dumps(cells).encode())


@lru_cache
def by_name_of(columns: tuple[str, ...]) -> Callable[[Sequence[Any]], tuple[Any, ...]]:
    """Return what puts a row's cells into the order of their columns' names."""
    order = sorted(range(len(columns)), key=columns.__getitem__)
    return itemgetter(*order) if len(order) > 1 else tuple


def with_checksum(columns: tuple[str, ...], row: Sequence[Any]) -> tuple[Any, ...]:
    """Return a row with its checksum behind it."""
    return (*row, checksum_of(by_name_of(columns)(row)))


def has_checksums(connection: sqlite3.Connection) -> bool:
    """Return whether a file keeps checksums; logbooks of the first versions do not."""
    return any(CHECKSUM in _columns(connection, table) for table in _tables(connection))


def add_checksum_columns(connection: sqlite3.Connection) -> None:
    """Give each table that has none the column for its checksums."""
    for table in _tables(connection):
        if CHECKSUM not in _columns(connection, table):
            connection.execute(f"ALTER TABLE {table} ADD COLUMN {CHECKSUM} INTEGER NOT NULL DEFAULT 0")


def keep_wrong_rows(connection: sqlite3.Connection) -> None:
    """Mark the rows that are not as they were written, so that new checksums do not call them right."""
    for table in _tables(connection):
        connection.execute(
            f"UPDATE {table} SET {CHECKSUM} = {WRONG_BEFORE} WHERE {CHECKSUM} != {_computed(connection, table)}"
        )


def renew_checksums(connection: sqlite3.Connection) -> None:
    """Write the checksums of all rows anew, after a step that may have changed any of them."""
    for table in _tables(connection):
        connection.execute(
            f"UPDATE {table} SET {CHECKSUM} = {_computed(connection, table)} WHERE {CHECKSUM} != {WRONG_BEFORE}"
        )


def wrong_rows(connection: sqlite3.Connection) -> Iterator[WrongRow]:
    """Yield the rows that are not as they were written."""
    for table in _tables(connection):
        key = ", ".join(f"CAST({name} AS BLOB)" for name in _key(connection, table))
        for cells in connection.execute(
            f"SELECT {key} FROM {table} WHERE {CHECKSUM} != {_computed(connection, table)}"
        ).fetchall():
            yield WrongRow(table, tuple(cell.decode(errors="replace") for cell in cells))


def _computed(connection: sqlite3.Connection, table: str) -> str:
    """The checksum of a row as SQL. Texts come as bytes: spoilt ones are no Unicode."""
    connection.create_function("row_checksum", -1, _row_checksum, deterministic=True)
    kinds = {name: kind for name, kind in _columns(connection, table).items() if name != CHECKSUM}
    cells = [f"CAST({name} AS BLOB)" if kind == "TEXT" else name for name, kind in sorted(kinds.items())]
    return f"row_checksum({', '.join(cells)})"


def _row_checksum(*cells: object) -> int:
    return checksum_of([cell.decode(errors="surrogateescape") if isinstance(cell, bytes) else cell for cell in cells])


def _tables(connection: sqlite3.Connection) -> list[str]:
    rows = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'")
    return [name for (name,) in rows.fetchall()]


def _columns(connection: sqlite3.Connection, table: str) -> dict[str, str]:
    return {name: kind for _, name, kind, *_ in connection.execute(f"PRAGMA table_info({table})").fetchall()}


def _key(connection: sqlite3.Connection, table: str) -> list[str]:
    columns = connection.execute(f"PRAGMA table_info({table})").fetchall()
    return [name for place, name in sorted((column[5], column[1]) for column in columns) if place]
