"""Serve tables as files: CSV and XLSX that no spreadsheet takes for formulas, whole or not at all."""

from __future__ import annotations

import math
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING, Any

from serve_marker.errors import UserError
from serve_marker.report.write_files import write_whole

if TYPE_CHECKING:
    import pandas

EXPORT_COLUMNS = (
    *("serve_id", "practice", "date", "server", "serve_type", "aim", "aim_hit", "outcome", "verdict", "half"),
    *("x_m", "y_m", "error_m", "area", "area_sure", "zone", "depth_band", "seam", "line_margin_m", "area_margin_m"),
    *("gap_m", "floor_gap_m", "passer", "reception", "target_kind", "season"),
    *("pace_mps", "pace_low_mps", "pace_high_mps", "effort", "net_clearance_m", "clip"),
    *("contact_s", "landing_s", "pass_rating", "note"),
)
"""Those of the table of serves (``study/serve_columns.py``) that go out, in their order."""
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
DECIMALS = {"_m": 4, "_s": 6, "_mps": 3}
LONGEST_CELL = 32_767


def write_table(table: pandas.DataFrame, path: Path) -> None:
    """Write the exported columns of a serve table; the ending of the name chooses .csv or .xlsx."""
    writers = {".csv": write_csv, ".xlsx": write_xlsx}
    writer = writers.get(path.suffix.lower())
    if writer is None:
        raise UserError(f"{path.name} has no ending a table can have; choose .csv or .xlsx.")
    writer(table, path)


def write_csv(table: pandas.DataFrame, path: Path) -> None:
    """Write the exported columns as CSV (UTF-8 with a mark that spreadsheets know, RFC 4180 line ends)."""
    import csv
    import io

    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(EXPORT_COLUMNS)
    for row in export_rows(table):
        writer.writerow("" if cell is None else cell for cell in row)
    write_whole(text.getvalue().encode("utf-8-sig"), path)


def write_xlsx(table: pandas.DataFrame, path: Path) -> None:
    """Write the exported columns as one sheet of a workbook, text cells as text and numbers as numbers."""
    import datetime
    import io

    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book = Workbook(write_only=True)
    book.properties.creator = "Serve Marker"
    book.properties.created = book.properties.modified = datetime.datetime(2000, 1, 1)
    sheet = book.create_sheet("serves")
    sheet.freeze_panes = "A2"
    for number, name in enumerate(EXPORT_COLUMNS, start=1):
        sheet.column_dimensions[get_column_letter(number)].width = max(10, len(name) + 2)

    def cell_of(value: Any) -> Any:
        if not isinstance(value, str):
            return value
        cell = WriteOnlyCell(sheet)
        cell.value = value[:LONGEST_CELL]
        cell.data_type = "s"
        return cell

    heading = [cell_of(name) for name in EXPORT_COLUMNS]
    for cell in heading:
        cell.font = Font(bold=True)
    sheet.append(heading)
    for row in export_rows(table):
        sheet.append([cell_of(value) for value in row])
    content = io.BytesIO()
    book.save(content)
    write_whole(content.getvalue(), path)


def export_rows(table: pandas.DataFrame) -> list[list[Any]]:
    """Return the exported columns row by row: None where unknown, yes/no as text, numbers rounded to what is known."""
    columns = [[export_cell(name, value) for value in table[name].tolist()] for name in EXPORT_COLUMNS]
    return [list(row) for row in zip(*columns, strict=True)]


def export_cell(column: str, value: Any) -> Any:
    """Return one cell as it is exported: no text starts a formula."""
    if value is None or value == "" or (isinstance(value, float) and math.isnan(value)):
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return without_formula(value)
    if column == "pass_rating":
        return int(value)
    decimals = next((places for ending, places in DECIMALS.items() if column.endswith(ending)), 6)
    return round(float(value), decimals)


def without_formula(text: str) -> str:
    """Return text that no spreadsheet takes for a formula, free of characters a workbook cannot hold.

    An apostrophe is set before =, +, -, @, tab and line breaks at the start, also behind blanks (OWASP, CSV
    Injection).
    """
    kept = "".join(char for char in text if char in "\t\n\r" or unicodedata.category(char) not in ("Cc", "Cs"))
    risky = kept.startswith(FORMULA_STARTS) or unicodedata.normalize("NFKC", kept.lstrip()).startswith(FORMULA_STARTS)
    return f"'{kept}" if risky else kept
