"""Values that no film, hand or program gives: a flipped bit or a foreign program wrote them.

SQLite keeps any number in a column of numbers, infinity too. What a column can hold follows from its unit.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import NamedTuple

from serve_marker.logbook.consents import CONSENT_COLUMNS
from serve_marker.logbook.rows import MARK_COLUMNS
from serve_marker.logbook.tables import BALL_COLUMNS, TABLE_OF

LARGEST = {"_s": 1e7, "_px": 1e7, "_m": 1e9, "_m2": 1e15, "_fps": 1e6, "_bytes": 1e15}
"""By the unit at the end of a column's name; a place near the horizon may truly lie far away."""
LARGEST_COUNT = 1e6
NEVER_NEGATIVE = ("_sd_s", "_gap_before_s", "_gap_after_s", "gap_before_s", "gap_after_s", "_bytes", "_reach_m")
ROUNDING = 1e-6
"""How far a covariance may be from a true one by rounding, as a share."""
DATES = {
    **dict.fromkeys(("practice", "tally", "practice_plan"), ("date",)),
    "trial": ("drawn_on", "retest_on"),
    "consent": CONSENT_COLUMNS,
}


class ImpossibleValue(NamedTuple):
    """A row that holds what cannot be: its table, its id and what is wrong."""

    table: str
    id: str
    what: str


def impossible_values(connection: sqlite3.Connection) -> Iterator[ImpossibleValue]:
    """Yield a row for each that holds what cannot be, with the first thing wrong in it."""
    tables = {table.name: (table.columns, "id") for table in TABLE_OF.values()}
    tables["ball_mark"] = (dict.fromkeys(BALL_COLUMNS, "integer") | MARK_COLUMNS, "serve_id")
    for name, (columns, key) in tables.items():
        faults = _faults(name, columns)
        if not faults:
            continue
        cases = " ".join(f"WHEN {condition} THEN '{what}'" for what, condition in faults.items())
        rows = connection.execute(f"SELECT {key}, CASE {cases} END AS wrong FROM {name} WHERE wrong IS NOT NULL")
        for row_id, what in rows.fetchall():
            yield ImpossibleValue(name, row_id, what)


def _faults(table: str, columns: dict[str, str]) -> dict[str, str]:
    """What may be wrong in a row, each with its SQL condition."""
    faults = {
        f"{column} is beyond reason": f"{column} NOT BETWEEN {_least(column)} AND {_largest(column)}"
        for column, kind in columns.items()
        if kind != "text"
    }
    faults |= {
        f"{column} is no date": f"{column} IS NOT date({column}, '+0 days') OR {column} NOT LIKE '____-__-__'"
        for column in DATES.get(table, ())
    }
    if table == "serve":
        for end in ("contact", "landing"):
            faults |= _faults_of_end(end)
    return faults


def _faults_of_end(end: str) -> dict[str, str]:
    xx, xy, yy = (f"{end}_cov_{part}_m2" for part in ("xx", "xy", "yy"))
    mark = " OR ".join(f"{end}_{column} IS NULL" for column in ("gap_before_s", "gap_after_s", "on_ball"))
    place = " OR ".join(f"{column} IS NULL" for column in (f"{end}_y_m", xx, xy, yy))
    least = f"{xx} < 0 OR {yy} < 0 OR {xy} * {xy} > {xx} * {yy} * {1 + ROUNDING} + {ROUNDING**2}"
    return {
        f"the mark of the {end} is half there": f"{end}_time_s IS NOT NULL AND ({mark})",
        f"the place of the {end} is half there": f"{end}_x_m IS NOT NULL AND ({place})",
        f"the error of the {end} is none": f"{end}_x_m IS NOT NULL AND ({least})",
    }


def _largest(column: str) -> float:
    return next((most for unit, most in LARGEST.items() if column.endswith(unit)), LARGEST_COUNT)


def _least(column: str) -> float:
    return 0.0 if column.endswith(NEVER_NEGATIVE) else -_largest(column)
