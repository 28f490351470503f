"""The window stands where it stood, in the size and the look it had."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, QSettings, QSize, Qt

from serve_marker.desktop.widgets.theme import DARK, LIGHT, current
from serve_marker.desktop.window_looks import WindowLooks

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, SHIFT = (coach_at_work[name] for name in ("CTRL", "SHIFT"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def test_size_and_place_of_the_window_come_back(coach):
    coach.window.resize(770, 700)
    coach.window.move(12, 40)
    coach.wait(lambda: coach.window.size() == QSize(770, 700) and coach.window.pos() == QPoint(12, 40))
    coach.window.close()
    again = coach_at_work["Coach"](coach.folder)
    assert (again.window.size(), again.window.pos()) == (QSize(770, 700), QPoint(12, 40))
    again.leave()


def background(widget):
    """The colour in the middle of a widget's left edge, as it is drawn."""
    picture = widget.grab().toImage()
    return picture.pixelColor(12, picture.height() // 2).name()


def test_the_look_is_chosen_in_the_window_and_comes_back(coach):
    drop_place = coach.window.start.drop_place
    assert background(drop_place) == LIGHT.panel
    coach.key(Qt.Key.Key_D, CTRL | SHIFT)
    assert current() is DARK
    assert background(drop_place) == DARK.panel
    assert coach.window.actions_by_id["dark_colours"].isChecked()
    coach.window.close()
    settings = QSettings(str(coach.folder / "settings.ini"), QSettings.Format.IniFormat)
    assert WindowLooks(settings).colours == "dark"
    again = coach_at_work["Coach"](coach.folder)
    assert again.window.actions_by_id["dark_colours"].isChecked()
    again.key(Qt.Key.Key_S, CTRL | SHIFT)
    assert current() is LIGHT, "a window without a system to ask is light"
    again.key(Qt.Key.Key_D, CTRL | SHIFT)
    again.key(Qt.Key.Key_L, CTRL | SHIFT)
    assert current() is LIGHT
    assert not again.window.actions_by_id["dark_colours"].isChecked()
    again.leave()


def test_charts_follow_the_look(coach_at_mark):
    coach_at_mark.step_to(20)
    coach_at_mark.key(Qt.Key.Key_N)
    coach_at_mark.key(Qt.Key.Key_3, CTRL)
    pane = coach_at_mark.window._pane("study")
    coach_at_mark.wait(lambda: pane.side.chart.has_chart() and not pane.busy)
    light = pane.side.chart.grab().toImage()
    coach_at_mark.key(Qt.Key.Key_D, CTRL | SHIFT)
    coach_at_mark.wait(lambda: pane.busy)
    coach_at_mark.wait(lambda: not pane.busy)
    dark = pane.side.chart.grab().toImage()
    assert dark.pixelColor(4, 4).lightness() < 100 < light.pixelColor(4, 4).lightness()
    coach_at_mark.key(Qt.Key.Key_L, CTRL | SHIFT)
