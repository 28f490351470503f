"""A logbook from elsewhere in the window: what is not ours is one sentence, films elsewhere are asked about first."""

from __future__ import annotations

import runpy
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from serve_marker.camera.fitting.repeatability import OWN_CLICK
from serve_marker.desktop.dialogs.backups import BackupsDialog
from serve_marker.desktop.dialogs.confirmation import Confirmation
from serve_marker.logbook.checksums import renew_checksums
from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.records import ClipEntry, Practice
from serve_marker.logbook.store import Logbook
from serve_marker.study.ladder import LADDER_SETTING
from serve_marker.study.settings import KEY as STUDY_SETTINGS

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def sent(coach, filmed, tmp_path_factory):
    """A logbook that came by e-mail; its film lies in a folder that this computer does not know."""
    film = tmp_path_factory.mktemp("elsewhere") / "tuesday.mp4"
    shutil.copy(filmed, film)
    path = coach.folder / "sent.logbook"
    with Logbook.create(path, team="Tidewater") as book:
        size_bytes, digest = fingerprint(film)
        book.put(
            Practice(id="m", date="2026-03-02", name="Monday"),
            ClipEntry(id="c", practice_id="m", path=str(film), size_bytes=size_bytes, fingerprint=digest),
        )
    return path


def open_by_drop(coach, path):
    """Take a file as one that was dropped on the window."""
    coach.window.books.take(path)


def test_a_trigger_is_one_sentence(coach, sent):
    with closing(sqlite3.connect(sent, isolation_level=None)) as connection:
        connection.execute("CREATE TRIGGER evil AFTER INSERT ON serve BEGIN DELETE FROM serve; END")
    open_by_drop(coach, sent)

    assert "holds a trigger no logbook has" in coach.said[-1]
    assert coach.workspace.logbook is None


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("UPDATE clip SET filmed_at_fps = 9e999", "filmed_at_fps is beyond reason"),
        ("UPDATE practice SET date = 'soon'", "date is no date"),
    ],
)
def test_a_value_that_cannot_be_is_one_sentence(coach, sent, change, words):
    with closing(sqlite3.connect(sent, isolation_level=None)) as connection:
        connection.execute(change)
        renew_checksums(connection)
    open_by_drop(coach, sent)

    assert words in coach.dialog(BackupsDialog).words.text()
    coach.press("Cancel")
    assert coach.workspace.logbook is None


@pytest.mark.parametrize("text", ["no json", "[" * 100_000, '{"indoor": {"column_borders_m": [1e308, 2]}}'])
@pytest.mark.parametrize("key", ["scheme", STUDY_SETTINGS, LADDER_SETTING, OWN_CLICK])
def test_settings_that_cannot_be_read_end_no_window(coach, sent, key, text):
    with Logbook.open(sent) as book:
        book.set_setting(key, text)
    open_by_drop(coach, sent)
    coach.dialog(Confirmation)
    coach.press("Cancel")
    coach.wait(lambda: not coach.window.busy)
    for step in ("mark", "study", "share", "setup"):
        coach.window.go_to_step(step)
        coach.wait(lambda: not coach.window.busy)

    assert coach.workspace.logbook is not None
    assert not coach.window.error.isVisible()


def test_films_elsewhere_are_asked_about_first(coach, sent):
    open_by_drop(coach, sent)
    asked = coach.dialog(Confirmation)
    assert "This logbook names films outside its own folder, in" in asked.words.text()
    coach.press("Cancel")
    coach.wait(lambda: any("outside the logbook's folder" in words for words in coach.said))
    assert coach.workspace.clip is None

    open_by_drop(coach, sent)
    coach.dialog(Confirmation)
    coach.press("Open films")
    coach.wait(lambda: bool(coach.workspace.clip) and not coach.window.busy)

    shown = coach.workspace.logbook
    open_by_drop(coach, sent)
    assert coach.workspace.logbook is not shown
    coach.wait(lambda: bool(coach.workspace.clip) and not coach.window.busy)


def test_another_computer_is_asked_about_by_name(coach, sent):
    with Logbook.open(sent) as book:
        (entry,) = book.clips()
        book.put(ClipEntry(**{**vars(entry), "path": "//server/films/tuesday.mp4"}))
    open_by_drop(coach, sent)

    assert 'on another computer, in "//server/films"' in coach.dialog(Confirmation).words.text()
    coach.press("Cancel")
    coach.wait(lambda: any("outside the logbook's folder" in words for words in coach.said))
