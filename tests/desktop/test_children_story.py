"""Consents and erasing in the window: typed, undone, kept to in Share; a player erased with all her files."""

import pytest
from PySide6.QtCore import QDate, Qt
from PySide6.QtWidgets import QApplication, QPushButton

from serve_marker.desktop.dialogs.consents import ConsentsDialog
from serve_marker.desktop.dialogs.erase_player import ErasePlayerDialog
from serve_marker.desktop.dialogs.what_was_done import WhatWasDone
from serve_marker.logbook.backups import make_backup
from serve_marker.logbook.consents import Consent
from serve_marker.logbook.store import Logbook

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
TODAY = QDate.currentDate().toString(Qt.DateFormat.ISODate)

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def marked(coach_of_three):
    """A coach with a serve of Ines and one of Marit."""
    coach_of_three.click_film(300, 100)
    coach_of_three.wait(lambda: len(coach_of_three.workspace.serves) == 1)
    coach_of_three.key(Qt.Key.Key_End)
    coach_of_three.wait(lambda: not coach_of_three.window.busy)
    coach_of_three.click_film(320, 110)
    coach_of_three.wait(lambda: len(coach_of_three.workspace.serves) == 2)
    return coach_of_three


def test_consents_are_typed_and_kept_to_in_share(marked):
    coach = marked
    coach.key(Qt.Key.Key_C, CTRL | SHIFT)
    dialog = coach.dialog(ConsentsDialog)
    assert [dialog.table.item(row, 0).text() for row in range(3)] == ["4 Marit", "7 Ines", "12 Noor"]
    dialog.table.setCurrentCell(1, 1)
    coach.press("Agreed today")
    dialog.table.setCurrentCell(2, 1)
    dialog.table.setFocus()
    coach.type("1.9.2025")
    coach.press("Keep")

    assert coach.workspace.book().consents() == [
        Consent(id="ines", filmed_from=TODAY, team_from=TODAY),
        Consent(id="noor", filmed_from="2025-09-01"),
    ]
    coach.key(Qt.Key.Key_4, CTRL)
    share = coach.window._panes["share"]
    coach.wait(lambda: not coach.window.busy)
    assert [share.server.itemText(place) for place in range(share.server.count())] == ["All servers", "7 Ines"]
    assert "2 players left out, without consent." in share.consent.text()
    share.audience.setCurrentIndex(share.audience.findData("coach"))
    coach.wait(lambda: not coach.window.busy)
    assert share.server.count() == 3
    assert "left out" not in share.consent.text()
    share.audience.setCurrentIndex(0)
    coach.wait(lambda: not coach.window.busy)
    share._open_folder = lambda _folder: None
    coach.click(share.kinds["csv"])
    coach.wait(lambda: not share.busy)
    coach.click(share.make_button)
    coach.wait(lambda: "written" in share.result.text())
    (table,) = share.folder.glob("serves*.csv")
    assert "Marit" not in table.read_text(encoding="utf-8-sig")
    assert "Ines" in table.read_text(encoding="utf-8-sig")
    coach.key(Qt.Key.Key_Z, CTRL)
    coach.wait(lambda: coach.workspace.book().consents() == [])


def test_a_date_that_is_none_is_said_in_the_dialog(marked):
    coach = marked
    coach.key(Qt.Key.Key_C, CTRL | SHIFT)
    dialog = coach.dialog(ConsentsDialog)
    dialog.table.setFocus()
    coach.type("soon")
    coach.press("Keep")

    assert dialog.isVisible()
    assert dialog.trouble.text() == "soon is not a date for 4 Marit. Write the date as 2026-11-03."
    coach.press("Cancel")
    coach.press("Close")
    assert coach.workspace.book().consents() == []


def test_a_removed_player_comes_back_with_her_consent(marked):
    coach = marked
    coach.workspace.book().put(Consent(id="noor", filmed_from="2025-09-01"))
    noor = coach.workspace.players["noor"]
    coach.window.books._roster.put_players(
        [player for player in coach.workspace.players.values() if player != noor], [noor]
    )
    assert coach.workspace.book().consents() == []
    coach.key(Qt.Key.Key_Z, CTRL)

    assert [consent.id for consent in coach.workspace.book().consents()] == ["noor"]


def shown_on_card(coach):
    """The picture that the start shows of the logbook."""
    return coach.window._recent.logbooks()[0].picture


def test_a_player_is_erased_with_her_files(marked):
    coach = marked
    path = coach.workspace.book().path
    make_backup(path)
    coach.window._keep_card()
    assert not shown_on_card(coach).isNull()
    coach.key(Qt.Key.Key_E, CTRL | SHIFT)
    dialog = coach.dialog(ErasePlayerDialog)
    erase = next(button for button in dialog.findChildren(QPushButton) if button.text() == "Erase")
    assert not erase.isEnabled()
    dialog.player.setCurrentIndex(dialog.player.findData("ines"))
    coach.press("Erase")
    told = coach.dialog(WhatWasDone)
    said = [told.list.item(row).text() for row in range(told.list.count())]
    coach.press("Close")

    assert said[:2] == ["Erased from team.logbook.", "1 serve erased, with all marks."]
    assert 'The film "tuesday.mp4" shows her. It is yours to delete.' in said
    coach.wait(lambda: len(coach.workspace.serves) == 1 and not coach.window.busy)
    assert sorted(coach.workspace.players) == ["marit", "noor"]
    assert "The picture on the start screen erased." in said
    assert shown_on_card(coach).isNull()
    coach.key(Qt.Key.Key_Z, CTRL)
    assert sorted(coach.workspace.players) == ["marit", "noor"]
    for file in (path, *path.parent.glob("team backups/*.logbook")):
        assert b"Ines" not in file.read_bytes()
        with Logbook.open(file) as book:
            assert len(book.serves()) == 1


def test_enter_erases_nobody(marked):
    coach = marked
    coach.key(Qt.Key.Key_E, CTRL | SHIFT)
    dialog = coach.dialog(ErasePlayerDialog)
    dialog.player.setCurrentIndex(1)
    coach.key(Qt.Key.Key_Return)
    coach.wait(lambda: QApplication.activeModalWidget() is None)

    assert len(coach.workspace.book().players()) == 3
