"""Letters are 11, 14, 20 and 34 points at 100 %; they follow the system, the choice in the window and its size."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontDatabase
from PySide6.QtWidgets import QApplication, QMenuBar

from serve_marker.desktop.study import questions
from serve_marker.desktop.widgets import text_sizes
from serve_marker.desktop.widgets.text_sizes import pixels
from serve_marker.report import figure_pixels

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, SHIFT, seen_at = (coach_at_work[name] for name in ("CTRL", "SHIFT", "seen_at"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def points_of(widget):
    widget.ensurePolished()
    return round(widget.font().pointSizeF(), 2)


def test_the_view_menu_makes_text_larger_and_it_stays_so(coach_at_mark):
    coach = coach_at_mark
    panel, name = coach.turn, coach.turn.now
    assert (points_of(panel), points_of(name)) == (11.0, 14.0)
    number, column = coach.turn.number.width(), coach.window.page.column.width()
    coach.key(Qt.Key.Key_F8)
    assert (points_of(panel), points_of(name)) == (16.5, 21.0)
    assert coach.turn.number.width() == round(1.5 * number)
    assert coach.window.page.column.width() == round(1.5 * column)
    bar = coach.window.findChild(QMenuBar)
    view = next(action for action in bar.actions() if action.text() == "&View").menu()
    assert [entry.text() for entry in view.actions() if entry.isChecked() and "Text" in entry.text()] == ["Text 150 %"]
    coach.key(Qt.Key.Key_F7)
    assert points_of(panel) == 13.75
    coach.window.close()
    again = coach_at_work["Coach"](coach.folder)
    assert points_of(again.turn) == 13.75
    again.key(Qt.Key.Key_F6)
    assert points_of(again.turn) == 11.0
    again.leave()


def test_letters_grow_half_as_fast_as_the_window(coach_at_mark):
    coach, window = coach_at_mark, coach_at_mark.window
    for size, points in (((2560, 1440), 16.5), ((1920, 1080), 13.75), ((1024, 640), 11.0)):
        window.resize(*size)
        coach.wait(lambda size=size: (window.width(), window.height()) == size)
        assert points_of(coach.turn) == points


def test_in_a_small_window_large_letters_leave_all_within_reach(coach_at_mark):
    coach, window, page = coach_at_mark, coach_at_mark.window, coach_at_mark.window.page
    window.resize(1024, 640)
    coach.key(Qt.Key.Key_F8)
    coach.wait(lambda: not window.busy)
    assert (window.width(), window.height()) == (1024, 640)
    assert window.header.button("share").geometry().right() < 1024
    scrolled = page.column.verticalScrollBar()
    assert scrolled.maximum() > 0
    coach.turn.targets.setFocus()
    page.column.ensureWidgetVisible(coach.turn.targets)
    lowest = coach.turn.targets.mapTo(page.column, coach.turn.targets.rect().bottomLeft()).y()
    assert lowest <= page.column.height()


@pytest.mark.parametrize("key", [Qt.Key.Key_C, Qt.Key.Key_P])
def test_dialogs_follow_the_letters_within_the_window_and_no_title_of_a_table_is_cut(coach_at_mark, key):
    coach, window = coach_at_mark, coach_at_mark.window
    window.resize(1024, 640)
    coach.key(Qt.Key.Key_F8)
    coach.key(key, CTRL | SHIFT)
    dialog = coach.dialog()
    assert dialog.width() > 900
    assert (dialog.width() <= 1024, dialog.height() <= 640) == (True, True)
    header = dialog.table.horizontalHeader()
    assert all(header.sectionSize(n) >= header.sectionSizeHint(n) for n in range(header.count()))
    dialog.reject()


def test_charts_follow_the_letters(coach_at_mark, monkeypatch):
    coach, drawn_at = coach_at_mark, []
    pixels_of = figure_pixels.pixels_of

    def noted(figure, dots_per_in):
        drawn_at.append(dots_per_in)
        return pixels_of(figure, dots_per_in)

    monkeypatch.setattr(f"{questions.__name__}.pixels_of", noted)
    coach.click_film(*seen_at(2.0, 7.0))
    coach.key(Qt.Key.Key_3, CTRL)
    pane = coach.window._stack.currentWidget()
    coach.wait(lambda: not pane.busy and pane.chart.has_chart())
    small = drawn_at[-1]
    coach.key(Qt.Key.Key_F8)
    coach.wait(lambda: not pane.busy and drawn_at[-1] > 1.3 * small)
    coach.key(Qt.Key.Key_F6)
    coach.wait(lambda: not pane.busy and drawn_at[-1] == small)


@pytest.mark.parametrize(
    ("platform", "system_pt", "times"),
    [("xcb", 10.0, 1.0), ("xcb", 12.5, 1.25), ("windows", 9.0, 1.0), ("cocoa", 13.0, 4 / 3)],
)
def test_the_systems_letters_count(dressed, monkeypatch, platform, system_pt, times):
    """13 points is what a Mac shows unasked, at 72 points to the inch where other systems have 96: 4/3."""

    class Database:
        SystemFont = QFontDatabase.SystemFont

        @staticmethod
        def systemFont(_kind):
            font = QFont()
            font.setPointSizeF(system_pt)
            return font

    class Application:
        @staticmethod
        def platformName():
            return platform

    monkeypatch.setattr(f"{text_sizes.__name__}.QFontDatabase", Database)
    monkeypatch.setattr(f"{text_sizes.__name__}.QGuiApplication", Application)
    assert text_sizes.system_scale() == pytest.approx(times)


def test_pixels_follow_too(dressed):
    text_sizes.set_scale(1.5)
    try:
        assert pixels(30) == 45
    finally:
        text_sizes.set_scale(1.0)
        assert QApplication.font().pointSizeF() == 11.0
