"""Homographies and their covariance against worked examples, closed forms and OpenCV."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from serve_marker.camera.view.homography import (
    entry_jacobian,
    homography_covariance,
    map_points,
    point_jacobian,
    solve_homography,
    third_coordinate,
)

SQUARE = np.array([(0, 0), (1, 0), (0, 1), (1, 1)], dtype=float)
SEEN = np.array([(10, 10), (150, 40), (30, 130), (190, 210)], dtype=float)
COV = np.array([np.diag(pair) for pair in ((3, 5), (10, 25), (50, 1), (0.1, 0.1))])


def last_entry_one(H, cov):
    """Covariance of the first eight entries when the ninth is held at 1."""
    scaled = H / H[2, 2]
    change = (np.eye(9) - np.outer(scaled.ravel(), np.eye(9)[8])) / H[2, 2]
    return scaled, (change @ cov @ change.T)[:8, :8]


def floor_cov(H, cov, pixels, click_var):
    """Covariance of floor points by the formula of `View.locate`."""
    floor = map_points(np.linalg.inv(H), pixels)
    G, J = entry_jacobian(H, floor), np.linalg.inv(point_jacobian(H, floor))
    picture = click_var * np.eye(2) + G @ cov @ G.transpose(0, 2, 1)
    return J @ picture @ J.transpose(0, 2, 1)


def test_worked_example_of_four_points():
    """B. Vandeportaele's script on plane homographies (inputs); values computed from them, checked by Monte Carlo."""
    H = solve_homography(SQUARE, SEEN)
    scaled, cov = last_entry_one(H, homography_covariance(H, SQUARE, COV))
    np.testing.assert_allclose(
        scaled, [[100, 18.25, 10], [19.3333333, 112.4166667, 10], [-0.2666667, -0.0583333, 1]], atol=5e-7
    )
    np.testing.assert_allclose(
        np.diag(cov), [32.566780, 69.885840, 3, 30.597341, 48.982571, 5, 0.00144741, 0.00270099], rtol=5e-6
    )


@pytest.mark.parametrize(
    ("point", "pixel", "cov_px2"),
    [
        ((0.5, 0.5), (82.537313, 90.597015), [[5.258434, 4.156335], [4.156335, 5.882927]]),
        ((0.25, 0.75), (54.730679, 111.451991), [[17.353030, 4.993917], [4.993917, 2.406103]]),
    ],
)
def test_worked_example_carried_to_other_points(point, pixel, cov_px2):
    H = solve_homography(SQUARE, SEEN)
    G = entry_jacobian(H, np.array([point]))[0]
    np.testing.assert_allclose(map_points(H, np.array([point]))[0], pixel, atol=5e-7)
    np.testing.assert_allclose(G @ homography_covariance(H, SQUARE, COV) @ G.T, cov_px2, atol=5e-7)


CORNERS = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)], dtype=float)
GRID = np.array([(x, y) for x in (-1, 0, 1) for y in (-1, 0, 1)], dtype=float)


@given(st.floats(-4, 4), st.floats(-4, 4))
def test_closed_form_of_the_unit_square(x, y):
    """Closed form for four corners with unit noise in one picture, derived from J^-1 S J^-T."""
    H = solve_homography(CORNERS, CORNERS)
    G = entry_jacobian(H, np.array([(x, y)]))[0]
    cov = G @ homography_covariance(H, CORNERS, np.broadcast_to(np.eye(2), (4, 2, 2))) @ G.T
    common = 1 + x**2 + y**2 + x**2 * y**2
    across = -x * y * (2 - x**2 - y**2) / 4
    expected = [[(common + (1 - x**2) ** 2) / 4, across], [across, (common + (1 - y**2) ** 2) / 4]]
    np.testing.assert_allclose(cov, expected, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize(
    ("point", "var_x", "var_y", "cov_xy"),
    [
        ((0, 0), 0.185185, 0.185185, 0),
        ((1, 1), 0.629630, 0.629630, 0.111111),
        ((0.5, 0), 0.181713, 0.226852, 0),
        ((2, 0), 2.629630, 0.851852, 0),
    ],
)
def test_nine_points_with_unit_noise(point, var_x, var_y, cov_xy):
    """Values computed for a 3 x 3 grid, cross-checked by Monte Carlo."""
    H = solve_homography(GRID, GRID)
    G = entry_jacobian(H, np.array([point], dtype=float))[0]
    cov = G @ homography_covariance(H, GRID, np.broadcast_to(np.eye(2), (9, 2, 2))) @ G.T
    np.testing.assert_allclose(cov, [[var_x, cov_xy], [cov_xy, var_y]], atol=5e-7)


COURT_H = np.array(
    [[-106.10325111, -66.94560670, 1437.46463001], [0, -19.87447699, 500.25104603], [0, -0.06973500697, 1]]
)
COURT_CORNERS = np.array([(0, 0), (9, 0), (9, 9), (0, 9)], dtype=float)
ATTACK_ENDS = np.array([(0, 3), (9, 3)], dtype=float)


@pytest.mark.parametrize(
    ("point", "sd_corners", "sd_with_attack_line"),
    [
        ((4.5, 8.5), (0.0247, 0.0130), (0.0178, 0.0129)),
        ((4.5, 6.0), (0.0208, 0.0254), (0.0150, 0.0244)),
        ((4.5, 3.0), (0.0170, 0.0488), (0.0126, 0.0459)),
        ((1.0, 1.0), (0.0220, 0.0769), (0.0203, 0.0684)),
    ],
)
def test_half_court_from_two_metres(point, sd_corners, sd_with_attack_line):
    """Standard deviations [m] computed for a camera 2 m high, 5 m behind the end line, with 1 px clicks."""
    for floor, expected in (
        (COURT_CORNERS, sd_corners),
        (np.vstack([COURT_CORNERS, ATTACK_ENDS]), sd_with_attack_line),
    ):
        H = solve_homography(floor, map_points(COURT_H, floor))
        H_cov = homography_covariance(H, floor, np.broadcast_to(np.eye(2), (len(floor), 2, 2)))
        cov = floor_cov(H, H_cov, map_points(H, np.array([point])), 1.0)[0]
        np.testing.assert_allclose(np.sqrt(np.diag(cov)), expected, atol=6e-5)


@pytest.mark.parametrize("count", [4, 5, 12])
def test_covariance_is_that_of_scipys_curve_fit(count):
    """The same pixels, each with its own deviation, fitted by scipy with the ninth entry held at 1."""
    rng = np.random.default_rng(count)
    floor = COURT_CORNERS + 0.0 if count == 4 else rng.uniform(0, 9, (count, 2))
    sd_px = rng.uniform(0.3, 2.0, (count, 2))
    pixels = map_points(COURT_H, floor)

    def seen(_, *entries):
        return map_points(np.append(entries, 1.0).reshape(3, 3), floor).ravel()

    _, theirs = curve_fit(seen, None, pixels.ravel(), COURT_H.ravel()[:8], sd_px.ravel(), absolute_sigma=True)
    _, ours = last_entry_one(COURT_H, homography_covariance(COURT_H, floor, sd_px[:, :, None] ** 2 * np.eye(2)))
    scale = np.sqrt(np.diag(ours))
    np.testing.assert_allclose(ours / np.outer(scale, scale), theirs / np.outer(scale, scale), atol=1e-3)


def test_more_points_match_opencv():
    """OpenCV's findHomography minimises the same distances."""
    rng = np.random.default_rng(5)
    floor = rng.uniform(-9, 9, (12, 2))
    pixels = map_points(COURT_H, floor * (0.3, 0.3)) + rng.normal(0, 1.5, (12, 2))
    ours = solve_homography(floor, pixels)
    theirs = cv2.findHomography(floor, pixels, 0)[0].astype(np.float64)
    np.testing.assert_allclose(map_points(ours, floor), map_points(theirs, floor), atol=0.02)
    assert ((pixels - map_points(ours, floor)) ** 2).sum() <= ((pixels - map_points(theirs, floor)) ** 2).sum() + 1e-9


def test_noise_left_in_residuals_and_estimate():
    """Hartley & Zisserman chapter 5: rms estimate error sigma sqrt(4 / n), here n = 9."""
    rng = np.random.default_rng(7)
    errors = [
        map_points(solve_homography(GRID, GRID + rng.normal(0, 1e-3, GRID.shape)), GRID) - GRID for _ in range(1000)
    ]
    assert np.sqrt(np.mean(np.square(errors))) / 1e-3 == pytest.approx(0.6667, abs=0.02)


def test_exact_for_four_and_positive_in_front():
    H = solve_homography(COURT_CORNERS, map_points(COURT_H, COURT_CORNERS))
    np.testing.assert_allclose(H / H[2, 2], COURT_H, rtol=1e-6, atol=1e-8)
    assert (third_coordinate(H, COURT_CORNERS) > 0).all()


def test_jacobians_match_differences():
    point, step = np.array([(2.0, 5.0)]), 1e-6
    by_point = [
        (map_points(COURT_H, point + d) - map_points(COURT_H, point - d))[0] / (2 * step) for d in step * np.eye(2)
    ]
    np.testing.assert_allclose(point_jacobian(COURT_H, point)[0], np.transpose(by_point), rtol=1e-6)
    by_entry = []
    for k in range(9):
        d = step * np.eye(9)[k].reshape(3, 3)
        by_entry.append((map_points(COURT_H + d, point) - map_points(COURT_H - d, point))[0] / (2 * step))
    np.testing.assert_allclose(entry_jacobian(COURT_H, point)[0], np.transpose(by_entry), rtol=1e-5, atol=1e-6)


def test_shapes_are_named():
    with pytest.raises(ValueError, match=r"\(3, 2\)"):
        solve_homography(SQUARE[:3], SEEN[:3])
    with pytest.raises(ValueError, match=r"\(4, 2, 2\)"):
        homography_covariance(COURT_H, SQUARE, np.eye(2))
