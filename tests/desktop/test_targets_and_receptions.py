"""What the serves were hit at, what became of the received ones, and the wind outdoors, through the window."""

from __future__ import annotations

import runpy
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from serve_marker.court.dimensions import COURTS
from serve_marker.desktop.film.serve_table import KEYS
from serve_marker.logbook.store import Logbook
from serve_marker.study.filter import ServeFilter, filter_serves
from serve_marker.study.rates import in_rate
from serve_marker.study.sentences import practice_summary
from serve_marker.study.serve_columns import serve_table

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL = (coach_at_work[name] for name in ("seen_at", "CTRL"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    return coach_at_mark


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
    assert [serve.target_kind for serve in coach.stored_serves()] == ["mats", "people"]

    coach.key(Qt.Key.Key_Z, CTRL)
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.turn.targets.currentText() == "mats on the floor"

    serve_list = coach.window.page.list
    model = serve_list.model()
    cell = model.index(0, KEYS.index("target_kind"))
    assert model.data(cell) == "mats"
    model.setData(cell, "upright")
    assert [serve.target_kind for serve in coach.stored_serves()] == ["upright"]


def test_a_received_ball_is_played_goes_over_or_is_a_shank(coach):
    for frame, presses in ((10, 1), (40, 2), (70, 3)):
        coach.step_to(frame)
        coach.key(Qt.Key.Key_R)
        for _ in range(presses):
            coach.key(Qt.Key.Key_P)
    assert [serve.reception for serve in coach.stored_serves()] == ["played", "over", "shank"]
    assert "nobody could play it" in coach.window.page.judgements.words(coach.workspace.serves[-1])

    model = coach.window.page.list.model()
    model.setData(model.index(2, KEYS.index("outcome")), "net")
    assert [(serve.outcome, serve.reception) for serve in coach.stored_serves()][-1] == ("net", "")
    coach.key(Qt.Key.Key_P)
    assert "Only a received ball" in coach.said[-1]
    assert coach.stored_serves()[-1].reception == ""


def test_the_winner_of_a_rally_is_noted_by_one_key(coach):
    for frame, presses in ((10, 1), (40, 2), (70, 3)):
        coach.step_to(frame)
        coach.click_film(*seen_at(1.0, 7.0))
        for _ in range(presses):
            coach.key(Qt.Key.Key_L)
    assert [serve.rally for serve in coach.stored_serves()] == ["won", "lost", ""]
    assert coach.said[-1] == "Rally not noted."
    assert coach.window.page.judgements.words(coach.workspace.serves[0]).endswith("rally won")
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.stored_serves()[-1].rally == "lost"


def test_blocked_serves_are_neither_in_nor_errors_of_the_server(coach):
    coach.step_to(20)
    coach.key(Qt.Key.Key_V)
    (serve,) = coach.stored_serves()
    assert (serve.outcome, coach.window.page.judgements.of(serve).verdict) == ("blocked", "")
    with Logbook.open(coach.folder / "team.logbook") as book:
        table = serve_table(book)
    assert practice_summary(table)[0] == "1 serve, 0 in. 1 blocked."
    assert in_rate(table).hits == 0


def test_outdoors_one_end_has_the_wind_and_the_aims_are_those_of_the_beach(coach):
    """Served from the near end that has the wind at its back, then against it."""
    turn = coach.turn
    assert not turn.wind.isVisible()
    coach.workspace.view_state = replace(coach.workspace.view_state, court=COURTS["beach"])
    coach.workspace.view_changed.emit()
    assert turn.wind.isVisible()
    assert [turn.aim.itemText(place) for place in range(-3 + turn.aim.count(), turn.aim.count())] == [
        *("cross", "middle", "line"),
    ]
    for frame, place in ((20, 1), (60, 2)):
        turn.wind.setCurrentIndex(place)
        turn.wind.activated.emit(place)
        coach.step_to(frame)
        coach.click_film(*seen_at(1.0, 7.0))
    with Logbook.open(coach.folder / "team.logbook") as book:
        assert [serve.wind_end for serve in book.serves()] == ["a", "b"]
        table = serve_table(book)
    assert table["wind"].tolist() == ["with the wind", "against the wind"]
    assert len(filter_serves(table, ServeFilter(winds=("with the wind",)))) == 1
