"""Places of a ball in the air at a known height, below and above the camera."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.elevated import locate_aloft
from serve_marker.camera.view.view import REST
from serve_marker.court.dimensions import court_named, landmarks

COURT = court_named("indoor")
SIZE = (1920, 1080)


def camera(height_m):
    """A level camera 6 m behind end a, focal length 1100 px: its view, and how it sees points (N, 3)."""

    def seen(points_m):
        points = np.asarray(points_m, dtype=float)
        depth = points[:, 1] + 15.0
        return np.column_stack([959.5 + 1100 * points[:, 0] / depth, 539.5 + 1100 * (height_m - points[:, 2]) / depth])

    places = landmarks(COURT)
    pixels = zip(places, seen(list(places.values())).tolist(), strict=True)
    marks = {name: (x, y) for name, (x, y) in pixels if 0 < x < SIZE[0] and 0 < y < SIZE[1]}
    return fit_view(marks, COURT, SIZE, 2.24).view, seen


@pytest.mark.parametrize(("camera_m", "ball_m"), [(4.0, 0.8), (4.0, 2.5), (1.6, 2.6)])
def test_a_ball_comes_back_from_its_pixel(camera_m, ball_m):
    """Pinhole by hand; below the camera to centimetres, above it within its own error."""
    view, seen = camera(camera_m)
    places = np.array([(-2.0, 6.0, ball_m), (3.0, -5.0, ball_m), (0.5, 9.3, ball_m)])
    found, cov = locate_aloft(view, seen(places), ball_m, 0.0)
    assert found == pytest.approx(places[:, :2], abs=0.2)
    assert (np.linalg.eigvalsh(cov) > 0).all()


def test_the_height_is_part_of_the_error():
    """Seen from 4 m, a ball believed 0.1 m too low at 2.0 m is put further off by its distance times 0.1 / 2."""
    view, seen = camera(4.0)
    sure = locate_aloft(view, seen([(0.0, 5.0, 2.0)]), 2.0, 0.0)[1][0]
    unsure = locate_aloft(view, seen([(0.0, 5.0, 2.0)]), 2.0, 0.1)[1][0]
    assert np.sqrt(unsure[1, 1] - sure[1, 1]) == pytest.approx(20.0 * 0.1 / 2, rel=0.03)


def test_a_ball_as_high_as_the_camera_cannot_be_placed():
    view, seen = camera(2.5)
    assert np.isnan(locate_aloft(view, seen([(0.0, 5.0, 2.45)]), 2.45, 0.1)[0]).all()


@pytest.mark.parametrize(
    ("camera_m", "too_far_m"),
    [(2.0, (0.305, 0.443, 0.609, 0.748)), (4.0, (0.148, 0.216, 0.297, 0.364))],
)
def test_the_ball_s_centre_taken_for_the_floor_is_seen_too_far(camera_m, too_far_m):
    """Similar triangles: D r / (H - r) at 5.5, 8, 11 and 13.5 m from the camera; cut at the radius nothing is left."""
    view, seen = camera(camera_m)
    away_m = np.array([5.5, 8.0, 11.0, 13.5])
    balls = np.column_stack([np.zeros(4), away_m - 15.0, np.full(4, 0.105)])
    on_floor, _ = view.locate(seen(balls))
    assert on_floor[:, 1] - balls[:, 1] == pytest.approx(too_far_m, abs=2e-3)
    found, _ = locate_aloft(view, seen(balls), 0.105, 0.0)
    assert found == pytest.approx(balls[:, :2], abs=2e-3)


@pytest.mark.parametrize("sd_m", [(0.1, 0.0, 0.0), (0.0, 0.2, 0.0), (0.0, 0.0, 0.15)])
def test_the_camera_s_place_is_part_of_the_error(sd_m):
    """Similar triangles: the ball is below F + (C - F) h / z for floor F, camera C at height z and ball height h.

    So its place moves by h / z with the camera's and by (F - C) h / z^2 with the camera's height.
    """
    view, seen = camera(4.0)
    ball_m = 2.5
    pixel = seen([(1.0, 5.0, ball_m)])
    rest_cov = np.zeros((REST, 9 + REST))
    rest_cov[4:, 13:] = np.diag(np.square(sd_m))
    sure = replace(view, homography_cov=np.zeros((9, 9)), rest_cov=np.zeros((REST, 9 + REST)))
    unsure = replace(sure, rest_cov=rest_cov)
    more_m2 = locate_aloft(unsure, pixel, ball_m, 0.0)[1][0] - locate_aloft(sure, pixel, ball_m, 0.0)[1][0]
    x_m, y_m, z_m = view.camera_position_m
    away_m = (view.locate(pixel)[0][0] - (x_m, y_m)) * ball_m / z_m**2
    by_place = np.column_stack([np.eye(2) * ball_m / z_m, away_m])
    assert more_m2 == pytest.approx(by_place @ np.diag(np.square(sd_m)) @ by_place.T, abs=1e-9)


def test_the_view_s_and_the_click_s_error_shrink_towards_the_camera():
    """Similar triangles: with the camera's place sure, the ball below F + (C - F) h / z strays by 1 - h / z of F's."""
    view, seen = camera(4.0)
    sure_place = replace(view, rest_cov=np.zeros((REST, 9 + REST)))
    pixel = seen([(1.0, 5.0, 1.5)])
    on_floor = sure_place.locate(pixel)[1][0]
    aloft = locate_aloft(sure_place, pixel, 1.5, 0.0)[1][0]
    assert aloft == pytest.approx((1 - 1.5 / view.camera_height_m) ** 2 * on_floor, rel=1e-6)


def test_the_error_of_a_ball_above_the_camera():
    """Pinhole by hand: d metres away and e above the camera, v = 1100 e / d, so a pixel is d^2 / (1100 e) along."""
    view, seen = camera(1.6)
    sure = replace(view, homography_cov=np.zeros((9, 9)), rest_cov=np.zeros((REST, 9 + REST)))
    cov_m2 = locate_aloft(sure, seen([(0.0, 5.0, 2.6)]), 2.6, 0.0)[1][0]
    expected_m = view.click_sd_px * np.array([20.0 / 1100, 20.0**2 / (1100 * 1.0)])
    assert np.sqrt(np.diag(cov_m2)) == pytest.approx(expected_m, rel=0.05)
