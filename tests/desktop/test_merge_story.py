"""Two coaches in the window: their logbooks become a third, with a question where a player may be the same."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt

from serve_marker.desktop.dialogs.confirmation import Confirmation
from serve_marker.desktop.dialogs.what_was_done import WhatWasDone
from serve_marker.logbook.records import Player
from serve_marker.logbook.store import Logbook

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def test_two_logbooks_become_a_third(coach_of_three):
    coach = coach_of_three
    coach.click_film(300, 100)
    coach.wait(lambda: len(coach.workspace.serves) == 1)
    book = coach.workspace.book()
    (clip,), (practice,), (serve,) = book.clips(), book.practices(), book.serves()
    other = coach.folder / "britt.logbook"
    with Logbook.create(other) as theirs:
        theirs.put(*book.gyms(), *book.views(), replace(practice, order_a=(), order_b=()), clip)
        theirs.put(Player(id="n", name="Noor", number=99), Player(id="w", name="Wren", number=3))
        theirs.put(replace(serve, id="hers", player_id="w", note="seen from the side", passer_id=None))
    before = book.path.read_bytes(), other.read_bytes()
    coach.key(Qt.Key.Key_G, CTRL | SHIFT)
    coach.answer_file(other)
    question = coach.dialog(Confirmation)
    assert question.words.text() == 'Are "12 Noor" and "99 Noor" one player?'
    coach.press("One player")
    coach.answer_file(coach.folder / "both.logbook")
    told = coach.dialog(WhatWasDone)
    said = [told.list.item(row).text() for row in range(told.list.count())]
    coach.press("Close")
    coach.wait(lambda: not coach.window.busy)

    assert said[0] == "1 serve in both.logbook, 1 of them marked twice."
    assert coach.workspace.book().path.name == "both.logbook"
    assert sorted(player.name for player in coach.workspace.book().players()) == ["Ines", "Marit", "Noor", "Wren"]
    assert len(coach.workspace.book().second_marks()) == 1
    assert (book.path.read_bytes(), other.read_bytes()) == before
