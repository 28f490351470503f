"""Backups in the window: made when the coach rests or goes home, restored, and what is left of a damaged logbook."""

import os
import sqlite3
from contextlib import closing

import pytest
from PySide6.QtCore import Qt

from serve_marker.desktop.dialogs.backups import BackupsDialog
from serve_marker.desktop.dialogs.what_was_done import WhatWasDone
from serve_marker.logbook.backups import backups_of
from serve_marker.logbook.checksums import renew_checksums
from serve_marker.logbook.store import Logbook

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def marked(coach_of_three):
    """A coach with one serve marked, and the path of her logbook."""
    coach_of_three.click_film(300, 100)
    coach_of_three.wait(lambda: len(coach_of_three.workspace.serves) == 1)
    return coach_of_three, coach_of_three.folder / "team.logbook"


def quiet_for_a_while(coach, path):
    """What the timer of quiet does, without the wait."""
    before = len(backups_of(path))
    coach.window.keeping.backups.back_up()
    coach.wait(lambda: len(backups_of(path)) > before)


def mark_another(coach):
    """A second serve, at the film's end."""
    coach.key(Qt.Key.Key_End)
    coach.wait(lambda: not coach.window.busy)
    coach.click_film(320, 110)
    coach.wait(lambda: len(coach.workspace.serves) == 2)


def test_a_rest_makes_a_backup_and_a_mistake_is_taken_back_with_it(marked):
    coach, path = marked
    quiet_for_a_while(coach, path)
    mark_another(coach)
    coach.key(Qt.Key.Key_O, CTRL | SHIFT)
    dialog = coach.dialog(BackupsDialog)
    assert [dialog.list.topLevelItem(0).text(2), dialog.list.topLevelItemCount()] == ["1 serve", 1]
    coach.press("Restore")
    said = [coach.dialog(WhatWasDone).list.item(0).text()]
    coach.press("Close")

    coach.wait(lambda: len(coach.workspace.serves) == 1 and not coach.window.busy)
    assert len(coach.stored_serves()) == 1
    (kept,) = path.parent.glob("team before *.logbook")
    with Logbook.open(kept) as book:
        assert len(book.serves()) == 2
    assert [told_of.count(kept.name) for told_of in said] == [1]


def test_each_change_begins_the_time_of_quiet_anew(marked):
    coach, _ = marked
    quiet = coach.window.keeping.backups._quiet
    quiet.stop()
    mark_another(coach)

    assert quiet.isActive()
    assert quiet.interval() == 120_000


def test_going_home_makes_a_backup(marked):
    coach, path = marked
    coach.window.close()
    coach.wait(lambda: len(backups_of(path)) == 1)

    with Logbook.open(backups_of(path)[0].path) as book:
        assert len(book.serves()) == 1


def test_without_a_backup_the_window_says_when_one_is_made(marked):
    coach, _ = marked
    coach.key(Qt.Key.Key_O, CTRL | SHIFT)

    assert coach.said[-1] == "There is no backup yet. One is made when the logbook is closed."


@pytest.fixture
def damaged(marked):
    """A logbook with a backup whose table of gyms is gone on the disk."""
    coach, path = marked
    quiet_for_a_while(coach, path)
    coach.workspace.close()
    with closing(sqlite3.connect(path)) as connection:
        (root,) = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'gym'").fetchone()
    with path.open("rb+") as file:
        file.seek((root - 1) * 4096)
        file.write(os.urandom(4096))
    return coach, path


def test_a_damaged_logbook_offers_its_backups(damaged):
    coach, path = damaged
    coach.window.books.take(path)
    dialog = coach.dialog(BackupsDialog)
    assert "team.logbook is damaged" in dialog.words.text()
    coach.press("Restore")
    coach.dialog(WhatWasDone)
    coach.press("Close")

    coach.wait(lambda: len(coach.workspace.serves) == 1 and not coach.window.busy)
    assert coach.workspace.book().check() == []


def test_a_damaged_logbook_opens_to_be_read_and_says_what_was_lost(damaged):
    coach, path = damaged
    before = path.read_bytes()
    coach.window.books.take(path)
    coach.dialog(BackupsDialog)
    coach.press("Open what can be read")
    told = coach.dialog(WhatWasDone)
    assert any("gyms" in told.list.item(row).text() for row in range(told.list.count()))
    coach.press("Close")
    coach.wait(lambda: len(coach.workspace.serves) == 1 and not coach.window.busy)
    coach.click_film(320, 110)

    coach.wait(lambda: "open only to be read" in coach.said[-1])
    assert len(coach.workspace.serves) == 1
    assert path.read_bytes() == before


def test_a_value_that_cannot_be_is_left_out_where_the_rest_is_read(marked):
    coach, path = marked
    coach.workspace.close()
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("UPDATE practice SET date = 'soon'")
        renew_checksums(connection)
    coach.window.books.take(path)
    dialog = coach.dialog(BackupsDialog)
    assert "There is no backup" in dialog.words.text()
    coach.press("Open what can be read")
    told = coach.dialog(WhatWasDone)
    assert "date is no date" in told.list.item(0).text()
    coach.press("Close")

    assert [practice.name for practice in coach.workspace.book().practices()] == ["Lost practice"]
    assert len(coach.workspace.book().serves()) == 1
