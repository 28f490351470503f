"""In a small window everything stays in sight, and long words are cut with dots."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt

from serve_marker.desktop.session.roster_editor import RosterEditor
from serve_marker.desktop.widgets.combo_box import ComboBox
from serve_marker.desktop.widgets.plain_text import ElidedLabel
from serve_marker.logbook.records import Player

CTRL = Qt.KeyboardModifier.ControlModifier
LONG_NAME = "Ines of the far shore by the harbour"

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def below_the_edge(window, widgets):
    """How far [px] the lowest of these widgets that are shown reaches below the window."""
    return max(
        widget.mapTo(window, QPoint(0, widget.height())).y() - window.height()
        for widget in widgets
        if widget.isVisible()
    )


@pytest.mark.parametrize("size", [(1280, 720), (1024, 600)])
def test_nothing_lies_below_the_edge(coach_at_mark, size):
    coach, window, page = coach_at_mark, coach_at_mark.window, coach_at_mark.window.page
    window.resize(*size)
    page.sound.show()
    coach.wait(lambda: (window.width(), window.height()) == size)
    setup = page.setup_pane
    for step in (Qt.Key.Key_1, Qt.Key.Key_2):
        coach.key(step, CTRL)
        coach.wait(lambda: window.height() == size[1])
        shown = [page.chips, page.time_bar, page.sound, *page.mark_pane.outcomes.buttons.values()]
        assert below_the_edge(window, [*shown, coach.turn.targets, coach.turn.order, setup.net, setup.name]) <= 0


def test_long_names_end_in_dots(coach_at_mark):
    coach = coach_at_mark
    RosterEditor(coach.workspace).put_players([Player(id="i", name=LONG_NAME)])
    coach.workspace.set_turns(coach.workspace.turns.name("a", "i"))
    card = coach.turn.now
    assert card.text() == LONG_NAME
    assert card.shown_text.startswith("Ines")
    assert card.shown_text.endswith("…")


def test_a_box_and_a_label_show_as_much_as_they_have_room_for(dressed, qtbot):
    box, short, label = ComboBox(), ComboBox(), ElidedLabel("people receiving")
    for widget in (box, short, label):
        qtbot.addWidget(widget)
        widget.resize(110, 32)
        widget.show()
    box.addItem("people receiving in a wide row")
    for letters in range(1, 30):
        words = box.itemText(0)[:letters].rstrip() + "…"
        short.clear()
        short.addItem(words)
        if short.grab().toImage() == box.grab().toImage():
            break
    else:
        raise AssertionError("the box cuts its words without dots")
    label.resize(60, 32)
    assert label.shown_text.endswith("…")
    label.resize(300, 32)
    assert label.shown_text == label.text()
