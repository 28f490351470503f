"""In Set up: a skipped landmark comes back by undo, a gym named there is the practice's, advice waits for its sums."""

from __future__ import annotations

import runpy
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from serve_marker.desktop.dialogs.practice import PracticeDialog
from serve_marker.desktop.session.edits import Touched
from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, SHIFT, seen_at = (coach_at_work[name] for name in ("CTRL", "SHIFT", "seen_at"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def test_a_skipped_landmark_comes_back_by_undo(coach_at_setup):
    coach, pane = coach_at_setup, coach_at_setup.window.page.setup_pane
    first = pane.next_landmark()
    coach.key(Qt.Key.Key_K)
    second = pane.next_landmark()
    assert second != first
    coach.key(Qt.Key.Key_K)
    assert pane.next_landmark() not in (first, second)
    coach.key(Qt.Key.Key_Z, CTRL)
    assert pane.next_landmark() == second
    coach.key(Qt.Key.Key_Z, CTRL)
    assert pane.next_landmark() == first
    assert coach.said[-1] == "Undone: Skipped far end line at left sideline."
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    assert pane.next_landmark() == second


def test_a_landmark_is_skipped_and_comes_back_once_the_court_is_drawn(coach_at_mark):
    coach, pane = coach_at_mark, coach_at_mark.window.page.setup_pane
    coach.key(Qt.Key.Key_1, CTRL)
    coach.window.page._making.remove("end-a/left")
    assert pane.next_landmark() == "end-a/left"
    coach.key(Qt.Key.Key_K)
    assert pane.next_landmark() is None
    coach.key(Qt.Key.Key_Z, CTRL)
    assert pane.next_landmark() == "end-a/left"


def practice_gym(coach):
    """The gym that the dialog This practice shows, and the one that is kept."""
    coach.key(Qt.Key.Key_D, CTRL)
    shown = coach.dialog(PracticeDialog).gym.currentText()
    coach.key(Qt.Key.Key_Escape)
    coach.face_window()
    with Logbook.open(coach.folder / "team.logbook") as book:
        names = {gym.id: gym.name for gym in book.gyms()}
        return shown, names.get(book.practices()[0].gym_id or "")


def test_the_gym_named_in_set_up_is_the_practice_s(coach_at_mark):
    coach, pane = coach_at_mark, coach_at_mark.window.page.setup_pane
    coach.key(Qt.Key.Key_1, CTRL)
    assert practice_gym(coach) == ("Our gym", None)
    for name in ("North hall", "South hall"):
        coach.click(pane.gym)
        coach.key(Qt.Key.Key_A, CTRL)
        coach.type(name)
        assert practice_gym(coach) == (name, name)
    coach.window.page.focus_picture()
    coach.key(Qt.Key.Key_Z, CTRL)
    assert practice_gym(coach) == ("North hall", "North hall")
    coach.key(Qt.Key.Key_Z, CTRL)
    assert practice_gym(coach) == ("Our gym", None)


def test_another_practice_is_taken_to_be_in_the_gym_used_last(coach_at_mark, filmed):
    """The name a gym had before the coach named it stays in the logbook, where it comes last by the alphabet."""
    coach, pane = coach_at_mark, coach_at_mark.window.page.setup_pane
    coach.key(Qt.Key.Key_1, CTRL)
    coach.click(pane.gym)
    coach.key(Qt.Key.Key_A, CTRL)
    coach.type("Harbour hall")
    second = coach.folder / "second.mp4"
    second.write_bytes(filmed.read_bytes() + b"\0")
    coach.window.opening.add(second)
    coach.agree_to_practice()
    coach.wait(lambda: coach.workspace.clip is not None and coach.workspace.clip.path == second)
    with Logbook.open(coach.folder / "team.logbook") as book:
        assert [gym.name for gym in book.gyms()] == ["Harbour hall", "Our gym"]
        (practice,) = book.practices()
        book.put(replace(practice, gym_id=None))
    coach.workspace.show(Touched(records=True))
    for place_m in ((-4.5, 9.0), (4.5, 9.0), (-4.5, -9.0), (4.5, -9.0)):
        coach.click_film(*seen_at(*place_m), SHIFT)
    assert pane.gym.text() == "Harbour hall"


def test_nothing_is_advised_before_it_is_worked_out(coach_at_mark):
    coach, pane = coach_at_mark, coach_at_mark.window.page.setup_pane
    coach.key(Qt.Key.Key_1, CTRL)
    coach.window.page._making.remove("end-b/left")
    before = pane.quality.text()
    assert pane.advice.busy
    assert "nothing more would help" not in before
    coach.wait(lambda: not pane.advice.busy)
    assert len(pane.quality.text()) > len(before)
