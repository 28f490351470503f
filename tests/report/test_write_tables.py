import csv
import datetime
import math

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from serve_marker.errors import UserError
from serve_marker.report import export_columns, write_tables
from serve_marker.report.export_columns import EXPORT_COLUMNS
from serve_marker.study.serve_columns import serve_table

RISKY = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "  =1", "\n=1", "＝1+1", "=cmd|' /C calc'!A0")


def read_csv(path):
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.reader(file))


def as_number(cell):
    try:
        return float(cell)
    except ValueError:
        return cell


@pytest.mark.parametrize("text", RISKY)
def test_text_never_starts_a_formula(text):
    """OWASP, CSV Injection: cells must not begin with =, +, -, @, tab or a line break."""
    assert export_columns.without_formula(text) == "'" + text


@given(st.text())
def test_no_text_at_all_starts_a_formula(text):
    assert not export_columns.without_formula(text).startswith(export_columns.FORMULA_STARTS)


@pytest.mark.parametrize("text", ["Marit", "2,8,0.5", "<b>Noor</b>", "Zofia 🏐", 'Ines "Ace", Jr', "a=b"])
def test_harmless_text_stays_as_it_is(text):
    assert export_columns.without_formula(text) == text


def test_numbers_stay_numbers_and_unknown_is_empty():
    assert export_columns.export_cell("line_margin_m", -0.31234567) == -0.3123
    assert export_columns.export_cell("pass_rating", 2.0) == 2
    assert export_columns.export_cell("x_m", math.nan) is None
    assert export_columns.export_cell("note", "") is None
    assert (export_columns.export_cell("aim_hit", True), export_columns.export_cell("aim_hit", None)) == ("yes", None)


def test_csv_holds_the_contracts_columns_and_every_serve(logbook, tmp_path):
    table = serve_table(logbook)
    write_tables.write_csv(table, tmp_path / "all.csv")
    header, *rows = read_csv(tmp_path / "all.csv")
    assert tuple(header) == EXPORT_COLUMNS
    assert [row[0] for row in rows] == table["serve_id"].tolist()
    placed = table["x_m"].first_valid_index()
    assert float(rows[placed][header.index("x_m")]) == pytest.approx(table["x_m"][placed], abs=1e-4)


def test_xlsx_holds_the_same_cells_as_the_csv(many_names, tmp_path):
    table = serve_table(many_names)
    write_tables.write_xlsx(table, tmp_path / "all.xlsx")
    write_tables.write_csv(table, tmp_path / "all.csv")
    sheet = openpyxl.load_workbook(tmp_path / "all.xlsx").active
    cells = [["" if cell.value is None else cell.value for cell in row] for row in sheet.iter_rows()]
    assert [[as_number(cell) for cell in row] for row in cells] == [
        [as_number(cell) for cell in row] for row in read_csv(tmp_path / "all.csv")
    ]
    assert {cell.data_type for row in sheet.iter_rows() for cell in row} <= {"s", "n"}


def test_a_name_alone_that_looks_like_a_formula_is_text(many_names, tmp_path):
    table = serve_table(many_names).assign(server="=1+1", note="@x")
    write_tables.write_xlsx(table, tmp_path / "all.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "all.xlsx").active
    cell = sheet.cell(2, EXPORT_COLUMNS.index("server") + 1)
    assert (cell.value, cell.data_type) == ("'=1+1", "s")


def test_the_same_table_makes_the_same_workbook(logbook, tmp_path):
    table = serve_table(logbook)
    for name in ("a.xlsx", "b.xlsx"):
        write_tables.write_xlsx(table, tmp_path / name)
    sheets = [openpyxl.load_workbook(tmp_path / name) for name in ("a.xlsx", "b.xlsx")]
    assert sheets[0].properties.created == datetime.datetime(2000, 1, 1)
    first, second = (list(book.active.values) for book in sheets)
    assert first == second


def test_the_ending_chooses_and_an_unknown_one_is_refused(logbook, tmp_path):
    write_tables.write_table(serve_table(logbook), tmp_path / "ALL.CSV")
    assert (tmp_path / "ALL.CSV").stat().st_size > 1000
    with pytest.raises(UserError, match=r"choose \.csv, \.xlsx or \.parquet"):
        write_tables.write_table(serve_table(logbook), tmp_path / "all.docx")
    assert [path.name for path in tmp_path.iterdir() if path.suffix == ".docx"] == []


def test_a_folder_that_is_not_there_is_one_sentence_and_leaves_nothing(logbook, tmp_path):
    with pytest.raises(UserError, match="could not be written"):
        write_tables.write_csv(serve_table(logbook), tmp_path / "absent" / "all.csv")
    assert not (tmp_path / "absent").exists()
