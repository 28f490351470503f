"""What a screen reader is told: roles, values, and each thing drawn as an item of its own (Qt's QAccessible)."""

from __future__ import annotations

import gc
import runpy
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import QListWidget

from serve_marker.desktop.dialogs.messages import MessagesDialog
from serve_marker.desktop.film.serve_strip import ServeChip, ServeStrip
from serve_marker.desktop.widgets.accessible_items import tell_items

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, seen_at = (coach_at_work[name] for name in ("CTRL", "seen_at"))
NAME, ROLE = QAccessible.Text.Name, QAccessible.Role

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def told(widget):
    return QAccessible.queryAccessibleInterface(widget)


def names(widget):
    found = told(widget)
    return [found.child(number).text(NAME) for number in range(found.childCount())]


def mark(coach, *frames):
    for number, frame in enumerate(frames):
        coach.step_to(frame)
        coach.click_film(*seen_at(-3.0 + number, 7.2))


def test_the_time_bar_is_a_slider_whose_value_is_the_frame(coach_at_mark):
    coach = coach_at_mark
    coach.step_to(20)
    bar = told(coach.window.page.time_bar)
    value = bar.valueInterface()
    assert (bar.role(), bar.text(NAME)) == (ROLE.Slider, "Time bar")
    assert (value.minimumValue(), value.currentValue(), value.maximumValue()) == (0, 20, 149)
    value.setCurrentValue(70)
    coach.wait(lambda: coach.workspace.frame == 70)


def test_the_sound_strip_has_a_value_too(coach_at_mark):
    coach = coach_at_mark
    sound = coach.window.page.sound
    assert told(sound).role() == ROLE.Slider
    assert told(sound).text(NAME) == "Sound strip"
    assert told(sound).valueInterface().currentValue() == sound.value()


def test_serves_are_items_of_a_list_each_with_its_words(coach_of_three):
    coach = coach_of_three
    mark(coach, 20, 70)
    chips = coach.window.page.chips
    assert told(chips).role() == ROLE.List
    assert [words.split(",")[0] for words in names(chips)] == ["7", "4"]
    assert all(child.role() == ROLE.ListItem for child in map(told(chips).child, (0, 1)))
    chips.setFocus()
    coach.key(Qt.Key.Key_Left)
    assert [bool(told(chips).child(number).state().selected) for number in (0, 1)] == [True, False]
    box = told(chips).child(1).rect()
    assert told(chips).childAt(box.center().x(), box.center().y()).text(NAME) == names(chips)[1]
    assert box.center() == chips.mapToGlobal(chips.chip_rect(coach.workspace.serves[1].id).toRect().center())


def test_landings_of_a_chart_are_reached_one_by_one(coach_of_three):
    coach = coach_of_three
    mark(coach, 20, 70)
    coach.key(Qt.Key.Key_3, CTRL)
    pane = coach.window._stack.currentWidget()
    coach.wait(lambda: not pane.busy and pane.chart.has_chart())
    chart = told(pane.chart)
    assert chart.role() == ROLE.Chart
    assert [words.split(",")[0] for words in names(pane.chart)] == ["7 Ines", "4 Marit"]
    pane.chart.setFocus()
    coach.key(Qt.Key.Key_Right)
    coach.key(Qt.Key.Key_Right)
    assert [bool(chart.child(number).state().focused) for number in (0, 1)] == [False, True]
    place = pane.chart.place_of(pane.chart._points[1]).toPoint()
    assert (chart.child(1).rect().center() - pane.chart.mapToGlobal(place)).manhattanLength() <= 2


def test_both_maps_are_walked_through_by_their_points(coach_of_three):
    coach = coach_of_three
    coach.workspace.set_aim("deep 1")
    mark(coach, 20)
    half = coach.window.page.mark_pane.half_court
    assert told(half).role() == ROLE.List
    assert names(half)[0] == "deep 1, the aim"
    assert len(names(half)) == 10
    assert names(half)[9].startswith("7, ")
    assert names(half)[9].endswith("deep 1")
    half.setFocus()
    coach.key(Qt.Key.Key_Right)
    coach.key(Qt.Key.Key_Right)
    assert [bool(told(half).child(number).state().focused) for number in range(9)].index(True) == 1
    coach.key(Qt.Key.Key_1, CTRL)
    court = coach.window.page.setup_pane.court_map
    assert names(court)[0].endswith(": placed")
    assert (
        told(court).child(0).rect().contains(court.mapToGlobal(court.place_of(next(iter(court._places_m))).toPoint()))
    )


def test_what_was_said_can_be_read_again(coach_at_mark):
    coach = coach_at_mark
    coach.window.say("First.")
    coach.window.say("Second.")
    coach.window.say("")
    coach.key(Qt.Key.Key_F2)
    dialog = coach.dialog(MessagesDialog)
    shown = dialog.findChild(QListWidget)
    assert [shown.item(row).text() for row in range(2)] == ["Second.", "First."]
    assert (shown.currentRow(), shown.hasFocus()) == (0, True)
    coach.press("Close")


def test_widgets_with_items_come_and_go_without_harm(qtbot, dressed):
    """A reader may hold on to what speaks for a widget that has gone; a hundred times nothing crashes."""
    tell_items()
    for _ in range(100):
        strip = ServeStrip()
        strip.set_chips([ServeChip("a", "disc", "7"), ServeChip("b", "cross", "4", "out")])
        assert names(strip) == ["7, disc", "4, out"]
        assert told(strip).child(0).parent().text(NAME) == "Serves of this clip"
        assert told(strip).childAt(-5000, -5000) is None
        strip.set_chips([])
        assert told(strip).childCount() == 0
        assert told(strip).child(0) is None
        shiboken6.delete(strip)
        del strip
        gc.collect()
