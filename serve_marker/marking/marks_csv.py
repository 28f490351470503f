"""A table of marks (MARKS.csv) as lines of checked cells.

Commas or semicolons may separate the columns; with semicolons a decimal comma is read as well.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

from serve_marker.errors import UserError

MARKS_COLUMNS = (
    "server",
    "serve_type",
    "aim",
    "outcome",
    "contact_frame",
    "contact_x_px",
    "contact_y_px",
    "landing_frame",
    "landing_x_px",
    "landing_y_px",
    "pass_rating",
    "passer",
    "reception",
    "target_kind",
    "note",
)
NEEDED_COLUMNS = ("server", "outcome", "landing_frame", "landing_x_px", "landing_y_px")


@dataclass(frozen=True)
class Line:
    """One serve's cells by column, as text without outer blanks, and where it begins in the file."""

    number: int
    cells: dict[str, str]
    decimal_comma: bool

    def refuse(self, column: str, what: str) -> NoReturn:
        """Say what is wrong with a cell, and where it stands."""
        raise UserError(f"Line {self.number}, {column}: {what}; nothing was read in.")

    def text(self, column: str) -> str:
        """The cell, empty where the table has no such column."""
        return self.cells.get(column, "")

    def number_in(self, column: str, low: float, high: float) -> float | None:
        """The cell as a number between two bounds, None where it is empty."""
        text = self.text(column)
        if not text:
            return None
        try:
            number = float(text.replace(",", ".") if self.decimal_comma else text)
        except ValueError:
            number = math.nan
        if "_" in text or not math.isfinite(number):
            self.refuse(column, f"{quoted(text)} is not a number")
        if not low <= number <= high:
            self.refuse(column, f"{text} lies outside {low:g} to {high:g}")
        return number

    def whole_number_in(self, column: str, low: int, high: int) -> int | None:
        """The cell as a whole number between two bounds, None where it is empty."""
        number = self.number_in(column, low, high)
        if number is None:
            return None
        if not number.is_integer():
            self.refuse(column, f"{self.text(column)} is not a whole number")
        return int(number)

    def word(self, column: str, choices: Sequence[str]) -> str:
        """The cell as one of the choices, whatever its capitals and blanks."""
        word = " ".join(self.text(column).lower().split())
        if word not in choices:
            known = ", ".join(choice for choice in choices if choice)
            self.refuse(column, f"{quoted(word) if word else 'nothing'} is not one of {known}")
        return word


def read_table(csv_path: str | Path) -> list[Line]:
    """The lines of a table of marks, its columns checked; empty lines are passed over."""
    path = Path(csv_path)
    text = _text_of(path)
    first_line = text.lstrip("\r\n").split("\n", 1)[0]
    separator = ";" if first_line.count(";") > first_line.count(",") else ","
    rows = _rows(text, separator, path.name)
    _, header = next(rows, (0, []))
    columns = [cell.strip().lower() for cell in header]
    _check_columns(columns, path.name)
    lines = []
    for number, row in rows:
        if len(row) != len(columns):
            raise UserError(
                f"Line {number} of {path.name} has {len(row)} cells, but the first line has {len(columns)}. "
                "A name with a comma or line break needs quotes around it."
            )
        cells = {column: cell.strip() for column, cell in zip(columns, row, strict=True)}
        lines.append(Line(number, cells, decimal_comma=separator == ";"))
    return lines


def _text_of(path: Path) -> str:
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise UserError(f"{path.name} is not there; check the name.") from None
    except OSError as error:
        raise UserError(f"{path.name} cannot be read ({error.strerror}); check the file.") from None
    except UnicodeDecodeError:
        raise UserError(f"{path.name} is not text in UTF-8; save the table again as CSV in UTF-8.") from None
    if "\0" in text:
        raise UserError(f"{path.name} is not a table of text; save it again as CSV in UTF-8.")
    return text


def _rows(text: str, separator: str, name: str) -> Iterator[tuple[int, list[str]]]:
    """The rows that hold anything, each with the number of the line it begins on."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    begins = 1
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise UserError(f"Line {begins} of {name} cannot be read ({error}); check its quotes.") from None
        if any(cell.strip() for cell in row):
            yield begins, row
        begins = reader.line_num + 1


def _check_columns(columns: Sequence[str], name: str) -> None:
    if not columns:
        raise UserError(f"{name} is empty; its first line must name the columns {', '.join(MARKS_COLUMNS)}.")
    unknown = [quoted(column) if column else "one without a name" for column in columns if column not in MARKS_COLUMNS]
    if unknown:
        raise UserError(
            f"{name} has columns that are not known: {', '.join(unknown)}; "
            f"the known ones are {', '.join(MARKS_COLUMNS)}."
        )
    twice = sorted({column for column in columns if columns.count(column) > 1})
    if twice:
        raise UserError(f"{name} has the column {twice[0]} more than once; keep one of them.")
    missing = [column for column in NEEDED_COLUMNS if column not in columns]
    if missing:
        raise UserError(f"{name} lacks the columns {', '.join(missing)}; add them, with empty cells where not seen.")


def quoted(text: str) -> str:
    """Return a cell as it is shown in a sentence: quoted, on one line, and not too long."""
    shown = text if len(text) <= 40 else f"{text[:39]}…"
    return json.dumps(shown, ensure_ascii=False)
