"""A logbook moves house in the window: packed with its film, unpacked elsewhere, its clips found in a folder."""

from __future__ import annotations

import zipfile

import pytest
from PySide6.QtCore import Qt

from serve_marker.desktop.dialogs.confirmation import Confirmation
from serve_marker.desktop.dialogs.what_was_done import WhatWasDone

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def told(coach):
    dialog = coach.dialog(WhatWasDone)
    said = [dialog.list.item(row).text() for row in range(dialog.list.count())]
    coach.press("Close")
    return said


def test_a_logbook_is_packed_and_opens_elsewhere_with_its_film(coach_of_three, filmed):
    coach = coach_of_three
    coach.click_film(300, 100)
    coach.wait(lambda: len(coach.workspace.serves) == 1)
    serves, before = coach.stored_serves(), coach.workspace.book().path.read_bytes()
    coach.key(Qt.Key.Key_K, CTRL | SHIFT)
    assert "not for sharing. Nobody is left out of it." in coach.dialog(Confirmation).words.text()
    coach.press("Pack…")
    coach.answer_file(coach.folder / "move.zip")
    assert told(coach) == ["Every clip is in it."]
    assert coach.workspace.book().path.read_bytes() == before
    with zipfile.ZipFile(coach.folder / "move.zip") as archive:
        assert sorted(archive.namelist()) == ["move/team.logbook", "move/tuesday.mp4"]

    coach.key(Qt.Key.Key_X, CTRL | SHIFT)
    coach.answer_file(coach.folder / "move.zip")
    coach.answer_file(coach.folder / "new house")
    coach.wait(lambda: coach.workspace.book().path == coach.folder / "new house" / "team.logbook")
    coach.wait(lambda: coach.workspace.clip is not None and not coach.window.busy)
    assert coach.workspace.clip.path == coach.folder / "new house" / "tuesday.mp4"
    assert coach.workspace.clip.path.read_bytes() == filmed.read_bytes()
    assert coach.workspace.serves == serves


def test_all_moved_clips_are_found_in_the_folder_named(coach, filmed):
    old, new = coach.folder / "card" / "tuesday.mp4", coach.folder / "films" / "autumn" / "first.mp4"
    old.parent.mkdir()
    old.write_bytes(filmed.read_bytes())
    coach.begin(old, coach.folder / "team.logbook")
    new.parent.mkdir(parents=True)
    old.rename(new)
    coach.window.books.open_logbook_at(coach.folder / "team.logbook")
    coach.wait(lambda: coach.workspace.clip_entry is not None)
    coach.wait(lambda: any("is not where it was" in words for words in coach.said))
    coach.key(Qt.Key.Key_A, CTRL | SHIFT)
    coach.answer_file(coach.folder / "films")
    coach.wait(lambda: coach.workspace.clip is not None and not coach.window.busy)
    assert '1 moved clip found in "films".' in coach.said
    assert [clip.path for clip in coach.workspace.book().clips()] == [str(new)]


def test_a_pack_that_is_none_is_one_sentence(coach, tmp_path):
    (tmp_path / "move.zip").write_bytes(b"no zip file")
    coach.key(Qt.Key.Key_X, CTRL | SHIFT)
    coach.answer_file(tmp_path / "move.zip")
    coach.answer_file(tmp_path / "new house")
    coach.wait(lambda: "move.zip is no pack of a logbook, or is damaged. Copy it again." in coach.said)
    assert [path.name for path in tmp_path.iterdir() if "new house" in path.name] == []
