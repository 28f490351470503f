"""A new season in one step, through the window."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import QDate, Qt

from serve_marker.desktop.dialogs.roster import RosterDialog, SeasonDialog
from serve_marker.desktop.film.serve_table import KEYS
from serve_marker.desktop.session.roster_editor import RosterEditor
from serve_marker.errors import UserError
from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL = (coach_at_work[name] for name in ("seen_at", "CTRL"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    return coach_at_mark


def numbers(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        return {player.name: player.number for player in book.players()}, [s.shirts for s in book.seasons()]


def test_a_new_season_is_one_step_and_one_undo(coach):
    coach.click(coach.turn.order)
    coach.type("7 4")
    seven = next(player for player in coach.workspace.players.values() if player.number == 7)
    coach.key(Qt.Key.Key_P, CTRL)
    coach.dialog(RosterDialog)
    coach.press("New season…")
    dialog = coach.dialog(SeasonDialog)
    dialog.begins.set_date(QDate.currentDate().addDays(1))
    dialog.accept()
    roster = coach.dialog(RosterDialog)
    assert {roster.table.item(row, 0).text() for row in range(2)} == {""}
    roster.reject()
    coach.face_window()

    names, shirts = numbers(coach)
    assert set(names.values()) == {None}
    assert sorted(number for _, number in shirts[0]) == [4, 7]
    assert coach.workspace.players[seven.id].number == 7, "this practice is of the season before"
    coach.window.page.focus_picture()
    coach.key(Qt.Key.Key_Z, CTRL)
    assert (set(numbers(coach)[0].values()), numbers(coach)[1]) == ({7, 4}, [])


def test_a_number_typed_in_a_practice_of_an_ended_season_is_of_that_season(coach):
    RosterEditor(coach.workspace).begin_season("next", QDate.currentDate().addDays(1).toString(Qt.DateFormat.ISODate))
    coach.click(coach.turn.number)
    coach.type("12")
    assert coach.turn.now.text() == "Number 12"
    names, shirts = numbers(coach)
    assert names == {"Number 12": None}
    assert [number for _, number in shirts[0]] == [12]
    with pytest.raises(UserError, match="choose a later day"):
        RosterEditor(coach.workspace).begin_season("again", "2020-01-01")


def test_the_passer_of_a_serve_is_chosen_from_the_roster(coach):
    coach.click(coach.turn.order)
    coach.type("7 4")
    coach.step_to(20)
    coach.key(Qt.Key.Key_R)
    model = coach.window.page.list.model()
    model.setData(model.index(0, KEYS.index("passer")), "4")
    four = next(player for player in coach.workspace.players.values() if player.number == 4)
    with Logbook.open(coach.folder / "team.logbook") as book:
        assert [serve.passer_id for serve in book.serves()] == [four.id]
    assert model.data(model.index(0, KEYS.index("passer"))) == "Number 4"
    model.setData(model.index(0, KEYS.index("passer")), "somebody")
    assert "nobody on the roster" in coach.said[-1]
