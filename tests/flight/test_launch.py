"""The launch found again from where and when the ball came down."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from serve_marker.flight.drag import PER_METRE, advance, come_down, launched
from serve_marker.flight.launch import solve_launch

# v, angle, h, Cd, CL, T, R: computed with DOP853, rtol 1e-12 (see test_drag.py); floor at 0.
TABLE = np.array(
    [
        (20, 5, 2.6, 0.15, 0, 0.943167, 16.987388),
        (20, 5, 2.6, 0.45, 0, 0.967288, 14.713142),
        (15, 12, 2.4, 0.30, 0, 1.095458, 13.626107),
        (28, -2, 3.3, 0.15, 0, 0.760457, 19.001782),
        (24, 2, 3.0, 0.20, 0.15, 0.700091, 14.760147),
        (12, 25, 2.2, 0.45, 0, 1.337795, 11.664472),
    ]
)


def test_the_whole_table_of_serves():
    speed, angle, height, drag, lift, flight_s, distance_m = TABLE.T
    launch = solve_launch(distance_m, flight_s, height, drag, lift, 0.0)

    assert launch.speed_mps == pytest.approx(speed, rel=1e-5)
    assert launch.angle_deg == pytest.approx(angle, abs=1e-4)


def test_ten_thousand_serves_at_once():
    rng = np.random.default_rng(5)
    speed, angle, height = rng.uniform((8, -6, 1.0), (32, 60, 3.6), (10_000, 3)).T
    drag, lift = rng.uniform((0.1, -0.1), (0.6, 0.25), (10_000, 2)).T
    flight_s, landing = come_down(launched(speed, angle, height), drag * PER_METRE, lift * PER_METRE, 0.105)
    launch = solve_launch(landing.along_m, flight_s, height, drag, lift)

    assert np.abs(launch.speed_mps / speed - 1).max() < 1e-5
    assert np.abs(launch.angle_deg - angle).max() < 1e-4


@given(st.floats(8, 20), st.floats(0.6, 1.6), st.floats(0.5, 3.5), st.floats(0.0, 0.6), st.floats(0.105, 1.2))
def test_the_launch_found_flies_where_it_should(distance_m, flight_s, height, drag, landing_height):
    launch = solve_launch(distance_m, flight_s, height, drag, 0.1, landing_height)
    end = advance(launch, flight_s, drag * PER_METRE, 0.1 * PER_METRE, steps=200)

    assert (float(end.along_m), float(end.height_m)) == pytest.approx((distance_m, landing_height), abs=1e-3)


@pytest.mark.parametrize(
    ("distance_m", "flight_s", "height"),
    [(16, 0.0, 2.5), (16, -1.0, 2.5), (0.0, 1.0, 2.5), (16, np.nan, 2.5), (np.nan, 1, 2.5), (16, 1, np.nan)],
)
def test_no_launch_for_what_cannot_be(distance_m, flight_s, height):
    launch = solve_launch(distance_m, flight_s, height, 0.3)

    assert np.isnan(launch.speed_mps)
    assert np.isnan(launch.angle_deg)


def test_a_flight_in_slow_motion_or_far_too_fast_has_no_launch():
    assert np.isnan(solve_launch([16, 16, 16], [0.1, 30.0, 0.2], 2.5, 0.3).speed_mps).all()


def test_one_impossible_serve_does_not_harm_the_others():
    launch = solve_launch([16.0, 16.0, 16.0], [1.1, 0.0, 1.1], 2.5, [0.3, 0.3, 0.3])

    assert np.isnan(launch.speed_mps[1])
    assert launch.speed_mps[0] == launch.speed_mps[2] == solve_launch([16.0], [1.1], 2.5, 0.3).speed_mps[0]
