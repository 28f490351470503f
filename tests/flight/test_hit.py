"""What is expected of a hit before it is seen."""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.flight.hit import LAUNCH_SD_SHARE, LAUNCH_UP_SD_MPS, TOSS_SD_MPS, expected_hit, rough_launch_velocity


def test_a_launch_without_drag_comes_down_where_it_should():
    """By the schoolbook's parabola: 2.4 m up, 1.2 s later on the floor, 15 m on at 1.12 times the average pace."""
    x_mps, y_mps, up_mps = rough_launch_velocity(np.array([9.0, 12.0]), 1.2, 2.4)
    assert 2.4 + up_mps * 1.2 - 9.81 / 2 * 1.2**2 == pytest.approx(0.0, abs=1e-9)
    assert (x_mps, y_mps) == pytest.approx((1.12 * 7.5, 1.12 * 10.0))


def test_toss_and_launch_are_expected_along_the_serve():
    """A quarter turn of the serve turns all that is expected of it; the deviations are those stated, axis by axis."""
    ahead = expected_hit(np.zeros(2), np.array([0.0, -16.0, 3.0]))
    aside = expected_hit(np.zeros(2), np.array([16.0, 0.0, 3.0]))
    assert ahead.mean.tolist() == pytest.approx([0, 0, 0, -1.0, -1.2, 0, -16, 3])
    assert aside.mean.tolist() == pytest.approx([0, 0, 1.0, 0, -1.2, 16, 0, 3])
    sds = np.sqrt(np.diag(np.linalg.inv(aside.information[2:, 2:])))
    assert sds.tolist() == pytest.approx([*TOSS_SD_MPS, *(16 * share for share in LAUNCH_SD_SHARE), LAUNCH_UP_SD_MPS])
    assert not ahead.information[:2].any(), "of the place nothing is known"
