"""Answers about a moved camera: where it was moved is shown, and nothing begun by hand is lost."""

from __future__ import annotations

import runpy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt

from serve_marker.court.dimensions import COURTS, landmarks
from serve_marker.marking.view_check import ClipCheck, ClipSegment
from serve_marker.report.overlay_items import Spot

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")

MOVED_S, END_S = 2.0, 5.0
PLACES = landmarks(COURTS["indoor"])


def ask(coach, first, second) -> None:
    """Let the film answer which view holds until the camera was moved and from then on; None where lines are lost."""
    stored = coach.workspace.view_state.stored
    seen = np.zeros((36, 64), dtype=np.uint8)
    off = [0.0 if view else float("nan") for view in (first, second)]
    segments = (
        ClipSegment(0.0, MOVED_S, off[0], off[0], first, seen),
        ClipSegment(MOVED_S, END_S, off[1], off[1], second, seen),
    )
    check = ClipCheck(True, segments, ("The camera sways throughout.",))
    coach.window.page.checking._take((stored, check), stored, told=True)


def click(coach, names) -> None:
    for name in names:
        coach.click_film(*seen_at(*PLACES[name]), SHIFT)


def test_where_the_camera_was_moved_is_shown_also_without_lines(coach_at_mark):
    coach = coach_at_mark
    ask(coach, coach.workspace.view, None)
    assert "the lines do not fit" in coach.window.page.question.words.text()
    assert coach.window.page.question.show_it.isVisible()
    coach.key(Qt.Key.Key_J, CTRL)
    assert coach.workspace.now_s == pytest.approx(MOVED_S + 0.3, abs=0.1)


def test_landmarks_begun_before_the_camera_was_moved_outlast_a_yes_given_behind_it(coach_at_setup):
    coach, begun = coach_at_setup, list(PLACES)[:2]
    click(coach, begun)
    marks = coach.workspace.view_state.marks
    coach.step_to(60)
    coach.key(Qt.Key.Key_M, CTRL | SHIFT)
    click(coach, list(PLACES)[:6])
    view_id = coach.workspace.view_id
    assert view_id is not None
    ask(coach, None, coach.workspace.view)
    coach.key(Qt.Key.Key_Y, CTRL)
    assert coach.workspace.view_id == view_id
    for _ in range(2):
        coach.step_to(0)
        assert coach.workspace.view is None
        assert coach.workspace.view_state.marks == marks
        coach.step_to(60)
        assert coach.workspace.view_id == view_id
        coach.key(Qt.Key.Key_Z, CTRL)


def test_a_view_that_holds_no_longer_before_the_move_goes_and_comes_back(coach_at_mark):
    coach = coach_at_mark
    view_id = coach.workspace.view_id
    ask(coach, None, coach.workspace.view)
    coach.key(Qt.Key.Key_Y, CTRL)
    assert coach.workspace.view is None
    coach.step_to(70)
    assert coach.workspace.view_id == view_id
    coach.key(Qt.Key.Key_Z, CTRL)
    coach.step_to(0)
    assert coach.workspace.view_id == view_id


def test_the_way_to_another_stretch_takes_no_question_away(coach_at_mark):
    coach = coach_at_mark
    question, first_id = coach.window.page.question, coach.workspace.view_id
    view = coach.workspace.view
    coach.key(Qt.Key.Key_1, CTRL)
    coach.step_to(60)
    coach.key(Qt.Key.Key_M, CTRL | SHIFT)
    assert coach.workspace.view_id is None
    coach.step_to(10)
    ask(coach, view, replace(view, misfit_sd_px=1.0))
    coach.step_to(60)
    coach.step_to(10)
    assert coach.workspace.view_id == first_id
    assert question.isVisible()
    coach.click(question.yes)
    assert not question.isVisible()
    assert coach.workspace.view_id == first_id
    coach.step_to(60)
    assert coach.workspace.view_id is not None


def test_an_open_question_hides_no_landing_and_takes_no_later_change_back(coach_at_mark):
    coach = coach_at_mark
    page = coach.window.page
    ask(coach, coach.workspace.view, None)
    coach.step_to(10)
    coach.click_film(*seen_at(1.5, -6.0))
    assert any(isinstance(item, Spot) for item in page.picture._items)
    coach.key(Qt.Key.Key_1, CTRL)
    page.setup_pane.name.setFocus()
    page.setup_pane.name.selectAll()
    coach.type("Stand")
    assert not page.question.isVisible(), "the view it asked about is another one now"
    assert [view.name for view in coach.workspace.stored_views().values()] == ["Stand"]


def test_what_is_marked_by_hand_is_not_taken_away_where_no_view_holds(coach_at_mark):
    coach = coach_at_mark
    question, own_id = coach.window.page.question, coach.workspace.view_id
    ask(coach, None, None)
    assert question.words.text() == "The camera sways throughout."
    assert (question.yes.isVisible(), question.no.text()) == (False, "I see")
    coach.key(Qt.Key.Key_Y, CTRL)
    assert not question.isVisible()
    assert coach.workspace.view_id == own_id
