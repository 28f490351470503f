"""Ten points clicked twice through the window: every stored view counts with the hand that clicked them."""

from __future__ import annotations

import json
import runpy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog

from serve_marker.camera.fitting.repeatability import OWN_CLICK
from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.desktop.dialogs.capture_rate import CaptureRateDialog
from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")

APART_PX = (6.0, 0.0)
SD_PX = 6.0 / 2
"""Dahlberg's error of clicks 6 px apart in x and none in y: 6 / sqrt(2) in x, over both axes 6 / 2."""


def kept(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        return book.views(), book.serves(), book.clips(), book.get_setting(OWN_CLICK)


def own_clicks_px(coach):
    return [view_from_text(view.document).own_click_sd_px for view in kept(coach)[0]]


def errors_m(coach):
    return [serve.landing_point.error_m for serve in sorted(kept(coach)[1], key=lambda serve: serve.id)]


def do_exercise(coach):
    exercise = coach.window.page.exercise
    coach.key(Qt.Key.Key_1, CTRL)
    coach.key(Qt.Key.Key_I)
    for number in range(20):
        assert exercise.running
        _, pixel = exercise._now()
        coach.click_film(*np.add(pixel, APART_PX if number >= 10 else (0.0, 0.0)))
    assert not exercise.running


def other_clip(coach, filmed):
    """The same court in another file, so that the logbook takes it for another clip."""
    path = coach.folder / "thursday.mp4"
    path.write_bytes(filmed.read_bytes() + b"\0\0\0\x08free")
    coach.key(Qt.Key.Key_I, CTRL)
    coach.answer_file(path)
    coach.agree_to_practice()
    coach.wait(lambda: coach.workspace.clip is not None and coach.workspace.clip.path.name == "thursday.mp4")
    coach.wait(lambda: coach.window.page.shown_index is not None)
    return path


def test_a_view_shared_by_two_clips_and_another_one_count_with_the_own_click(coach_at_mark, filmed):
    coach = coach_at_mark
    coach.click_film(*seen_at(1.0, 4.0))
    other_clip(coach, filmed)
    coach.key(Qt.Key.Key_1, CTRL)
    coach.key(Qt.Key.Key_U, CTRL)
    coach.dialog(QDialog)
    coach.press("Yes, use it")
    coach.key(Qt.Key.Key_2, CTRL)
    coach.click_film(*seen_at(-2.0, 5.0))
    coach.key(Qt.Key.Key_1, CTRL)
    coach.step_to(20)
    coach.key(Qt.Key.Key_M, CTRL | SHIFT)
    coach.make_view(skipping=("attack-a/left",))
    coach.key(Qt.Key.Key_2, CTRL)
    coach.click_film(*seen_at(2.0, 7.0))
    views, _, clips, _ = before = kept(coach)
    assert (len(views), len({clip.view_id for clip in clips})) == (2, 1)
    usual_m = errors_m(coach)

    coach.step_to(0)
    do_exercise(coach)

    after = kept(coach)
    assert [clip.view_id for clip in after[2]] == [clip.view_id for clip in clips]
    assert [view.id for view in after[0]] == [view.id for view in views]
    assert own_clicks_px(coach) == pytest.approx([SD_PX, SD_PX], abs=0.3)
    assert (np.array(errors_m(coach)) > 1.2 * np.array(usual_m)).all()
    assert coach.said[-1].endswith("Every landing counts with that from now on, in all stored views.")

    coach.key(Qt.Key.Key_Z, CTRL)
    assert kept(coach) == before
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    assert kept(coach) == after


def test_a_view_that_cannot_be_read_stays_and_no_click_is_lost(coach_at_mark):
    coach = coach_at_mark
    coach.click_film(*seen_at(1.0, 4.0))
    (usual_m,), (own,) = errors_m(coach), kept(coach)[0]
    damaged = replace(own, id="damaged", name="Balcony", document='{"version": 99}')
    with Logbook.open(coach.folder / "team.logbook") as book:
        book.put(damaged)

    do_exercise(coach)

    views, serves, _, setting = kept(coach)
    assert setting
    assert coach.said[-1].endswith("Every landing counts with that from now on, in all stored views.")
    assert [view for view in views if view.id == "damaged"] == [damaged]
    (counted,) = (view for view in views if view.id == own.id)
    assert view_from_text(counted.document).own_click_sd_px == pytest.approx(SD_PX, abs=0.3)
    assert json.loads(counted.document)["reference"] == json.loads(own.document)["reference"]
    assert serves[0].landing_point.error_m > 1.2 * usual_m


def test_undo_gives_landings_of_slow_motion_back_exactly(coach, tmp_path):
    """Times in milliseconds: gaps of 33, 34 and 33; those around the landing are not the clip's usual ones."""
    film = tmp_path / "slow.mkv"
    coach_at_work["film_court"](film)
    coach.begin(film, coach.folder / "team.logbook")
    coach.make_view()
    coach.key(Qt.Key.Key_M, CTRL)
    coach.dialog(CaptureRateDialog)
    coach.type("120")
    coach.face_window()
    coach.key(Qt.Key.Key_2, CTRL)
    coach.step_to(1)
    coach.click_film(*seen_at(1.0, 4.0))
    before = kept(coach)
    landing = before[1][0].landing
    assert landing.gap_before_s != landing.gap_after_s

    do_exercise(coach)

    after = kept(coach)
    assert after[1] != before[1]
    for _ in range(2):
        coach.key(Qt.Key.Key_Z, CTRL)
        assert kept(coach) == before
        coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
        assert kept(coach) == after
