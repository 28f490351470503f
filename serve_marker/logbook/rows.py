"""A record as a row of a table: what a cell may hold, and how columns and fields belong together.

Columns carry the units that the records' fields carry.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, cast

from serve_marker.errors import UserError
from serve_marker.logbook.any_record import Record
from serve_marker.logbook.records import Mark

Cell = str | float | int | None
Row = tuple[Cell, ...]


def text_cell(value: object, column: str) -> str | None:
    """A text as the file can keep it: whole, so what cannot be kept whole is refused.

    Examples
    --------
    >>> text_cell("O'Hara, 🏐", "name")
    "O'Hara, 🏐"
    """
    if value is None:
        return None
    if not isinstance(value, str):
        raise ValueError(f"{column} must be a text, got {type(value).__name__}")
    if "\0" in value:
        raise UserError(f"The {_words(column)} holds a NUL character, which no logbook can keep; type it again.")
    try:
        value.encode()
    except UnicodeEncodeError:
        raise UserError(
            f"The {_words(column)} holds half a character, which no logbook can keep. Type or name it again."
        ) from None
    return value


def real_cell(value: object, column: str) -> float | None:
    """A finite number, or None; a file keeps no negative zero."""
    if value is None:
        return None
    number = float(cast(float, value)) + 0.0
    if not math.isfinite(number):
        raise ValueError(f"{column} must be a finite number or None, got {number}")
    return number


def integer_cell(value: object, column: str) -> int | None:
    """A whole number of at most 64 bits, or None."""
    if value is None:
        return None
    number = int(operator.index(cast(int, value)))
    if not -(2**63) <= number < 2**63:
        raise ValueError(f"{column} must fit into 64 bits, got {number}")
    return number


_CELL_OF_TYPE: dict[str, Callable[[object, str], Cell]] = {
    "text": text_cell,
    "real": real_cell,
    "integer": integer_cell,
}


def _words(column: str) -> str:
    return column.replace("_", " ")


@dataclass(frozen=True)
class Table:
    """A table, its columns with their types, and how a record becomes a row of it."""

    name: str
    columns: dict[str, str]
    values: Callable[[Any], Iterable[object]]
    record: Callable[[Sequence[Any]], Any]
    order: str

    def row(self, record: Record) -> Row:
        """The record's cells in the order of ``columns``."""
        pairs = zip(self.columns.items(), self.values(record), strict=True)
        return tuple(_CELL_OF_TYPE[kind](value, column) for (column, kind), value in pairs)

    @property
    def select(self) -> str:
        """The statement that reads all columns, without an ORDER BY."""
        return f"SELECT {', '.join(f'{self.name}.{column}' for column in self.columns)} FROM {self.name}"


def plain_table(record_type: type[Any], name: str, columns: dict[str, str], order: str) -> Table:
    """A table whose columns are called as the fields of its record."""
    fields = operator.attrgetter(*columns)
    return Table(name, columns, fields, lambda cells: record_type(**dict(zip(columns, cells, strict=True))), order)


MARK_COLUMNS = {
    **dict.fromkeys(("time_s", "x_px", "y_px", "gap_before_s", "gap_after_s"), "real"),
    "on_ball": "integer",
}


def mark_cells(mark: Mark | None) -> Row:
    """The cells of a mark, in the order of ``MARK_COLUMNS``.

    Examples
    --------
    >>> mark_cells(Mark(1.5, (10.0, 20.0), 0.02, 0.03))
    (1.5, 10.0, 20.0, 0.02, 0.03, 0)
    """
    if mark is None:
        return (None,) * len(MARK_COLUMNS)
    x_px, y_px = mark.pixel if mark.pixel is not None else (None, None)
    values = (mark.time_s, x_px, y_px, mark.gap_before_s, mark.gap_after_s, mark.on_ball)
    if mark.time_s is None:
        raise ValueError("a mark needs its time_s")
    cells = zip(values, MARK_COLUMNS.items(), strict=True)
    return tuple(_CELL_OF_TYPE[kind](value, column) for value, (column, kind) in cells)


def mark_from(cells: Sequence[Any]) -> Mark | None:
    """The mark of six cells, None where there is none."""
    time_s, x_px, y_px, gap_before_s, gap_after_s, on_ball = cells
    if time_s is None:
        return None
    return Mark(time_s, None if x_px is None else (x_px, y_px), gap_before_s, gap_after_s, bool(on_ball))
