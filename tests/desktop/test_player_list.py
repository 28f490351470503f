"""Serves are given away from a list that is searched by typing, and no key acts behind it or any menu or dialog."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMenu, QMenuBar

from serve_marker.desktop.session.player_text import players_like
from serve_marker.desktop.session.roster_editor import RosterEditor
from serve_marker.logbook.records import Player

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, NO_KEY = (coach_at_work[name] for name in ("seen_at", "CTRL", "NO_KEY"))
NAMES = ("Ines", "Marit", "Noor", "Priya", "Yuki", "Salome", "Wren", "Odile", "Tamsin", "Zofia")
SQUAD = [
    Player(id=f"p{number}", name=NAMES[number % 10] + (" Tide" if number > 10 else ""), number=number)
    for number in range(1, 31)
]
ACTING_KEYS = ((Qt.Key.Key_Backspace, NO_KEY), (Qt.Key.Key_N, NO_KEY), (Qt.Key.Key_Z, CTRL), (Qt.Key.Key_3, CTRL))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    """A coach with thirty players, and one serve."""
    RosterEditor(coach_at_mark.workspace).put_players(SQUAD)
    coach_at_mark.click(coach_at_mark.turn.order)
    coach_at_mark.type("7 4")
    coach_at_mark.step_to(20)
    coach_at_mark.click_film(*seen_at(1.0, 7.0))
    yield coach_at_mark
    if (left_open := coach_at_mark.app.activePopupWidget()) is not None:
        left_open.close()


def opened(coach):
    coach.key(Qt.Key.Key_G)
    coach.wait(lambda: coach.app.activePopupWidget() is not None)
    return coach.app.activePopupWidget()


def press_at_window(coach, key, modifiers=NO_KEY):
    """Press a key as the window system tells it: to the window, whatever has the focus."""
    QTest.keyClick(coach.window.windowHandle(), key, modifiers)
    QApplication.processEvents()


@pytest.mark.parametrize(("key", "modifiers"), ACTING_KEYS)
def test_no_key_acts_behind_the_list_of_players(coach, key, modifiers):
    before = coach.stored_serves()
    opened(coach)
    press_at_window(coach, key, modifiers)
    coach.key(key, modifiers)
    assert coach.stored_serves() == before
    assert coach.window.step == "mark"
    assert coach.app.activePopupWidget() is not None


@pytest.mark.parametrize(("key", "modifiers"), ACTING_KEYS)
def test_no_key_acts_behind_a_menu(coach, key, modifiers):
    before = coach.stored_serves()
    menu = next(menu for menu in coach.window.findChildren(QMenu) if menu.title() == "&Help")
    menu.popup(coach.window.mapToGlobal(QPoint(400, 40)))
    press_at_window(coach, key, modifiers)
    assert coach.stored_serves() == before
    assert coach.window.step == "mark"


@pytest.mark.parametrize(("key", "modifiers"), ACTING_KEYS)
def test_no_key_acts_behind_a_dialog(coach, key, modifiers):
    before = coach.stored_serves()
    coach.key(Qt.Key.Key_F1, Qt.KeyboardModifier.ShiftModifier)
    card = coach.dialog()
    press_at_window(coach, key, modifiers)
    QTest.keyClick(card, key, modifiers)
    assert coach.stored_serves() == before
    assert coach.window.step == "mark"
    card.close()


def test_an_entry_chosen_from_a_menu_still_acts(coach):
    bar = coach.window.findChild(QMenuBar)
    marks = next(action for action in bar.actions() if action.text() == "&Mark")
    coach.step_to(40)
    coach.click(bar, bar.actionGeometry(marks).center())
    menu = coach.app.activePopupWidget()
    net = next(action for action in menu.actions() if action.text() == "Into the net")
    coach.click(menu, menu.actionGeometry(net).center())
    assert [serve.outcome for serve in coach.stored_serves()] == ["floor", "net"]


@pytest.mark.parametrize(("typed", "given"), [("23", "p23"), ("zof", "p9"), ("pri tide", "p13"), ("", "p1")])
def test_the_list_is_searched_by_number_or_name(coach, typed, given):
    opened(coach)
    coach.type(typed, enter=False)
    coach.key(Qt.Key.Key_Return)
    coach.wait(lambda: coach.app.activePopupWidget() is None)
    assert [serve.player_id for serve in coach.stored_serves()] == [given]
    assert coach.said[-1] == f"1 serve given to {coach.workspace.players[given].name}."
    coach.key(Qt.Key.Key_N)
    assert [serve.outcome for serve in coach.stored_serves()] == ["net"], "the keys are the picture's again"


def test_arrows_and_clicks_choose_and_escape_gives_nothing(coach):
    opened(coach)
    coach.key(Qt.Key.Key_Down)
    coach.key(Qt.Key.Key_Return)
    assert coach.stored_serves()[0].player_id == "p2"
    shown = opened(coach)
    rows = shown.players
    coach.click(rows.viewport(), rows.visualItemRect(rows.item(3)).center())
    assert coach.stored_serves()[0].player_id == "p4"
    opened(coach)
    coach.key(Qt.Key.Key_Escape)
    assert coach.app.activePopupWidget() is None
    assert coach.stored_serves()[0].player_id == "p4"


def test_who_is_not_there_is_said(coach):
    shown = opened(coach)
    coach.type("99", enter=False)
    assert shown.players.count() == 0
    assert shown.nobody.isVisible()
    coach.key(Qt.Key.Key_Return)
    assert coach.stored_serves()[0].player_id == "p7"


def test_the_list_never_covers_the_screen(coach):
    shown = opened(coach)
    room = coach.window.geometry()
    assert room.contains(shown.geometry())
    assert shown.height() <= room.height() / 2
    assert shown.width() <= room.width() / 3


@pytest.mark.parametrize(
    ("text", "numbers"),
    [("3", [3, 30]), ("yuki", [4, 14, 24]), ("14 yu", [14]), ("  ", list(range(1, 31))), ("tide no", [12, 22])],
)
def test_players_like_a_text(text, numbers):
    assert [player.number for player in players_like(text, SQUAD)] == numbers


@pytest.mark.parametrize("typed", ["zoel", "ZOËL", "marie", "neil"])
def test_players_are_found_without_accents_hyphens_and_apostrophes(typed):
    """Names as people have them: a keyboard abroad has no letter for each."""
    named = [
        Player(id=str(n), name=name, number=n) for n, name in enumerate(("Zoëlle", "Anne-Marie", "O'Neil", "Wren"))
    ]
    assert len(players_like(typed, named)) == 1
