"""What each mark adds to a floor point and to its error, by hand, through a camera whose marks are exact."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest
from scipy.stats import chi2

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.viewfile import view_from_text, view_to_text
from serve_marker.court.dimensions import court_named, landmarks
from serve_marker.flight.shutter import Arrival, shutter_displacement
from serve_marker.logbook.records import Mark, Serve
from serve_marker.marking.landing import place, received_at

COURT = court_named("indoor")
SIZE = (1920, 1080)
CAMERA_M = np.array([1.0, -15.0, 3.0])
"""3 m up, six metres behind the near end line, level: x to the right, z down, y ahead."""
TURN = np.array([(1.0, 0, 0), (0, 0, -1.0), (0, 1.0, 0)])
MATRIX = np.array([(1200.0, 0, 959.5), (0, 1200.0, 339.5), (0, 0, 1.0)])
NO_GAPS = (1e-9, 1e-9)


def seen(*points_m):
    pixels, _ = cv2.projectPoints(np.array(points_m), cv2.Rodrigues(TURN)[0], -TURN @ CAMERA_M, MATRIX, np.zeros(4))
    return [tuple(pixel) for pixel in pixels.reshape(-1, 2).tolist()]


@pytest.fixture(scope="module")
def view():
    shown = dict(zip(landmarks(COURT), seen(*landmarks(COURT).values()), strict=True))
    inside = {name: (x, y) for name, (x, y) in shown.items() if 0 < x < SIZE[0] - 1 and 0 < y < SIZE[1] - 1}
    return fit_view(inside, COURT, SIZE, 2.24).view


def serve(landing, contact=None, **more):
    return Serve(id="s", clip_id="c", served_to="a", landing=landing, contact=contact, **more)


def at(point):
    return np.array([point.x_m, point.y_m])


def cov_of(point):
    return np.array([(point.cov_xx_m2, point.cov_xy_m2), (point.cov_xy_m2, point.cov_yy_m2)])


def test_the_floor_under_a_ball_at_the_hit_is_judged_by_eye(view):
    """To 0.1 m across and 0.3 m along the court beside the click's error; the hit runs on as well, here not at all."""
    (pixel,) = seen((0.5, 9.5, 0.0))
    found = place(serve(None, Mark(1.0, pixel, *NO_GAPS)), view).contact_point
    _, (clicked_m2,) = view.locate([pixel])
    assert cov_of(found) - clicked_m2 == pytest.approx(np.diag([0.1**2, 0.3**2]), rel=1e-6, abs=1e-9)


def test_a_ball_clicked_at_its_centre_touches_the_floor_below_it(view):
    """Its radius is 0.105 m (rule 3.1: 65 to 67 cm around); taken for a floor point it would lie 0.3 m too far."""
    (pixel,) = seen((1.0, -6.0, 0.66 / (2 * np.pi)))
    landing = place(serve(Mark(1.0, pixel, *NO_GAPS, on_ball=True)), view).landing_point
    assert at(landing) == pytest.approx([1.0, -6.0], abs=0.02)


@pytest.mark.parametrize("gaps_s", [(1 / 120, math.nan), (math.nan, 1 / 120)])
def test_a_gap_that_is_not_known_is_as_long_as_the_other(view, gaps_s):
    (pixel,) = seen((1.0, -6.0, 0.0))
    told, both = (place(serve(Mark(1.0, pixel, *gaps)), view).landing_point for gaps in (gaps_s, (1 / 120, 1 / 120)))
    assert told == both


def test_a_ball_comes_down_as_its_own_flight_says(view):
    """Level: its way over 1.2 s, known to 15 % along and 6 % sideways. Down: 2.4 m / 1.2 s + 9.81 / 2 x 1.2 s, to 1."""
    hit, landed = seen((0.0, 9.5, 0.0), (1.0, -6.0, 0.0))
    gaps_s = (1 / 30, 1 / 30)
    placed = place(serve(Mark(5.0, landed, *gaps_s), Mark(3.8, hit, *gaps_s)), view)
    xy_m, clicked_m2 = view.locate([landed])
    level_mps = (xy_m[0] - at(placed.contact_point)) / 1.2
    down_mps = 2.4 / 1.2 + 9.81 / 2 * 1.2
    sds_mps = [0.15 * np.hypot(*level_mps), 0.06 * np.hypot(*level_mps), 1.0]
    arrival = Arrival(np.array([[*level_mps, -down_mps]]), np.array([sds_mps]))
    hidden_m, hidden_m2 = shutter_displacement(
        xy_m, view.camera_position_m, arrival, np.array([gaps_s]), view.click_frames_off
    )
    assert at(placed.landing_point) == pytest.approx((xy_m - hidden_m)[0], rel=1e-6)
    assert cov_of(placed.landing_point) == pytest.approx((clicked_m2 + hidden_m2)[0], rel=1e-6)


@pytest.mark.parametrize("since_s", [-1 / 30, -0.4 / 30, 0.4 / 30, 1 / 30])
def test_a_single_click_up_to_a_frame_beside_the_touch_lies_within_its_error(view, since_s):
    """By the schoolbook: the ball comes at (0, -13, -7.5) m/s and keeps 0.7 of it; its underside is clicked as seen."""
    kept = 1.0 if since_s < 0 else 0.7
    height_m = kept * 7.5 * abs(since_s) - 9.81 / 2 * since_s**2
    (pixel,) = seen((1.0, -6.0 - kept * 13.0 * since_s, height_m))
    found = place(serve(Mark(1.0, pixel, 1 / 30, 1 / 30)), view).landing_point
    off_m = at(found) - (1.0, -6.0)
    assert off_m @ np.linalg.solve(cov_of(found), off_m) < chi2.ppf(0.95, 2)


def test_a_received_ball_is_off_by_its_height_along_its_line_of_sight(view):
    """A metre higher, the ball seen at (1, -6, 0.8) is nearer to the camera by 1 / (3 - 0.8) of its distance."""
    hit, received = seen((0.0, 9.5, 0.0), (1.0, -6.0, 0.8))
    ((cut_m,), _, (by_height,)) = received_at(view, np.array([received]), np.array([0.8]))
    assert cut_m == pytest.approx((1.0, -6.0), abs=0.1)  # the camera's height is told to 1 %
    assert by_height == pytest.approx((CAMERA_M[:2] - (1.0, -6.0)) / 2.2, rel=0.05)
    contact, landing = Mark(3.9, hit, *NO_GAPS), Mark(5.0, received, *NO_GAPS, on_ball=True)
    placed = place(serve(landing, contact, outcome="received", landing_height_m=0.8), view).landing_point
    way_m = at(placed) - cut_m
    assert np.hypot(*way_m) > 0.3
    along = way_m / np.hypot(*way_m)
    assert np.sqrt(along @ cov_of(placed) @ along) > 0.2 * abs(along @ by_height)


def test_a_view_of_a_coach_who_is_never_a_frame_off_allows_none(view):
    """Evenly spread over half a gap each way instead of one and a half: a third, but for the view's error."""
    (pixel,) = seen((1.0, -6.0, 0.0))
    exact = view_from_text(view_to_text(replace(view, click_frames_off=0)))
    clicked = serve(Mark(1.0, pixel, 1 / 30, 1 / 30))
    narrow, wide = (cov_of(place(clicked, by).landing_point)[1, 1] ** 0.5 for by in (exact, view))
    assert view.click_frames_off == 1
    assert 1 / 4 < narrow / wide < 1 / 2
