"""An evening has more than one clip: the logbook opens by itself, and files come in together."""

from __future__ import annotations

import os
import runpy
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QFileDialog

from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, NO_KEY = coach_at_work["CTRL"], coach_at_work["NO_KEY"]

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach_again(coach_at_setup):
    """The coach of last week, back at a window that has just opened."""
    coach_at_setup.window.close()
    made = coach_at_work["Coach"](coach_at_setup.folder)
    yield made
    made.leave()


@pytest.fixture
def card(coach, filmed):
    """The phone's card: three clips of two evenings, named by the day as phones do."""
    folder = coach.folder / "card"
    folder.mkdir()
    names = ("VID_20261103_190000.mp4", "VID_20261103_193000.mp4", "VID_20261105_190000.mp4")
    paths = [folder / name for name in names]
    for number, path in enumerate(paths, 1):
        path.write_bytes(filmed.read_bytes() + b"\0" * number)
    return paths


def drop(window, paths):
    """Drag files onto the window and let them go."""
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    copy, left = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton
    QApplication.sendEvent(window, QDragEnterEvent(QPoint(300, 300), copy, mime, left, NO_KEY))
    QApplication.sendEvent(window, QDropEvent(QPointF(300, 300), copy, mime, left, NO_KEY))


def practices_by_clip(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        practices = {practice.id: (practice.name, practice.date) for practice in book.practices()}
        return {Path(clip.path).name: practices[clip.practice_id] for clip in book.clips()}


def test_the_last_logbook_opens_by_itself_and_a_clip_asks_for_none(coach_again, filmed):
    coach_again.window.open_at_start()
    coach_again.wait(lambda: coach_again.workspace.clip is not None and not coach_again.window.busy)
    assert coach_again.workspace.book().path == coach_again.folder / "team.logbook"
    assert coach_again.workspace.clip.path == filmed

    second = coach_again.folder / "thursday.mp4"
    second.write_bytes(filmed.read_bytes() + b"\0")
    coach_again.key(Qt.Key.Key_I, CTRL)
    coach_again.answer_file(second)
    coach_again.agree_to_practice()
    coach_again.wait(lambda: coach_again.workspace.clip is not None and coach_again.workspace.clip.path == second)
    assert set(practices_by_clip(coach_again)) == {"tuesday.mp4", "thursday.mp4"}


def test_a_last_logbook_that_has_gone_is_one_sentence_on_the_start_page(coach_at_setup):
    coach_at_setup.window.close()
    (coach_at_setup.folder / "team.logbook").rename(coach_at_setup.folder / "moved.logbook")
    coach = coach_at_work["Coach"](coach_at_setup.folder)
    coach.window.open_at_start()
    assert coach.workspace.logbook is None
    assert coach.window.start.isVisible()
    assert coach.window.start.logbook_words.text() == "team.logbook is not where it was; open it where it is now."
    coach.leave()


def test_files_chosen_together_ask_once_for_their_practice(coach, card):
    coach.window.workspace.new_logbook(coach.folder / "team.logbook")
    coach.key(Qt.Key.Key_I, CTRL)
    coach.answer_file(*card[:2])
    question = coach.dialog(coach_at_work["PracticeOfClips"])
    assert question.date.date().toString(Qt.DateFormat.ISODate) == "2026-11-03"
    coach.click(question.name)
    coach.key(Qt.Key.Key_A, CTRL)
    coach.type("Tidewater serves", enter=False)
    coach.press("Add")
    coach.wait(lambda: coach.workspace.clip is not None and coach.workspace.clip.path == card[0])
    assert practices_by_clip(coach) == {path.name: ("Tidewater serves", "2026-11-03") for path in card[:2]}

    coach.key(Qt.Key.Key_I, CTRL)
    dialog = coach.dialog(QFileDialog)
    assert Path(dialog.directory().absolutePath()) == card[0].parent, "the last folder is remembered"
    coach.key(Qt.Key.Key_Escape)


def test_files_of_two_days_dropped_together_go_to_a_practice_each(coach, card):
    coach.window.workspace.new_logbook(coach.folder / "team.logbook")
    drop(coach.window, card)
    coach.agree_to_practice()
    coach.wait(lambda: len(coach.workspace.book().clips()) == 3 and coach.workspace.clip is not None)
    days = [practices_by_clip(coach)[path.name] for path in card]
    assert days == [("Practice", "2026-11-03"), ("Practice", "2026-11-03"), ("Practice", "2026-11-05")]


def test_files_of_two_days_can_go_to_one_practice_that_is_there(coach, card):
    coach.window.workspace.new_logbook(coach.folder / "team.logbook")
    drop(coach.window, card[:1])
    coach.agree_to_practice()
    coach.wait(lambda: coach.workspace.clip is not None)
    drop(coach.window, card)
    question = coach.dialog(coach_at_work["PracticeOfClips"])
    assert "2 clips" in question.words.text(), "the one known already is not asked about"
    coach.click(question.practice)
    for _ in range(question.practice.count() - 1):
        coach.key(Qt.Key.Key_Down)
    coach.key(Qt.Key.Key_Return)
    coach.press("Add")
    coach.wait(lambda: len(coach.workspace.book().clips()) == 3)
    assert set(practices_by_clip(coach).values()) == {("Practice", "2026-11-03")}


def test_no_practice_chosen_adds_no_clip(coach, card):
    coach.window.workspace.new_logbook(coach.folder / "team.logbook")
    drop(coach.window, card)
    coach.dialog(coach_at_work["PracticeOfClips"])
    coach.key(Qt.Key.Key_Escape)
    assert coach.said[-1] == "No clip was added."
    assert coach.workspace.book().clips() == coach.workspace.book().practices() == []


def test_the_containers_own_time_goes_before_the_files(coach, filmed):
    """Local noon of 2026-11-03, whatever zone this machine is in, is written as ISO 14496-12 (8.2.2) has it: in UTC."""
    import av

    path = coach.folder / "clip0001.mp4"
    with av.open(str(filmed)) as source, av.open(str(path), "w") as target:
        target.metadata["creation_time"] = datetime(2026, 11, 3, 12).astimezone().isoformat()
        stream = target.add_stream_from_template(source.streams.video[0])
        for packet in source.demux(source.streams.video[0]):
            if packet.dts is not None:
                packet.stream = stream
                target.mux(packet)
    os.utime(path, (0, 0))
    coach.window.workspace.new_logbook(coach.folder / "team.logbook")
    drop(coach.window, [path])
    coach.agree_to_practice()
    coach.wait(lambda: coach.workspace.clip is not None)
    assert practices_by_clip(coach) == {"clip0001.mp4": ("Practice", "2026-11-03")}
