"""The columns of serves that go out in CSV and XLSX, and their cells: rounded to what is known, no text a formula."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Callable, Iterable, Iterator
from itertools import dropwhile
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    import pandas

Tables: TypeAlias = "pandas.DataFrame | Iterable[pandas.DataFrame]"
"""A serve table, or its parts one after the other, of which only one is in memory at a time."""
EXPORT_COLUMNS = (
    *("serve_id", "practice", "date", "server", "serve_type", "aim", "aim_hit", "outcome", "verdict", "half"),
    *("x_m", "y_m", "error_m", "area", "area_sure", "zone", "depth_band", "seam", "line_margin_m", "area_margin_m"),
    *("gap_m", "floor_gap_m", "passer", "reception", "target_kind", "season"),
    *("pace_mps", "pace_low_mps", "pace_high_mps", "effort", "net_clearance_m", "clip"),
    *("contact_s", "landing_s", "pass_rating", "note"),
)
"""Those of the table of serves (``study/serve_columns.py``) that go out, in their order."""
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
_BLANK_LETTERS = "\u115f\u1160\u2800\u3164\uffa0"
DECIMALS = {"_m": 4, "_s": 6, "_mps": 3}


def export_rows(table: Tables) -> Iterator[list[Any]]:
    """Return the exported columns row by row: None where unknown, yes/no as text, numbers rounded to what is known."""
    return _rows(table, export_cell)


def plain_rows(table: Tables) -> Iterator[list[Any]]:
    """Return the exported columns row by row for what reads kinds of values: yes/no as they are, text untouched."""
    return _rows(table, plain_cell)


def _rows(table: Tables, cell: Callable[[str, Any], Any]) -> Iterator[list[Any]]:
    from pandas import DataFrame

    for part in [table] if isinstance(table, DataFrame) else table:
        columns = [[cell(name, value) for value in part[name].tolist()] for name in EXPORT_COLUMNS]
        yield from map(list, zip(*columns, strict=True))


def export_cell(column: str, value: Any) -> Any:
    """Return one cell as spreadsheets get it: no text starts a formula."""
    plain = plain_cell(column, value)
    if isinstance(plain, bool):
        return "yes" if plain else "no"
    return without_formula(plain) or None if isinstance(plain, str) else plain


def plain_cell(column: str, value: Any) -> Any:
    """Return one cell: None where unknown, a number rounded to what is known.

    Examples
    --------
    >>> plain_cell("x_m", 1.23456789), plain_cell("aim_hit", True), plain_cell("note", ""), plain_cell("note", "=1")
    (1.2346, True, None, '=1')
    """
    if value is None or value == "" or (isinstance(value, float) and math.isnan(value)):
        return None
    if isinstance(value, bool | str):
        return value
    if column == "pass_rating":
        return int(value)
    decimals = next((places for ending, places in DECIMALS.items() if column.endswith(ending)), 6)
    return round(float(value), decimals)


def without_formula(text: str) -> str:
    """Return text that no spreadsheet takes for a formula, free of characters a workbook cannot hold.

    An apostrophe is set before =, +, -, @, tab and line breaks at the start, also behind blanks and what has no width
    (OWASP, CSV Injection).
    """
    kept = "".join(filter(_is_in_xml, text))
    seen = unicodedata.normalize("NFKC", "".join(dropwhile(_is_unseen, kept)))
    risky = kept.startswith(FORMULA_STARTS) or seen.startswith(FORMULA_STARTS)
    return f"'{kept}" if risky else kept


def _is_in_xml(char: str) -> bool:
    """Whether XML 1.0 (section 2.2) has a character, as a workbook needs; control characters beyond it go too."""
    return char in "\t\n\r" or (unicodedata.category(char) not in ("Cc", "Cs") and char not in "\ufffe\uffff")


def _is_unseen(char: str) -> bool:
    """Whether nothing is seen of a character at a text's beginning: blanks, joiners, marks that stand on nothing."""
    return unicodedata.category(char) in ("Cc", "Cf", "Mn", "Me", "Zs", "Zl", "Zp") or char in _BLANK_LETTERS
