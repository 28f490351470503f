"""A coach lets chance draw who tries something, and asks what it told."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from serve_marker.desktop.dialogs.trial import TrialDialog
from serve_marker.logbook.records import Player, Trial
from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, SHIFT = (coach_at_work[name] for name in ("CTRL", "SHIFT"))
NAMES = ("Ines", "Marit", "Noor", "Priya", "Yuki", "Salome", "Wren", "Odile", "Tamsin", "Zofia")

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def team(coach):
    with Logbook.create(coach.folder / "team.logbook", team="Tidewater") as book:
        book.put(*(Player(id=name, name=name, number=number) for number, name in enumerate(NAMES, 1)))
    coach.workspace.open_logbook(coach.folder / "team.logbook")
    return coach


def open_trial(coach):
    coach.key(Qt.Key.Key_R, CTRL | SHIFT)
    return coach.dialog(TrialDialog)


def kept(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        return book.trials()


def test_chance_draws_once_and_the_trial_is_kept_looked_at_and_taken_out(team):
    dialog = open_trial(team)
    team.click(dialog.name)
    team.type("a higher toss", enter=False)
    team.click(dialog.aim)
    team.type("deep 1", enter=False)
    team.press("Let chance choose")
    assert not dialog.draw.isEnabled(), "chance draws once"
    team.press("Keep")
    (trial,) = kept(team)
    assert (trial.name, trial.aim) == ("a higher toss", "deep 1")
    assert len(trial.tries) == len(trial.others) == 5
    assert set(trial.tries + trial.others) == set(NAMES)
    assert trial.retest_on > trial.drawn_on

    dialog = open_trial(team)
    dialog.which.setFocus()
    team.key(Qt.Key.Key_Down)
    team.wait(lambda: dialog.told.text().startswith("It is told at the retest"))
    assert not dialog.name.isEnabled()
    team.press("Remove")
    assert kept(team) == []
    team.key(Qt.Key.Key_Z, CTRL)
    assert kept(team) == [trial]


@pytest.mark.parametrize(
    ("name", "aim", "players", "said"),
    [
        ("", "deep 1", "1, 2, 3, 4, 5, 6, 7, 8", "What is tried? Write it in a few words."),
        ("toss", "deep 9", "1, 2, 3, 4, 5, 6, 7, 8", "The aim 'deep 9' is not known"),
        ("toss", "", "1, 2, 3, 4, 5, 6", "Fewer than 8 players cannot tell it from chance; these are 6."),
        ("toss", "", "Gudrun", "Gudrun"),
    ],
)
def test_what_cannot_be_drawn_is_said_and_nothing_is_kept(team, name, aim, players, said):
    dialog = open_trial(team)
    for field, text in ((dialog.name, name), (dialog.aim, aim), (dialog.who, players)):
        team.click(field)
        team.key(Qt.Key.Key_A, CTRL)
        team.key(Qt.Key.Key_Delete)
        team.type(text, enter=False)
    team.press("Let chance choose")
    assert said in dialog.told.text()
    assert dialog.tries.text() == ""
    if name:
        team.press("Keep")
        assert dialog.isVisible(), "what is half written is not thrown away"
    team.press("Cancel")
    assert kept(team) == []


def test_a_retest_on_the_first_day_is_refused(team):
    dialog = open_trial(team)
    team.click(dialog.name)
    team.type("toss", enter=False)
    for field in (dialog.drawn_on, dialog.retest_on):
        team.click(field.line)
        team.key(Qt.Key.Key_A, CTRL)
        team.type("2026-11-03", enter=False)
        team.key(Qt.Key.Key_Tab)
    team.press("Let chance choose")
    assert dialog.told.text() == "The retest must be on a later day than the first."
    team.press("Cancel")


def test_a_trial_of_players_who_left_still_opens(team):
    gone = Trial(
        id="t", name="toss", drawn_on="2026-09-01", retest_on="2026-09-20", tries=("nobody",), others=("Ines",)
    )
    team.workspace.book().put(gone)
    dialog = open_trial(team)
    dialog.which.setFocus()
    team.key(Qt.Key.Key_Down)
    team.wait(lambda: "cannot tell" in dialog.told.text() or "told at the retest" in dialog.told.text())
    assert dialog.others.text() == "1 Ines"
    team.press("Cancel")
