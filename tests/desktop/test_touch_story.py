"""A coach clicks a landing a frame early; the film puts it right, and she can have it her way again."""

from __future__ import annotations

import json
import runpy
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt

from serve_marker.camera.view.viewfile import read_marks
from serve_marker.court.dimensions import landmarks
from serve_marker.desktop.session.serve_editor import ServeEditor

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, SHIFT = coach_at_work["CTRL"], coach_at_work["SHIFT"]

pytestmark = [pytest.mark.qt_log_ignore("This plugin does not support"), pytest.mark.usefixtures("film_sharpens")]

SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips"
SHEET = read_marks(SAMPLES / "autumn-gallery.marks.json")
FIRST = next(
    serve
    for serve in json.loads((SAMPLES / "autumn-gallery.truth.json").read_text(encoding="utf-8"))["serves"]
    if serve["outcome"] == "floor"
)


@pytest.fixture
def coach(qapp, tmp_path):
    made = coach_at_work["Coach"](tmp_path)
    made.begin(SAMPLES / "autumn-gallery.mp4", tmp_path / "team.logbook")
    for name in landmarks(SHEET.court):
        if name in SHEET.marks:
            made.click_film(*SHEET.marks[name], SHIFT)
        else:
            made.key(Qt.Key.Key_K)
    made.key(Qt.Key.Key_2, CTRL)
    yield made
    made.leave()


def off_m(serve) -> float:
    return float(np.hypot(*(np.array([serve.landing_point.x_m, serve.landing_point.y_m]) - FIRST["landing_xy_m"])))


def test_a_landing_clicked_a_frame_early_is_put_right_by_the_film_and_the_click_can_stand_again(coach):
    early = FIRST["landing_frame"] - 1
    x_px, y_px = next((x, y) for frame, x, y in FIRST["ball_px"] if frame == early)
    coach.step_to(early)
    coach.click_film(x_px, y_px)
    touches = coach.window.page.touches
    coach.wait(lambda: not touches.busy)
    (sharp,) = coach.workspace.serves
    assert len(sharp.film_marks) >= 8
    assert any(item.role == "film" for item in coach.window.page.judgements.picture_items())

    assert coach.said[-1] == coach.window.page.judgements.words(sharp) != coach.said[-2]
    coach.key(Qt.Key.Key_Z, CTRL)
    (clicked,) = coach.workspace.serves
    assert (clicked.landing, clicked.film_marks) == (sharp.landing, ())
    assert off_m(sharp) < 0.1 < off_m(clicked)
    assert sharp.landing_point.error_m < clicked.landing_point.error_m
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    assert coach.workspace.serves == [sharp]
    coach.key(Qt.Key.Key_M, SHIFT)
    (refused,) = coach.workspace.serves
    assert (refused.film_marks, refused.landing_point) == ((), clicked.landing_point)
    coach.wait(lambda: not touches.busy)
    assert coach.workspace.serves == [refused]


def test_a_serve_the_film_did_not_sharpen_cannot_be_let_stand(coach):
    coach.step_to(5)
    coach.click_film(640.0, 500.0)
    coach.wait(lambda: not coach.window.page.touches.busy)
    coach.key(Qt.Key.Key_M, SHIFT)
    assert "sharpened from the film" in coach.said[-1]


def test_a_contact_clicked_a_frame_late_is_put_right_with_its_landing_in_one_step(coach):
    frame_s = 1 / 30
    coach.step_to(FIRST["contact_frame"] + 1)
    coach.click_film(*FIRST["contact_floor_px"], CTRL)
    coach.step_to(FIRST["landing_frame"])
    coach.click_film(*FIRST["landing_px"])
    touches = coach.window.page.touches
    coach.wait(lambda: not touches.busy)
    (sharp,) = coach.workspace.serves
    assert abs(sharp.contact.time_s - FIRST["contact_time_s"]) > 0.9 * frame_s
    assert abs(sharp.contact.time_s + sharp.hit_after_s - FIRST["contact_time_s"]) < 0.3 * frame_s
    assert len(sharp.film_marks) >= 8
    tracks = [item for item in coach.window.page.judgements.picture_items() if item.role == "film"]
    assert len(tracks) == 4

    coach.key(Qt.Key.Key_Z, CTRL)
    (clicked,) = coach.workspace.serves
    assert (clicked.contact_film_marks, clicked.film_marks, clicked.hit_after_s) == ((), (), None)
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    coach.key(Qt.Key.Key_M, SHIFT)
    (refused,) = coach.workspace.serves
    assert refused == clicked


def hit_and_landed(coach, wait_between):
    """The landing clicked first and then the contact, with or without waiting for the film in between."""
    touches = coach.window.page.touches
    coach.step_to(FIRST["landing_frame"])
    coach.click_film(*FIRST["landing_px"])
    if wait_between:
        coach.wait(lambda: not touches.busy)
    coach.step_to(FIRST["contact_frame"])
    coach.click_film(*FIRST["contact_floor_px"], CTRL)
    return touches


@pytest.mark.parametrize("wait_between", [True, False])
def test_in_whatever_order_the_ends_are_clicked_both_are_sharpened(coach, wait_between):
    touches = hit_and_landed(coach, wait_between)
    coach.wait(lambda: not touches.busy)
    (sharp,) = coach.workspace.serves
    assert (bool(sharp.film_marks), bool(sharp.contact_film_marks)) == (True, True)


def test_what_was_refused_while_the_film_was_searched_stays_refused_until_clicked_anew(coach):
    touches = hit_and_landed(coach, wait_between=True)
    touches.refuse()
    coach.wait(lambda: not touches.busy)
    (refused,) = coach.workspace.serves
    assert (refused.film_marks, refused.contact_film_marks) == ((), ())
    coach.click_film(*FIRST["contact_floor_px"], CTRL)
    coach.wait(lambda: not touches.busy)
    (again,) = coach.workspace.serves
    assert again.film_marks == ()


def test_a_landing_moved_takes_what_the_film_showed_of_both_ends_with_it(coach):
    touches = hit_and_landed(coach, wait_between=True)
    coach.wait(lambda: not touches.busy)
    coach.step_to(FIRST["landing_frame"] + 25)
    coach.workspace.select([coach.workspace.serves[0].id])
    ServeEditor(coach.workspace).move_landing((900.0, 520.0))
    (moved,) = coach.workspace.serves
    assert (moved.film_marks, moved.contact_film_marks, moved.hit_after_s) == ((), (), None)
    coach.wait(lambda: not touches.busy)
