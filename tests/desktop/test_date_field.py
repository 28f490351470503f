"""A date typed by keys, however the field was reached, or picked from its calendar."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import QDate, QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QTableView

from serve_marker.desktop.dialogs.date_field import NOT_UNDERSTOOD
from serve_marker.desktop.dialogs.practice import PracticeDialog
from serve_marker.logbook.records import Practice
from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, SHIFT = (coach_at_work[name] for name in ("CTRL", "SHIFT"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def dialog(coach):
    """The details of a practice of 31 October, opened by key."""
    coach.workspace.new_logbook(coach.folder / "team.logbook")
    coach.workspace.book().put(Practice(id="p", date="2026-10-31", name="Saturday"))
    coach.workspace.open_logbook(coach.folder / "team.logbook")
    coach.key(Qt.Key.Key_D, CTRL)
    return coach.dialog(PracticeDialog)


def by_tab(coach, dialog):
    dialog.name.setFocus()
    coach.key(Qt.Key.Key_Tab)


def by_shift_tab(coach, dialog):
    dialog.gym.setFocus()
    coach.key(Qt.Key.Key_Tab, SHIFT)
    coach.key(Qt.Key.Key_Tab, SHIFT)


def by_a_click_on_its_day(coach, dialog):
    line = dialog.date.line
    coach.click(line, QPoint(line.fontMetrics().horizontalAdvance("2026-10-3"), line.height() // 2))


def by_shortcut(coach, dialog):
    dialog.date.setFocus(Qt.FocusReason.ShortcutFocusReason)


def kept(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        return [practice.date for practice in book.practices()]


@pytest.mark.parametrize("reach", [by_tab, by_shift_tab, by_a_click_on_its_day, by_shortcut])
def test_what_is_typed_takes_the_place_of_the_date(coach, dialog, reach):
    reach(coach, dialog)
    coach.type("2026-11-03", enter=False)
    assert dialog.date.words.text() == "Tue 3 Nov 2026"
    coach.key(Qt.Key.Key_Return)
    coach.wait(lambda: QApplication.activeModalWidget() is None)
    assert kept(coach) == ["2026-11-03"]


def test_a_second_click_sets_the_cursor_in_the_date(coach, dialog):
    by_a_click_on_its_day(coach, dialog)
    by_a_click_on_its_day(coach, dialog)
    coach.key(Qt.Key.Key_End)
    coach.key(Qt.Key.Key_Backspace)
    coach.type("0")
    assert kept(coach) == ["2026-10-30"]


def test_what_is_no_date_is_said_and_keeps_the_dialog_open(coach, dialog):
    by_tab(coach, dialog)
    coach.type("2026-02-30")
    assert dialog.date.words.text() == NOT_UNDERSTOOD
    assert dialog.isVisible()
    coach.type("2026-02-28")
    assert kept(coach) == ["2026-02-28"]


def test_a_day_is_picked_from_the_calendar(coach, dialog):
    coach.press("Calendar")
    calendar = dialog.date.calendar
    assert calendar.isVisible()
    assert calendar.selectedDate() == QDate(2026, 10, 31)
    days = calendar.findChild(QTableView)
    texts = {(row, column): days.model().index(row, column).data() for row in range(1, 7) for column in range(7)}
    row, column = next(place for place, text in texts.items() if text == 20)
    QTest.mouseClick(
        days.viewport(), Qt.MouseButton.LeftButton, pos=days.visualRect(days.model().index(row, column)).center()
    )
    assert not calendar.isVisible()
    assert dialog.date.words.text() == "Tue 20 Oct 2026"
    coach.press("Keep")
    assert kept(coach) == ["2026-10-20"]


def test_escape_closes_the_calendar_alone(coach, dialog):
    coach.press("Calendar")
    QTest.keyClick(dialog.date.calendar, Qt.Key.Key_Escape)
    assert not dialog.date.calendar.isVisible()
    assert dialog.isVisible()
    coach.key(Qt.Key.Key_Escape)
