"""A coach marks landings by keys alone: arrows, the ball on the film, the landing before."""

from __future__ import annotations

import json
import runpy
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt

from serve_marker.camera.view.viewfile import read_marks

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, SHIFT = coach_at_work["CTRL"], coach_at_work["SHIFT"]
ALT = Qt.KeyboardModifier.AltModifier
SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips"
SHEET = read_marks(SAMPLES / "autumn-gallery.marks.json")
TRUTH = json.loads((SAMPLES / "autumn-gallery.truth.json").read_text(encoding="utf-8"))
FIRST = next(serve for serve in TRUTH["serves"] if serve["outcome"] == "floor")
STRIDES = ((60.0, CTRL | SHIFT), (10.0, ALT | SHIFT))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(qapp, tmp_path):
    made = coach_at_work["Coach"](tmp_path)
    made.begin(SAMPLES / "autumn-gallery.mp4", tmp_path / "team.logbook")
    made.wait(lambda: made.window.page._making.seen() is not None)
    made.window.page._making.move(SHEET.marks)
    made.key(Qt.Key.Key_2, CTRL)
    yield made
    made.leave()


def walk_to(coach, x_px, y_px):
    """Move the cross-hair by arrow keys to within half a stride of ten."""
    for stride, held in STRIDES:
        for axis, (back, on) in enumerate(
            ((Qt.Key.Key_Left, Qt.Key.Key_Right), (Qt.Key.Key_Up, Qt.Key.Key_Down)),
        ):
            film = coach.picture.film_size
            here = coach.picture.cursor_px or ((film[0] - 1) / 2, (film[1] - 1) / 2)
            away = ((x_px, y_px)[axis] - here[axis]) * coach.picture.scales()[axis]
            for _ in range(round(abs(away) / stride)):
                coach.key(on if away > 0 else back, held)


def off_m(serve) -> float:
    return float(np.hypot(*(np.array([serve.landing_point.x_m, serve.landing_point.y_m]) - FIRST["landing_xy_m"])))


def test_a_landing_is_marked_by_keys_alone(coach):
    coach.step_to(FIRST["landing_frame"])
    coach.key(Qt.Key.Key_Q)
    assert coach.said[-1] == "No landing is marked on this clip yet; arrows with Alt move the cross-hair."
    x_px, y_px = FIRST["landing_px"]
    walk_to(coach, x_px + 30.0, y_px - 25.0)
    before = coach.picture.cursor_px
    coach.key(Qt.Key.Key_Z)
    coach.wait(lambda: coach.picture.cursor_px != before)
    assert coach.picture.cursor_px == pytest.approx((x_px, y_px), abs=3.0)
    coach.key(Qt.Key.Key_Return)
    (serve,) = coach.stored_serves()
    assert off_m(serve) < 0.5

    coach.step_to(FIRST["landing_frame"] + 20)
    coach.key(Qt.Key.Key_Return)
    assert len(coach.stored_serves()) == 1, "the cross-hair was not moved on this frame"
    coach.key(Qt.Key.Key_Right, CTRL | SHIFT)
    coach.key(Qt.Key.Key_Q)
    assert coach.picture.cursor_px == serve.landing.pixel
    coach.key(Qt.Key.Key_Return)
    assert len(coach.stored_serves()) == 2


def test_where_no_ball_is_near_the_cross_hair_stays(coach):
    coach.key(Qt.Key.Key_Z)
    assert coach.said[-1].startswith("Move the cross-hair near the ball first")
    coach.key(Qt.Key.Key_Right, ALT)
    before = coach.picture.cursor_px
    coach.key(Qt.Key.Key_Z)
    coach.wait(lambda: coach.said[-1] == "No ball is seen near the cross-hair on this frame.")
    assert coach.picture.cursor_px == before


def test_a_ball_found_after_another_frame_is_shown_moves_nothing(coach):
    coach.step_to(FIRST["landing_frame"])
    x_px, y_px = FIRST["landing_px"]
    walk_to(coach, x_px + 30.0, y_px - 25.0)
    before = coach.picture.cursor_px
    ball = coach.window.page.ball
    coach.key(Qt.Key.Key_Z)
    coach.workspace.set_frame(coach.workspace.frame + 1)
    coach.wait(lambda: not ball._worker.busy)
    assert coach.picture.cursor_px == before
