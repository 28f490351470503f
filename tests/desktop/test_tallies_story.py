"""A coach types in what was counted beside the court on nights without film."""

from __future__ import annotations

import runpy
from operator import attrgetter
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from serve_marker.desktop.dialogs.confirmation import Confirmation
from serve_marker.desktop.dialogs.tallies import TalliesDialog
from serve_marker.logbook.records import Player
from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, SHIFT = (coach_at_work[name] for name in ("CTRL", "SHIFT"))
TAB, ENTER, ESCAPE = Qt.Key.Key_Tab, Qt.Key.Key_Return, Qt.Key.Key_Escape

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def team(coach):
    with Logbook.create(coach.folder / "team.logbook", team="Tidewater") as book:
        book.put(Player(id="noor", name="Noor", number=4), Player(id="marit", name="Marit", number=7))
    coach.workspace.open_logbook(coach.folder / "team.logbook")
    return coach


def open_tallies(coach, day="2026-11-03"):
    coach.key(Qt.Key.Key_T, CTRL | SHIFT)
    dialog = coach.dialog(TalliesDialog)
    show(coach, dialog, day)
    return dialog


def show(coach, dialog, day):
    coach.click(dialog.date.line)
    coach.key(Qt.Key.Key_A, CTRL)
    coach.type(day, enter=False)
    coach.key(ENTER)


def write(coach, dialog, *cells):
    first = dialog.table.model().index(dialog.table.next_row(), 0)
    coach.click(dialog.table.viewport(), dialog.table.visualRect(first).center())
    for place, text in enumerate(cells):
        if place:
            coach.key(TAB)
        coach.type(text, enter=False)
    coach.key(ENTER)


def kept(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        tallies = book.tallies()
    of = attrgetter("date", "player_id", "serves", "serve_type", "aim", "hits", "full_pace")
    return [of(one) for one in tallies]


def test_counts_of_two_nights_are_kept_and_shown_as_load(team):
    dialog = open_tallies(team)
    write(team, dialog, "7", "40", "Jump topspin", "deep 1", "22", "10")
    write(team, dialog, "Noor", "25")
    show(team, dialog, "2026-11-05")
    write(team, dialog, "4", "30", "", "seam 5-6", "0")
    team.press("Keep")
    assert kept(team) == [
        ("2026-11-03", "marit", 40, "jump topspin", "deep 1", 22, 10),
        ("2026-11-03", "noor", 25, "", "", None, 0),
        ("2026-11-05", "noor", 30, "", "seam 5-6", 0, 0),
    ]
    team.key(Qt.Key.Key_3, CTRL)
    pane = team.window._stack.currentWidget()
    team.press("How many?")
    team.wait(lambda: not pane.busy and "55 serves" in pane.side.headline)
    assert pane.side.headline == "Most in the week of 2 Nov: 4 Noor, 55 serves (0–55 jump serves)."
    assert "athletic trainer or physician" in pane.side.more.text()
    team.key(Qt.Key.Key_Z, CTRL)
    assert kept(team) == [], "one step of undo"


def test_a_day_is_shown_again_changed_and_emptied(team):
    dialog = open_tallies(team)
    write(team, dialog, "7", "40")
    write(team, dialog, "4", "20")
    team.press("Keep")
    dialog = open_tallies(team)
    assert dialog.table.row_texts(0)[:2] == ("7 Marit", "40")
    dialog.table.setCurrentCell(0, 0)
    team.press("Remove")
    team.click(dialog.table.viewport(), dialog.table.visualItemRect(dialog.table.item(0, 1)).center())
    team.type("21")
    team.press("Keep")
    assert [row[1:3] for row in kept(team)] == [("noor", 21)]


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        (("Nobody", "4"), "Nobody is nobody on the roster"),
        (("7", ""), "how many serves"),
        (("7", "some"), "some is no count"),
        (("7", "10", "lob"), "lob is no serve type"),
        (("7", "10", "float", "deep 9"), "deep 9"),
        (("7", "10", "float", "", "11"), "at most the 10 serves"),
        (("", "10"), "needs a player"),
    ],
)
def test_what_cannot_be_read_is_said_and_nothing_is_lost(team, cells, words):
    dialog = open_tallies(team)
    write(team, dialog, *cells)
    team.press("Keep")
    assert dialog.isVisible()
    assert words in dialog.trouble.text()
    show(team, dialog, "2026-11-05")
    assert words in dialog.trouble.text(), "another day is not shown before this one can be read"
    assert dialog.table.row_texts(0)[: len(cells)] == cells
    team.key(ESCAPE)
    team.dialog(Confirmation)
    team.press("Close")
    assert kept(team) == []
