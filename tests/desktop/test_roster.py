"""The roster typed by hand and pasted from a spreadsheet, and what keeps it from being lost."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from serve_marker.desktop.dialogs.confirmation import Confirmation
from serve_marker.desktop.dialogs.roster import RosterDialog
from serve_marker.logbook.records import Player
from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL = (coach_at_work[name] for name in ("seen_at", "CTRL"))
TAB, ENTER, ESCAPE = Qt.Key.Key_Tab, Qt.Key.Key_Return, Qt.Key.Key_Escape

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def write(coach, *cells):
    """Type cells one after the other, Tab between them."""
    for place, text in enumerate(cells):
        if place:
            coach.key(TAB)
        coach.type(text, enter=False)


def open_roster(coach):
    if coach.workspace.logbook is None:
        coach.workspace.new_logbook(coach.folder / "team.logbook")
    coach.key(Qt.Key.Key_P, CTRL)
    return coach.dialog(RosterDialog)


def kept(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        return [(player.number, player.name, player.position) for player in book.players()]


def test_a_team_is_typed_with_tab_and_enter_alone(coach):
    roster = open_roster(coach)
    write(coach, "7", "Marit")
    coach.key(ENTER)
    write(coach, "4", "Noor", "setter", "left", "231", "268")
    coach.key(TAB)
    write(coach, "12", "Ines")
    coach.key(ENTER)
    coach.key(ENTER)
    assert roster.isVisible(), "Enter in the table never closes it"
    coach.press("Keep")
    assert kept(coach) == [(4, "Noor", "setter"), (7, "Marit", ""), (12, "Ines", "")]


def test_enter_goes_down_the_column_where_there_is_a_row_below(coach):
    coach.workspace.new_logbook(coach.folder / "team.logbook")
    coach.workspace.book().put(Player(id="m", name="Marit", number=7), Player(id="n", name="Noor", number=4))
    open_roster(coach)
    coach.key(Qt.Key.Key_Home, CTRL)
    coach.key(TAB)
    coach.key(TAB)
    coach.type("libero")
    coach.type("setter")
    coach.press("Keep")
    assert kept(coach) == [(4, "Noor", "libero"), (7, "Marit", "setter")]


def test_tab_leaves_the_table_at_its_empty_row(coach):
    roster = open_roster(coach)
    for _ in range(6):
        coach.key(TAB)
    assert QApplication.focusWidget().text() == "Add player"
    assert roster.table.rowCount() == 1
    coach.key(ESCAPE)


@pytest.mark.parametrize("between", ["\t", ";", ","])
def test_lines_of_a_spreadsheet_fill_rows_from_the_cell_on(coach, between):
    roster = open_roster(coach)
    lines = [("7", "Marit", "setter"), ("", "Noor", ""), ("12", "Ines", "libero")]
    QApplication.clipboard().setText("\r\n".join(between.join(line) for line in lines) + "\r\n")
    coach.key(Qt.Key.Key_V, CTRL)
    assert not roster.trouble.text().strip()
    coach.press("Keep")
    assert kept(coach) == [(7, "Marit", "setter"), (12, "Ines", "libero"), (None, "Noor", "")]


def test_names_alone_pasted_while_a_name_is_typed_go_down_its_column(coach):
    open_roster(coach)
    write(coach, "7", "Mar")
    QApplication.clipboard().setText("Marit\nNoor\n")
    coach.key(Qt.Key.Key_V, CTRL)
    coach.press("Keep")
    assert kept(coach) == [(7, "Marit", ""), (None, "Noor", "")]


def test_what_a_paste_cannot_take_is_one_sentence(coach):
    roster = open_roster(coach)
    pasted = "No;Name\n7;Marit;setter;right;231;268;2009\n12b;Ines;;both\n4;Noor;;left;12"
    QApplication.clipboard().setText(pasted)
    coach.key(Qt.Key.Key_V, CTRL)
    assert roster.trouble.text() == "Left out, since it fits no column: 2009, 12b, both, 12."
    coach.press("Keep")
    assert kept(coach) == [(4, "Noor", ""), (7, "Marit", "setter"), (None, "Ines", "")]


def test_typed_players_are_asked_about_before_they_are_lost(coach):
    roster = open_roster(coach)
    write(coach, "7", "Marit")
    coach.key(ENTER)
    write(coach, "4", "Noor")
    coach.key(ESCAPE)
    coach.key(ESCAPE)
    question = coach.dialog(Confirmation)
    assert question.words.text() == "Close the list without keeping this? Typed: 7 Marit, 4."
    coach.key(ENTER)
    assert coach.dialog(RosterDialog) is roster, "Enter loses nothing"
    roster.activateWindow()
    coach.wait(roster.isActiveWindow)
    coach.type("Noor", enter=False)
    roster.close()
    assert coach.dialog(Confirmation).words.text() == "Close the list without keeping this? Typed: 7 Marit, 4 Noor."
    coach.press("Close")
    assert not QApplication.activeModalWidget()
    assert kept(coach) == []


def test_changed_and_removed_players_count_as_lost_too(coach):
    coach.workspace.new_logbook(coach.folder / "team.logbook")
    coach.workspace.book().put(Player(id="m", name="Marit", number=7), Player(id="n", name="Noor", number=4))
    roster = open_roster(coach)
    coach.key(Qt.Key.Key_Home, CTRL)
    coach.press("Remove")
    coach.click(roster.table.viewport(), roster.table.visualItemRect(roster.table.item(0, 0)).center())
    write(coach, "17")
    coach.key(ENTER)
    roster.close()
    words = "Close the list without keeping this? Typed: 17 Marit. Removed: 4 Noor."
    assert coach.dialog(Confirmation).words.text() == words
    coach.press("Close")
    assert kept(coach) == [(4, "Noor", ""), (7, "Marit", "")]


def test_a_list_as_it_was_closes_without_a_question(coach):
    open_roster(coach)
    coach.key(ESCAPE)
    assert QApplication.activeModalWidget() is None


@pytest.mark.parametrize("key", [ENTER, ESCAPE])
def test_the_key_that_closes_a_dialog_does_nothing_behind_it(coach_at_mark, key):
    coach = coach_at_mark
    coach.step_to(20)
    coach.click_film(*seen_at(1.0, 7.0))
    coach.step_to(40)
    coach.picture.set_cursor_px(seen_at(2.0, 7.0))
    coach.workspace.select([coach.workspace.serves[0].id])
    coach.key(Qt.Key.Key_D, CTRL)
    coach.dialog()
    coach.key(key)
    coach.face_window()
    coach.hold(key)
    coach.key(ENTER)
    assert len(coach.stored_serves()) == 1
    assert coach.workspace.chosen is not None


def test_a_key_held_down_marks_once_and_steps_on(coach_at_mark):
    coach_at_mark.step_to(20)
    for key in (Qt.Key.Key_N, Qt.Key.Key_Right):
        coach_at_mark.key(key)
        coach_at_mark.hold(key)
    assert len(coach_at_mark.stored_serves()) == 1
    assert coach_at_mark.workspace.frame == 22
