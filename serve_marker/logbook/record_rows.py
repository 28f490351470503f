"""Records into their tables and out again, with each row counted: what a file swallows is no success."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from serve_marker.errors import UserError
from serve_marker.logbook import tables
from serve_marker.logbook.any_record import Record
from serve_marker.logbook.checksums import CHECKSUM, with_checksum
from serve_marker.logbook.records import Serve
from serve_marker.logbook.rows import Row
from serve_marker.logbook.tables import ball_cells, parts_of, table_of

_RAW_CELLS = [place for place, column in enumerate(tables.SERVES.columns) if column not in tables.DERIVED_COLUMNS]


def put_record(connection: sqlite3.Connection, record: Record) -> None:
    """Add a record with its parts, or change the one of its id.

    Raises
    ------
    UserError
        If a row is not there afterwards.
    """
    table = table_of(record)
    (row,) = put_rows(connection, table.name, tuple(table.columns), [table.row(record)], key="id")
    parts = parts_of(record)
    if parts is not None:
        name, columns, rows = parts
        connection.execute(f"DELETE FROM {name} WHERE {columns[0]} = ?", (record.id,))
        put_rows(connection, name, columns, [(record.id, *row) for row in rows])
        counted = f"SELECT count(*) FROM {name} WHERE {columns[0]} = ?"
        _require_kept(connection.execute(counted, (record.id,)).fetchone() == (len(rows),))
    kept = connection.execute(f"SELECT {CHECKSUM} FROM {table.name} WHERE id = ?", (record.id,)).fetchone()
    _require_kept(kept == (row[-1],))


def put_rows(
    connection: sqlite3.Connection, table: str, columns: tuple[str, ...], rows: Sequence[Row], key: str = ""
) -> list[Row]:
    """Write rows and return them with their checksums; the row of a ``key`` that is there already is changed.

    Raises
    ------
    UserError
        If fewer or more rows were written.
    """
    written = [with_checksum(columns, row) for row in rows]
    if written:
        _require_kept(connection.executemany(_insert(table, columns, key), written).rowcount == len(rows))
    return written


def _require_kept(kept: bool) -> None:
    if not kept:
        raise UserError("The logbook did not keep what was to be written. Nothing was changed. Check the logbook.")


@lru_cache
def _insert(table: str, columns: tuple[str, ...], key: str) -> str:
    names = (*columns, CHECKSUM)
    statement = f"INSERT INTO {table} ({', '.join(names)}) VALUES ({', '.join('?' * len(names))})"
    changes = ", ".join(f"{name} = excluded.{name}" for name in names if name not in key.split(", "))
    return f"{statement} ON CONFLICT ({key}) DO UPDATE SET {changes}" if key else statement


def remove_record(connection: sqlite3.Connection, record: Record) -> None:
    """Remove the record of this id, if it is there."""
    connection.execute(f"DELETE FROM {table_of(record).name} WHERE id = ?", (record.id,))


def require_unchanged(connection: sqlite3.Connection, before: Serve, *, gone_will_do: bool) -> None:
    """Raise UserError where a serve is no longer what ``before`` says."""
    found = connection.execute(f"{tables.SERVES.select} WHERE id = ?", (before.id,)).fetchone()
    if found is None and gone_will_do:
        return
    balls = connection.execute(
        f"SELECT {', '.join(tables.BALL_COLUMNS)} FROM ball_mark WHERE serve_id = ? ORDER BY position", (before.id,)
    ).fetchall()
    if found is None or _raw(found) != _raw(tables.SERVES.row(before)) or balls != ball_cells(before):
        raise UserError("Another window changed this serve meanwhile, so nothing was changed. Open the logbook again.")


def _raw(row: Sequence[Any]) -> list[Any]:
    return [row[place] for place in _RAW_CELLS]
