"""The touch between frames: exact flights come back, few marks leave a wide error."""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.flight.bounce import touch_point
from serve_marker.flight.shutter import Arrival

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
    return touch_point(times_s, pixels, np.ones(len(frames)), PROJECTION, window_s, TOUCH_M + 0.3, ARRIVAL)


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
    touch = touch_point(times_s, pixels, np.ones(3), PROJECTION, (-GAP_S / 2, GAP_S / 2), TOUCH_M, ARRIVAL)
    assert touch is None or touch.misfit > 100
