"""The launch found again from where and when the ball came down."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from serve_marker.flight import launch_and_clearance
from serve_marker.flight.launch import solve_launch
from serve_marker.flight.trajectory import FLIGHT_STEPS, PER_METRE, advance, come_down, launched

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


@pytest.mark.parametrize("steps", [FLIGHT_STEPS, launch_and_clearance.FLIGHT_MOMENTS])
def test_the_whole_table_of_serves(steps):
    speed, angle, height, drag, lift, flight_s, distance_m = TABLE.T
    launch = solve_launch(distance_m, flight_s, height, drag, lift, 0.0, steps)

    assert launch.speed_mps == pytest.approx(speed, rel=1e-5)
    assert launch.angle_deg == pytest.approx(angle, abs=1e-4)


@pytest.mark.parametrize("seed", range(8))
def test_the_launch_of_a_flight_that_scipy_integrated(seed):
    """Any serve's landing, from the same equations written anew, leads back to its launch."""
    rng = np.random.default_rng(seed)
    speed, angle, height, drag, lift = rng.uniform((10, -5, 1.2, 0.05, -0.1), (30, 40, 3.4, 0.6, 0.25))

    def change(_, state):
        vx, vz = state[2:]
        pull = PER_METRE * np.hypot(vx, vz)
        return [vx, vz, pull * (lift * vz - drag * vx), -9.81 - pull * (drag * vz + lift * vx)]

    class Landed:
        terminal, direction = True, -1

        def __call__(self, _, state):
            return state[1] - 0.105

    start = [0, height, speed * np.cos(np.radians(angle)), speed * np.sin(np.radians(angle))]
    found = solve_ivp(change, (0, 30), start, "DOP853", events=Landed(), rtol=1e-11, atol=1e-11)
    launch = solve_launch(found.y_events[0][0][0], found.t_events[0][0], height, drag, lift)

    assert launch.speed_mps == pytest.approx(speed, rel=1e-5)
    assert launch.angle_deg == pytest.approx(angle, abs=1e-3)


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
