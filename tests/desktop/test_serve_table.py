from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QComboBox, QLineEdit

from serve_marker.desktop.film.serve_table import COLUMNS, KEYS, ServeTable


def rows(count: int = 40) -> list[dict[str, object]]:
    return [
        {
            "serve_id": f"s{place}",
            "shape": "disc",
            "moment_s": 3.0 * place,
            "server": f"{(place * 7) % 12 + 1} Marit",
            "serve_type": "float",
            "aim": "deep 1",
            "outcome": "floor",
            "area": "deep 1",
            "verdict": "in",
            "landing_height_m": None,
            "pass_rating": None,
            "passer": "",
            "note": "",
        }
        for place in range(count)
    ]


@pytest.fixture
def listed(dressed, qtbot) -> ServeTable:
    made = ServeTable()
    qtbot.addWidget(made)
    made.resize(900, 300)
    made.set_choices("server", ["4 Noor", "7 Marit"])
    made.set_choices("aim", ["deep 1", "seam 5-6"])
    made.set_rows(rows())
    made.show()
    return made


def cell(listed: ServeTable, row: int, key: str):
    return listed.model().index(row, KEYS.index(key))


def open_editor(listed: ServeTable, row: int, key: str):
    listed.setCurrentIndex(cell(listed, row, key))
    listed.edit(cell(listed, row, key))
    return listed.viewport().findChild(QComboBox) or listed.viewport().findChild(QLineEdit)


def test_a_choice_is_told_as_an_edit(listed: ServeTable, qtbot):
    box = open_editor(listed, 2, "server")
    assert isinstance(box, QComboBox)
    with qtbot.waitSignal(listed.edited, timeout=60_000) as told:
        box.setCurrentIndex(1)
        box.activated.emit(1)
    assert told.args == ["s2", "server", "7 Marit"]


def test_a_note_is_typed(listed: ServeTable, qtbot):
    line = open_editor(listed, 1, "note")
    assert isinstance(line, QLineEdit)
    QTest.keyClicks(line, "wind <b>")
    with qtbot.waitSignal(listed.edited, timeout=60_000) as told:
        QTest.keyClick(line, Qt.Key.Key_Return)
    assert told.args == ["s1", "note", "wind <b>"]


def test_an_aim_may_be_a_point(listed: ServeTable, qtbot):
    box = open_editor(listed, 0, "aim")
    box.setEditText("2.5,7,0.5")
    with qtbot.waitSignal(listed.edited, timeout=60_000) as told:
        QTest.keyClick(box, Qt.Key.Key_Return)
    assert told.args == ["s0", "aim", "2.5,7,0.5"]


def test_an_unknown_server_is_not_offered_away(listed: ServeTable, qtbot):
    """Row 0's server is not among the choices; opening and leaving the cell changes nothing."""
    box = open_editor(listed, 0, "server")
    assert box.currentIndex() == -1
    with qtbot.assertNotEmitted(listed.edited):
        QTest.keyClick(box, Qt.Key.Key_Return)


def test_the_model_waits_for_the_store(listed: ServeTable):
    listed.model().setData(cell(listed, 0, "note"), "new")
    assert cell(listed, 0, "note").data() == ""


def test_derived_cells_cannot_be_edited(listed: ServeTable):
    for key in ("moment_s", "area", "verdict"):
        assert not cell(listed, 0, key).flags() & Qt.ItemFlag.ItemIsEditable


def test_shirt_numbers_sort_as_numbers(listed: ServeTable):
    listed.sortByColumn(KEYS.index("server"), Qt.SortOrder.AscendingOrder)
    numbers = [int(cell(listed, row, "server").data().split()[0]) for row in range(40)]
    assert numbers == sorted(numbers)


def test_enter_goes_to_the_serve(listed: ServeTable, qtbot):
    listed.sortByColumn(0, Qt.SortOrder.DescendingOrder)
    listed.setCurrentIndex(cell(listed, 0, "verdict"))
    with qtbot.waitSignal(listed.chosen, timeout=60_000) as told:
        QTest.keyClick(listed, Qt.Key.Key_Return)
    assert told.args == ["s39"]


def test_click_on_the_time_goes_to_the_serve(listed: ServeTable, qtbot):
    with qtbot.waitSignal(listed.chosen, timeout=60_000) as told:
        where = listed.visualRect(cell(listed, 3, "moment_s")).center()
        QTest.mouseClick(listed.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, where)
    assert told.args == ["s3"]


@pytest.mark.parametrize("more", [0, 1])
def test_keeps_place_selection_and_order(listed: ServeTable, more):
    listed.sortByColumn(0, Qt.SortOrder.DescendingOrder)
    listed.selectRow(20)
    listed.verticalScrollBar().setValue(15)
    kept = listed.selection()
    fresh = rows(40 + more)
    fresh[5]["note"] = "changed"
    listed.set_rows(fresh)
    assert listed.selection() == kept
    assert listed.verticalScrollBar().value() == 15
    assert listed.horizontalHeader().sortIndicatorOrder() == Qt.SortOrder.DescendingOrder


def test_reader_hears_the_shape(listed: ServeTable):
    assert cell(listed, 0, "moment_s").data(Qt.ItemDataRole.AccessibleDescriptionRole) == "on target"


@pytest.mark.qt_log_ignore("This plugin does not support")
def test_in_a_small_window_no_column_is_cut_off(coach_at_mark):
    coach = coach_at_mark
    coach.window.resize(1280, 720)
    coach.key(Qt.Key.Key_L, Qt.KeyboardModifier.ControlModifier)
    shown = coach.window.page.list
    assert shown.isVisible()
    header = shown.horizontalHeader()
    widths = {key: header.sectionSize(place) for place, key in enumerate(KEYS)}
    needed = {key: header.fontMetrics().horizontalAdvance(words) + 8 for key, words in COLUMNS.items()}
    assert {key: widths[key] for key in KEYS if widths[key] < needed[key]} == {}
    assert sum(widths.values()) <= shown.viewport().width()
