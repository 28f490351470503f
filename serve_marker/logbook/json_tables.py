"""A logbook as plain JSON tables, and back: every table by its name, every row as named values.

The version written with them is that of the logbook itself (`schema.MIGRATIONS`), so that tables written by an earlier
version are brought up to date by the same steps as an earlier logbook. docs/json-format.md explains every column.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

from serve_marker.errors import UserError
from serve_marker.logbook.checksums import CHECKSUM
from serve_marker.logbook.file_faults import file_faults
from serve_marker.logbook.limited_connection import LimitedConnection
from serve_marker.logbook.migration import bring_up_to_date
from serve_marker.logbook.record_rows import put_rows
from serve_marker.logbook.rescue import write_rescued
from serve_marker.logbook.rows import Row, integer_cell, real_cell, text_cell
from serve_marker.logbook.schema import MIGRATIONS
from serve_marker.logbook.store import Logbook
from serve_marker.plain_json import read_object, text_of_file, told_as
from serve_marker.printable import quoted_name

JSON_FORMAT = "Serve Marker logbook"
JSON_VERSION = len(MIGRATIONS)
FIRST_JSON_VERSION = 21
"""The first version of a logbook that was ever written as JSON."""
LARGEST_JSON_BYTES = 1 << 30
CELLS = {"TEXT": text_cell, "REAL": real_cell, "INTEGER": integer_cell}

Tables = dict[str, list[dict[str, Any]]]


def tables_of(logbook: Logbook) -> Tables:
    """Return all a logbook holds: its tables by name, their rows in the order they were written."""
    with closing(sqlite3.connect(":memory:")) as memory:
        logbook.copy_into(memory)
        return {table: _rows(memory, table, columns) for table, columns in _columns(memory).items()}


def write_logbook(source: Path, target: Path) -> None:
    """Write the logbook that a JSON file holds into a new file, whole or not at all.

    Raises
    ------
    UserError
        Where the file holds anything no logbook can hold, naming the first such thing; then nothing is written.
    """
    text = text_of_file(source, LARGEST_JSON_BYTES)
    with told_as(f"{source.name} is no JSON of a logbook; choose a file that export wrote."):
        plain = read_object(text)
    version = _version(plain, source)
    with closing(sqlite3.connect(":memory:", isolation_level=None, factory=LimitedConnection)) as memory:
        bring_up_to_date(memory, MIGRATIONS[:version])
        with told_as(f"The tables in {source.name} cannot be read; export them again."):
            _fill(memory, plain["tables"], source)
        bring_up_to_date(memory)
        for sentence in file_faults(memory, source):
            raise UserError(sentence)
        write_rescued(Logbook(source, memory), target)


def _version(plain: Mapping[str, Any], source: Path) -> int:
    version = plain.get("version")
    if plain.get("format") != JSON_FORMAT or type(version) is not int or version < FIRST_JSON_VERSION:
        raise UserError(f"{source.name} is no JSON of a logbook; choose a file that export wrote.")
    if version > JSON_VERSION:
        raise UserError(f"{source.name} was written by a newer Serve Marker; update this one to read it.")
    return version


def _fill(memory: sqlite3.Connection, tables: Tables, source: Path) -> None:
    known = _columns(memory)
    for table in known.keys() ^ tables.keys():
        doing = "has a table that no logbook has" if table in tables else "lacks a table"
        raise UserError(f"{source.name} {doing}: {quoted_name(table)}. Export it again.")
    for table, columns in known.items():
        for number, row in enumerate(tables[table], start=1):
            where = f"Row {number} of {table} in {source.name}"
            if row.keys() != columns.keys():
                raise UserError(f"{where} has other columns than {table} has; export it again.")
            with told_as(f"{where} holds an impossible value; export it again."):
                cells: Row = tuple(CELLS[kind](row[name], name) for name, kind in columns.items())
            try:
                put_rows(memory, table, tuple(columns), [cells])
            except sqlite3.Error as error:
                raise UserError(f"{where} holds an impossible value; export it again.") from error


def _columns(connection: sqlite3.Connection) -> dict[str, dict[str, str]]:
    """The tables of a file, each with its columns and their kinds, without the checksums."""
    named = connection.execute(
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' ORDER BY name"
    )
    return {
        table: {
            name: kind
            for _, name, kind, *_ in connection.execute(f"PRAGMA table_info({table})").fetchall()
            if name != CHECKSUM
        }
        for (table,) in named.fetchall()
    }


def _rows(connection: sqlite3.Connection, table: str, columns: Mapping[str, str]) -> list[dict[str, Any]]:
    cells = connection.execute(f"SELECT {', '.join(columns)} FROM {table}").fetchall()
    return [dict(zip(columns, row, strict=True)) for row in cells]
