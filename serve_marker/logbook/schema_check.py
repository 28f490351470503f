"""Whether a file holds the tables of a logbook and nothing else: looked at before any of them is asked.

What is expected is never written down a second time. The steps of `schema.py` are taken on an empty file in memory,
as far as the file's own version, and both schemas are compared word by word.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from serve_marker.errors import UserError
from serve_marker.logbook.migration import take_step, version_of
from serve_marker.logbook.schema import MIGRATIONS, Migration
from serve_marker.printable import quoted_name

_TOKEN = re.compile(r"""'(?:[^']|'')*'|"[^"]*"|\w+|[^\s\w]""", re.ASCII)
"""A word of SQL: two texts are the same statement where their words are, whatever the space between them."""
REMEDY = "work on your latest copy of it."


class SchemaPart(NamedTuple):
    """A table, index, trigger or view: what it is, its name, whose it is, and the words it is made by."""

    kind: str
    name: str
    table: str
    words: tuple[str, ...]


def schema_parts(connection: sqlite3.Connection) -> list[SchemaPart]:
    """Return all a file's schema holds; reading it runs nothing of it."""
    rows = connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_schema").fetchall()
    return [
        SchemaPart(str(kind), str(name), str(table), tuple(_TOKEN.findall(str(sql)))) for kind, name, table, sql in rows
    ]


@lru_cache(maxsize=4)
def parts_of_version(version: int, migrations: Sequence[Migration] = MIGRATIONS) -> frozenset[SchemaPart]:
    """Return what the schema of a logbook holds that has been through the first steps, ``version`` of them.

    Examples
    --------
    >>> sorted(part.name for part in parts_of_version(1) if part.kind == "table")[:3]
    ['ball_mark', 'clip', 'gym']
    """
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        for number, migration in enumerate(migrations[:version], start=1):
            take_step(connection, number, migration)
        return frozenset(schema_parts(connection))


def refuse_other_schema(connection: sqlite3.Connection, path: Path) -> None:
    """Raise UserError where a file's schema is not the one that its version of Serve Marker wrote."""
    found, expected = schema_parts(connection), parts_of_version(version_of(connection))
    known = {(part.kind, part.name) for part in expected}
    there = {(part.kind, part.name) for part in found}
    for part in found:
        if (part.kind, part.name) not in known:
            raise UserError(f"{path.name} holds a {_kind(part)} no logbook has, {quoted_name(part.name)}; {REMEDY}")
    for part in sorted(expected):
        if (part.kind, part.name) not in there:
            raise UserError(f"The {part.kind} {part.name} is missing in {path.name}; {REMEDY}")
    for part in found:
        if part not in expected:
            raise UserError(f"The {part.kind} {part.name} in {path.name} is not as Serve Marker makes it; {REMEDY}")


def _kind(part: SchemaPart) -> str:
    return part.kind if part.kind in ("table", "index", "trigger", "view") else "part"
