"""What a landing that is moved, dragged or asked about leaves as it was."""

from __future__ import annotations

import runpy
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from serve_marker.desktop.session.edits import ChangeCaptureRate

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
LEFT = Qt.MouseButton.LeftButton

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    coach_at_mark.click(coach_at_mark.turn.order)
    coach_at_mark.type("7 4")
    return coach_at_mark


def mark_landing(coach, frame, *place_m):
    coach.step_to(frame)
    coach.click_film(*seen_at(*place_m))


def on_screen(coach, *place_m):
    return coach.picture.film_to_widget(*seen_at(*place_m)).toPoint()


def hold_and_move(coach, start, by):
    QTest.mousePress(coach.picture, LEFT, pos=start)
    for share in (0.5, 1.0):
        QTest.mouseMove(coach.picture, (QPointF(start) + QPointF(*by) * share).toPoint())
        QApplication.processEvents()
    return (QPointF(start) + QPointF(*by)).toPoint()


def let_go(coach, at):
    QTest.mouseRelease(coach.picture, LEFT, pos=at)
    QApplication.processEvents()


def test_a_ball_on_the_servers_own_half_stays_out_when_it_is_dragged_or_clicked_again(coach):
    """Hit behind end a, it came down on half a: served to b whatever half it lies on."""
    coach.step_to(5)
    coach.click_film(*seen_at(2.0, -8.9), CTRL)
    mark_landing(coach, 40, 1.0, -3.0)
    (first,) = coach.stored_serves()
    assert first.served_to == "b"
    coach.app.processEvents()
    start = on_screen(coach, 1.0, -3.0)
    let_go(coach, hold_and_move(coach, start, (24, 0)))
    mark_landing(coach, 41, 1.2, -3.1)
    (moved,) = coach.stored_serves()
    assert moved.served_to == "b"
    assert moved.landing_point != first.landing_point


def test_a_second_serve_leaves_the_first_what_was_said_of_it_since(coach):
    mark_landing(coach, 20, 1.0, 7.0)
    before = coach.stored_serves()[0]
    mark_landing(coach, 23, 1.0, 6.0)
    page = coach.window.page
    page.list.edited.emit(before.id, "note", "bad toss")
    page.list.edited.emit(before.id, "server", "12")
    coach.face_window()
    coach.picture.setFocus()
    coach.key(Qt.Key.Key_U)
    first, second = coach.stored_serves()
    assert (first.id, first.note, first.landing) == (before.id, "bad toss", before.landing)
    assert coach.workspace.players[first.player_id].number == 12
    assert second.landing.time_s > first.landing.time_s


def test_a_click_on_the_frame_after_keeps_the_marks_of_the_ball(coach):
    mark_landing(coach, 20, 1.0, 7.0)
    for frame, y_m in ((19, 6.6), (22, 7.3)):
        coach.step_to(frame)
        coach.click_film(*seen_at(1.0, y_m), SHIFT)
    mark_landing(coach, 21, 1.0, 7.1)
    (moved,) = coach.stored_serves()
    clip = coach.workspace.clip
    assert [clip.frame_at(mark.time_s) for mark in moved.ball_marks] == [19, 22]
    assert clip.frame_at(moved.landing.time_s) == 21
    assert "U makes it a second serve" in coach.said[-1]


def test_a_question_goes_with_what_it_was_about(coach):
    coach.step_to(20)
    coach.click_film(*seen_at(0.0, 33.0))
    assert coach.window.page.question.isVisible()
    coach.key(Qt.Key.Key_N)
    assert [serve.outcome for serve in coach.stored_serves()] == ["net"]
    coach.key(Qt.Key.Key_Y, CTRL)
    assert [serve.outcome for serve in coach.stored_serves()] == ["net"]


def test_a_drag_goes_on_when_the_marks_are_shown_anew_and_ends_with_its_serve(coach):
    mark_landing(coach, 20, 1.0, 7.0)
    before = coach.stored_serves()[0].landing.pixel
    at = hold_and_move(coach, on_screen(coach, 1.0, 7.0), (30, 0))
    coach.window.page.refresh_items()
    (ring_px,) = coach.picture.marks.values()
    assert coach.picture.film_to_widget(*ring_px).toPoint() == at
    let_go(coach, at)
    assert coach.stored_serves()[0].landing.pixel[0] > before[0] + 5
    at = hold_and_move(coach, at, (-30, 0))
    coach.key(Qt.Key.Key_Z, CTRL)
    coach.key(Qt.Key.Key_Z, CTRL)
    undone = coach.said[-1]
    let_go(coach, at)
    assert coach.stored_serves() == []
    assert coach.said[-1] == undone


def test_in_slow_motion_a_ball_bounces_for_more_frames(coach):
    """Filmed at 240 and shown at 30 frames a second: 12 frames of film are 0.05 s."""
    clip, entry = coach.workspace.clip, coach.workspace.clip_entry
    coach.workspace.do(ChangeCaptureRate("Slow", entry, replace(entry, filmed_at_fps=240.0), clip.time_scale))
    mark_landing(coach, 20, 1.0, 7.0)
    mark_landing(coach, 32, 1.0, 6.5)
    assert len(coach.stored_serves()) == 1
