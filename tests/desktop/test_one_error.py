"""The error of a landing is one number: in the panel, beside the landing, in the list, and as the ring on the map."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from serve_marker.camera.view.view import longer_half_axis_m
from serve_marker.desktop.film.serve_table import KEYS

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, SHIFT = (coach_at_work[name] for name in ("seen_at", "SHIFT"))
BALL_AROUND_M = {36: (1.0, 6.07, 0.47), 37: (1.0, 6.53, 0.23), 39: (1.0, 7.3, 0.17), 40: (1.0, 7.6, 0.33)}
"""The ball's underside on frames around the landing: 14 m/s along and 7 down, then 9 along and 5 up."""

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    """A coach who marked a serve, with the ball around its landing, and another; the first is chosen."""
    coach_at_mark.step_to(38)
    coach_at_mark.click_film(*seen_at(1.0, 7.0))
    for frame, place_m in BALL_AROUND_M.items():
        coach_at_mark.step_to(frame)
        coach_at_mark.click_film(*seen_at(*place_m), SHIFT)
    coach_at_mark.step_to(60)
    coach_at_mark.click_film(*seen_at(-2.0, 8.0))
    chips = coach_at_mark.window.page.chips
    at = chips.chip_rect(coach_at_mark.workspace.serves[0].id).center().toPoint()
    coach_at_mark.click(chips.viewport(), at)
    return coach_at_mark


def errors(coach):
    """What panel, picture, list and ring say of the chosen serve's error."""
    page = coach.window.page
    half_court = page.mark_pane.half_court
    tag = next(item.text for item in coach.picture._items if item.role == "label" and "±" in item.text)
    cell = page.list.model().index(0, KEYS.index("error")).data()
    ring_m = float(longer_half_axis_m(half_court._live.cov_m2[None])[0])
    return half_court.words[2].partition(",")[0], "±" + tag.split("±")[1].partition(",")[0], cell, f"±{ring_m:.2f} m"


def test_panel_picture_list_and_ring_tell_one_error(coach):
    (said,) = set(errors(coach))
    assert said.startswith("±")
    at = coach.picture.film_to_widget(*seen_at(1.0, 7.0)).toPoint()
    QTest.mouseMove(coach.picture, coach.picture.rect().center())
    QTest.mouseMove(coach.picture, at)
    QApplication.processEvents()
    assert set(errors(coach)) == {said}, "the pointer on the landing is on that serve, not on a new one"
    coach.step_to(28)
    QTest.mouseMove(coach.picture, coach.picture.rect().center())
    QTest.mouseMove(coach.picture, at)
    QApplication.processEvents()
    assert errors(coach)[0] != said, "on another frame it is on a new one"


def test_the_list_names_the_place_of_an_out_ball_as_the_panel_does(coach):
    coach.step_to(90)
    coach.click_film(*seen_at(-3.0, 13.5))
    page = coach.window.page
    area = page.list.model().index(2, KEYS.index("area")).data()
    assert (area, page.list.model().index(2, KEYS.index("verdict")).data()) == ("long", "out")
    assert page.mark_pane.half_court.words[0] == area
