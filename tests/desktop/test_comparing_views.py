"""While stored views are held against a clip the panel says so, and landmarks can be marked meanwhile."""

from __future__ import annotations

import runpy
import shutil
import threading
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from serve_marker.court.dimensions import COURTS, landmarks
from serve_marker.desktop.setup import view_check_worker
from serve_marker.logbook.records import new_id

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, SHIFT, seen_at = (coach_at_work[name] for name in ("CTRL", "SHIFT", "seen_at"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def answer(monkeypatch):
    """The comparison finds nothing, once this is set."""
    given = threading.Event()

    def compared(*_):
        given.wait()

    monkeypatch.setattr(view_check_worker, "compared", compared)
    yield given
    given.set()


@pytest.fixture
def coach_before_a_second_clip(coach_at_mark, answer):
    """A coach who sets up a clip of a gym that has one stored view."""
    first = coach_at_mark.workspace.clip_entry
    path = Path(first.path).with_name("second.mp4")
    shutil.copy(first.path, path)
    entry = replace(first, id=new_id(), path=str(path), view_id=None)
    coach_at_mark.workspace.book().put(entry)
    coach_at_mark.window.opening.show(entry)
    coach_at_mark.wait(lambda: coach_at_mark.workspace.clip_entry.id == entry.id and not coach_at_mark.window.busy)
    coach_at_mark.key(Qt.Key.Key_1, CTRL)
    return coach_at_mark


def test_the_panel_says_that_it_compares_and_then_what_to_click(coach_before_a_second_clip, answer):
    coach, pane = coach_before_a_second_clip, coach_before_a_second_clip.window.page.setup_pane
    assert pane.next_words.text() == "Comparing this clip with the stored view."
    assert pane.quality.text() == "Wait a moment, or mark landmarks yourself."
    coach.wait(lambda: coach.window.page.checking.busy)
    assert pane.next_words.text() == "Comparing this clip with the stored view."
    answer.set()
    coach.wait(lambda: not coach.window.page.checking.busy)
    assert pane.next_words.text().startswith("Click: ")


def test_a_landmark_marked_meanwhile_goes_on_with_landmarks(coach_before_a_second_clip):
    coach, pane = coach_before_a_second_clip, coach_before_a_second_clip.window.page.setup_pane
    coach.wait(lambda: coach.window.page.checking.busy)
    coach.click_film(*seen_at(*landmarks(COURTS["indoor"])["end-b/left"]), SHIFT)
    assert pane.next_words.text().startswith("Click: ")
    assert pane.quality.text().startswith("3 more landmarks")
