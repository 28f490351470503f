"""Serve tables as files: CSV and XLSX that no spreadsheet takes for formulas, whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from serve_marker.errors import UserError
from serve_marker.report.export_columns import EXPORT_COLUMNS, Tables, export_rows
from serve_marker.report.write_files import whole_file
from serve_marker.report.write_parquet import write_parquet

LONGEST_CELL = 32_767


def write_table(table: Tables, path: Path) -> None:
    """Write the exported columns of a serve table; the ending of the name chooses .csv, .xlsx or .parquet."""
    writers = {".csv": write_csv, ".xlsx": write_xlsx, ".parquet": write_parquet}
    writer = writers.get(path.suffix.lower())
    if writer is None:
        raise UserError(f"{path.name} has no ending a table can have; choose .csv, .xlsx or .parquet.")
    writer(table, path)


def write_csv(table: Tables, path: Path) -> None:
    """Write the exported columns as CSV (UTF-8 with a mark that spreadsheets know, RFC 4180 line ends)."""
    import csv

    with whole_file(path) as unfinished, unfinished.open("w", encoding="utf-8-sig", newline="") as text:
        writer = csv.writer(text)
        writer.writerow(EXPORT_COLUMNS)
        for row in export_rows(table):
            writer.writerow("" if cell is None else cell for cell in row)


def write_xlsx(table: Tables, path: Path) -> None:
    """Write the exported columns as one sheet of a workbook, text cells as text and numbers as numbers."""
    import datetime

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
    with whole_file(path) as unfinished:
        for row in export_rows(table):
            sheet.append([cell_of(value) for value in row])
        book.save(unfinished)
