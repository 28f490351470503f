"""A coach changes the steps of the ladder and asks Study who has passed them."""

from __future__ import annotations

import runpy
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from serve_marker.court.dimensions import court_named
from serve_marker.desktop.dialogs.confirmation import Confirmation
from serve_marker.desktop.dialogs.ladder_steps import LadderStepsDialog
from serve_marker.logbook.records import ClipEntry, FloorPoint, Mark, Player, Practice, Serve
from serve_marker.logbook.store import Logbook
from serve_marker.study.ladder import LADDER_SETTING, ladder_of, usual_ladder

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, SHIFT = (coach_at_work[name] for name in ("CTRL", "SHIFT"))
COURT = court_named("indoor")
EVENINGS, SERVES = 4, 20

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def served(number, evening):
    """Noor hits deep 1 three times of four, Marit once."""
    who = "noor" if number % 2 else "marit"
    hit = (number // 2 % 4 > 0) if who == "noor" else (number // 2 % 4 == 0)
    point = FloorPoint((1.5 if hit else 5.0) - 4.5, 7.5, 0.0004, 0.0, 0.0004)
    landing = Mark(5.0 + number, (1.0, 2.0))
    more: dict[str, Any] = {"landing": landing, "landing_point": point, "served_to": "b", "aim": "deep 1"}
    return Serve(id=f"{evening}-{number}", clip_id=f"c{evening}", player_id=who, **more)


@pytest.fixture
def team(coach):
    """A logbook of four evenings with two servers, opened in the window."""
    with Logbook.create(coach.folder / "team.logbook", team="Tidewater") as book:
        book.put(Player(id="noor", name="Noor", number=4), Player(id="marit", name="Marit", number=7))
        for evening in range(EVENINGS):
            book.put(Practice(id=f"w{evening}", date=f"2026-10-{6 + 7 * evening:02d}", name=f"Week {evening}"))
            path = f"{evening}.mp4"
            book.put(ClipEntry(id=f"c{evening}", practice_id=f"w{evening}", path=path, size_bytes=1, fingerprint=path))
            book.put(*(served(number, evening) for number in range(2 * SERVES)))
    coach.workspace.open_logbook(coach.folder / "team.logbook")
    return coach


def open_steps(coach):
    coach.key(Qt.Key.Key_P, CTRL | SHIFT)
    return coach.dialog(LadderStepsDialog)


def type_into(coach, steps, row, column, text):
    at = steps.table.visualItemRect(steps.table.item(row, column)).center()
    coach.click(steps.table.viewport(), at)
    coach.key(Qt.Key.Key_Delete)
    coach.type(text)


def ask_which_step(coach):
    coach.key(Qt.Key.Key_3, CTRL)
    pane = coach.window._stack.currentWidget()
    coach.press("Which step?")
    coach.wait(lambda: not pane.busy and pane.chart.has_chart() and "passed" in pane.side.headline)
    return pane


def kept(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        return ladder_of(book, COURT)


def test_without_an_effort_asked_for_the_serves_tell_who_has_passed(team):
    """Nothing is timed here: with the usual 80 % effort no serve can pass, without it Noor has passed deep 1."""
    assert "Nobody has passed deep 1 yet." in ask_which_step(team).side.headline
    steps = open_steps(team)
    type_into(team, steps, 0, 5, "")
    team.press("Keep")
    assert kept(team)[0].least_effort == 0.0
    pane = team.window._stack.currentWidget()
    team.wait(lambda: not pane.busy and "Deep 1: passed by 1 of 2 servers" in pane.side.headline)
    assert "Which step?" in pane.chart.accessibleName()
    team.key(Qt.Key.Key_Z, CTRL)
    team.wait(lambda: not pane.busy and "Nobody has passed deep 1 yet." in pane.side.headline)
    assert kept(team) == usual_ladder(COURT)


def test_a_step_is_moved_added_and_taken_out(team):
    steps = open_steps(team)
    steps.table.setCurrentCell(1, 0)
    team.press("Up")
    team.press("Add step")
    for place, text in enumerate(("corners", "deep 1 or deep 5", "", "80 %", "60 %")):
        if place:
            team.key(Qt.Key.Key_Tab)
        team.type(text, enter=False)
    team.key(Qt.Key.Key_Return)
    steps.table.setCurrentCell(2, 0)
    team.press("Remove")
    team.press("Keep")
    names = [step.name for step in kept(team)]
    assert names == ["seam 5-6", "deep 1", "speciality", "corners"]
    assert kept(team)[-1].aims == ("deep 1", "deep 5")


def test_what_cannot_be_read_is_said_and_nothing_is_lost(team):
    steps = open_steps(team)
    type_into(team, steps, 0, 1, "deep 9")
    team.press("Keep")
    assert steps.isVisible()
    assert "deep 9" in steps.trouble.text()
    team.key(Qt.Key.Key_Escape)
    team.dialog(Confirmation)
    team.press("Cancel")
    assert steps.isVisible()
    team.press("Usual steps")
    team.press("Keep")
    assert kept(team) == usual_ladder(COURT)
    assert team.workspace.book().get_setting(LADDER_SETTING) == "", "the usual steps follow other settings"


def test_steps_left_as_they_were_close_at_once(team):
    steps = open_steps(team)
    team.key(Qt.Key.Key_Escape)
    team.wait(lambda: QApplication.activeModalWidget() is not steps)
