"""The touch between frames: exact flights come back, few marks leave a wide error."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from serve_marker.flight.bounce import expected_bounce
from serve_marker.flight.shutter import Arrival
from serve_marker.flight.touch import MOMENTS, touch_point

# A camera at (0, -14, 2), level, looking along +y, f 1000 px: u = 1000 x / (y + 14), v = 1000 (2 - z) / (y + 14).
PROJECTION = np.array([(1000.0, 0, 0, 0), (0, 0, -1000.0, 2000.0), (0, 1.0, 0, 14.0)])
TOUCH_M = np.array([1.0, -5.0])
VELOCITY = np.array([-1.0, -13.0, -7.5])
ARRIVAL = Arrival(np.array([(0.0, -12.0, -7.0)]), np.array([(3.0, 2.0, 1.5)]))
GAP_S = 1 / 30


def ball(since_s):
    level, up = (VELOCITY[:2], VELOCITY[2]) if since_s <= 0 else (0.7 * VELOCITY[:2], -0.7 * VELOCITY[2])
    x, y = TOUCH_M + level * since_s
    q = PROJECTION @ (x, y, up * since_s - 4.905 * since_s**2, 1.0)
    return q[:2] / q[2]


def found(late_s, frames):
    times_s = np.array([k * GAP_S for k in frames])
    pixels = np.array([ball(time + late_s) for time in times_s])
    window_s = (-GAP_S / 2, GAP_S / 2)
    return touch_point(
        times_s, pixels, np.ones(len(frames)), PROJECTION, window_s, expected_bounce(TOUCH_M + 0.3, ARRIVAL)
    )


@pytest.mark.parametrize("late_s", [-0.015, -0.004, 0.006, 0.014])
def test_exact_marks_lead_to_the_touch(late_s):
    touch = found(late_s, (-2, -1, 0, 1, 2))
    np.testing.assert_allclose(touch.point_m, TOUCH_M, atol=0.03)
    assert touch.misfit < 1


def test_more_marks_leave_a_smaller_error():
    errors = [np.trace(found(0.01, frames).cov_m2) for frames in ((0,), (0, 1), (-1, 0, 1), (-2, -1, 0, 1, 2))]
    assert sorted(errors, reverse=True) == errors


def test_marks_that_no_flight_explains_fit_badly():
    pixels = np.array([(0.0, 0.0), (900.0, 900.0), (10.0, 500.0)])
    times_s = np.array([-GAP_S, 0, GAP_S])
    touch = touch_point(
        times_s, pixels, np.ones(3), PROJECTION, (-GAP_S / 2, GAP_S / 2), expected_bounce(TOUCH_M, ARRIVAL)
    )
    assert touch is None or touch.misfit > 100


# Seen from far above: u = 100 x + 20 z, v = 100 y + 40 z, the same at every distance.
FAR = np.array([(100.0, 0, 20.0, 500.0), (0, 100.0, 40.0, 700.0), (0, 0, 0, 1.0)])


def by_conditional_normals(times_s, pixels, sd_px, moments_s):
    """Mean and covariance of the touch where marks are linear in it: the textbook's Gaussian, moment by moment.

    Each moment's weight is the density of the marks, by scipy. Beforehand: the place anywhere (100 m), the arrival
    with deviations 2, 3 and 1.5 m/s across, along and up, the rebound 0.7 of it with 2, 3 and 1.3 m/s.
    """
    bounce = np.diag([0.7, 0.7, -0.7])
    arrival_mps, arrival_cov, stray_cov = np.array([0, -12.0, -7.0]), np.diag([4.0, 9.0, 2.25]), np.diag([4, 9, 1.69])
    mean = np.array([*TOUCH_M, *arrival_mps, *bounce @ arrival_mps])
    cov = np.zeros((8, 8))
    cov[:2, :2] = 100.0**2 * np.eye(2)
    cov[2:5, 2:5], cov[2:5, 5:] = arrival_cov, arrival_cov @ bounce.T
    cov[5:, 2:5], cov[5:, 5:] = bounce @ arrival_cov, bounce @ arrival_cov @ bounce.T + stray_cov
    logs, means, covs = [], [], []
    for moment_s in moments_s:
        rows, fixed = [], []
        for since_s in times_s - moment_s:
            place = np.zeros((3, 8))
            place[:2, :2] = np.eye(2)
            place[:, 5:] += since_s * np.eye(3) * (since_s > 0)
            place[:, 2:5] += since_s * np.eye(3) * (since_s <= 0)
            rows.append(FAR[:2, :3] @ place)
            fixed.append(FAR[:2, :3] @ (0, 0, -9.81 / 2 * since_s**2) + FAR[:2, 3])
        shown, off = np.vstack(rows), pixels.ravel() - np.concatenate(fixed)
        expected = shown @ cov @ shown.T + sd_px**2 * np.eye(len(off))
        gain = cov @ shown.T @ np.linalg.inv(expected)
        logs.append(multivariate_normal(shown @ mean, expected).logpdf(off))
        means.append((mean + gain @ (off - shown @ mean))[:2])
        covs.append((cov - gain @ shown @ cov)[:2, :2])
    weight = np.exp(np.array(logs) - max(logs))
    weight /= weight.sum()
    middle = weight @ np.array(means)
    apart = np.array(means) - middle
    return middle, np.einsum("g,gij->ij", weight, np.array(covs) + apart[:, :, None] * apart[:, None, :])


@pytest.mark.parametrize("frames", [(0, 1), (-1, 0), (-1, 0, 1)])
def test_each_moment_weighs_what_the_marks_give_it(frames):
    times_s = np.array(frames) * GAP_S
    pixels = np.array([(600.0, 205.0 - 30 * k) for k in frames])
    moments_s = ((np.arange(MOMENTS) + 0.5) / MOMENTS - 0.5) * GAP_S
    expected_m, expected_cov_m2 = by_conditional_normals(times_s, pixels, 4.0, moments_s)
    sds_px = np.full(len(frames), 4.0)
    touch = touch_point(times_s, pixels, sds_px, FAR, (-GAP_S / 2, GAP_S / 2), expected_bounce(TOUCH_M, ARRIVAL))
    np.testing.assert_allclose(touch.point_m, expected_m, atol=2e-4)
    np.testing.assert_allclose(touch.cov_m2, expected_cov_m2, rtol=0.005, atol=2e-5)
