"""What the serves were hit at, and what became of the received ones, through the window."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from serve_marker.desktop.film.serve_table import KEYS
from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL = (coach_at_work[name] for name in ("seen_at", "CTRL"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    return coach_at_mark


def stored(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        return book.serves()


def test_mats_and_people_in_one_evening(coach):
    """The kind of target is set for a run of serves, is undone like a mark, and changes in the list for one serve."""

    def take(words):
        targets = coach.turn.targets
        targets.setCurrentIndex(targets.findText(words))
        targets.activated.emit(targets.currentIndex())

    for frame, words in ((10, "mats on the floor"), (40, "people receiving")):
        take(words)
        coach.step_to(frame)
        coach.click_film(*seen_at(1.0, 7.0))
    assert [serve.target_kind for serve in stored(coach)] == ["mats", "people"]

    coach.key(Qt.Key.Key_Z, CTRL)
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.turn.targets.currentText() == "mats on the floor"

    serve_list = coach.window.page.list
    model = serve_list.model()
    cell = model.index(0, KEYS.index("target_kind"))
    assert model.data(cell) == "mats"
    model.setData(cell, "upright")
    assert [serve.target_kind for serve in stored(coach)] == ["upright"]


def test_a_received_ball_is_played_goes_over_or_is_a_shank(coach):
    for frame, presses in ((10, 1), (40, 2), (70, 3)):
        coach.step_to(frame)
        coach.key(Qt.Key.Key_R)
        for _ in range(presses):
            coach.key(Qt.Key.Key_P)
    assert [serve.reception for serve in stored(coach)] == ["played", "over", "shank"]
    assert "nobody could play it" in coach.window.page.judgements.words(coach.workspace.serves[-1])

    model = coach.window.page.list.model()
    model.setData(model.index(2, KEYS.index("outcome")), "net")
    assert [(serve.outcome, serve.reception) for serve in stored(coach)][-1] == ("net", "")
    coach.key(Qt.Key.Key_P)
    assert "Only a received ball" in coach.said[-1]
    assert stored(coach)[-1].reception == ""
