"""Flights against closed forms, a table computed beforehand and an independent integrator."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from serve_marker.flight import launch_and_clearance
from serve_marker.flight.forces import GRAVITY_MPS2
from serve_marker.flight.trajectory import (
    BALL_RADIUS_M,
    FLIGHT_STEPS,
    PER_METRE,
    Motion,
    advance,
    air_free_flight,
    before_the_end,
    come_down,
    fall,
    launched,
    level_flight,
    rise,
    stages,
    track,
)

# Computed with scipy's DOP853, rtol 1e-12; rows 1, 3, 5 agree with a Runge-Kutta of dt 1e-5 written by other hands.
# v, angle, h, Cd, CL, T, R, landing speed, landing angle, height at 9 m, pace over launch speed
SERVES = np.array(
    [
        (20, 5, 2.6, 0.15, 0, 0.943167, 16.987388, 17.722945, -23.168, 2.313072, 0.901),
        (20, 5, 2.6, 0.45, 0, 0.967288, 14.713142, 13.425749, -28.837, 2.140156, 0.761),
        (15, 12, 2.4, 0.30, 0, 1.095458, 13.626107, 12.636799, -33.387, 2.178898, 0.829),
        (28, -2, 3.3, 0.15, 0, 0.760457, 19.001782, 23.582460, -18.507, 2.441053, 0.892),
        (24, 2, 3.0, 0.20, 0.15, 0.700091, 14.760147, 20.283177, -25.664, 2.078609, 0.878),
        (12, 25, 2.2, 0.45, 0, 1.337795, 11.664472, 10.155318, -46.735, 2.169305, 0.727),
    ]
)
SPEED, ANGLE, HEIGHT, DRAG, LIFT = SERVES[:, 0], SERVES[:, 1], SERVES[:, 2], *(SERVES[:, 3:5].T * PER_METRE)
DIGITS = 5e-7

serves = st.tuples(st.floats(5, 35), st.floats(-8, 60), st.floats(0.5, 3.6), st.floats(0.05, 0.6), st.floats(-0.2, 0.3))


def by_scipy(speed, angle, height, drag, lift, ground):
    """The same equations written anew and integrated by scipy: time, distance and height at the highest point."""

    def change(_, state):
        vx, vz = state[2:]
        s = np.hypot(vx, vz)
        return [vx, vz, s * (lift * vz - drag * vx), -9.81 - s * (drag * vz + lift * vx)]

    class Landed:
        terminal, direction = True, -1

        def __call__(self, _, state):
            return state[1] - ground

    turned = lambda _, state: state[3]  # noqa: E731
    start = [0, height, speed * np.cos(np.radians(angle)), speed * np.sin(np.radians(angle))]
    found = solve_ivp(change, (0, 30), start, "DOP853", events=(Landed(), turned), rtol=1e-11, atol=1e-11)
    apex = max([height, *(state[1] for state in found.y_events[1])])
    return found.t_events[0][0], found.y_events[0][0][0], apex


def test_a_ball_s_drag_per_metre():
    """Facts of the rule's ball in air of 20 degrees: 0.0772255834 per metre for Cd 1."""
    assert pytest.approx(0.0772255834, rel=1e-9) == PER_METRE


def test_the_whole_table_of_serves():
    time_s, landing = come_down(launched(SPEED, ANGLE, HEIGHT), DRAG, LIFT)

    assert time_s == pytest.approx(SERVES[:, 5], abs=DIGITS)
    assert landing.along_m == pytest.approx(SERVES[:, 6], abs=DIGITS)
    assert landing.speed_mps == pytest.approx(SERVES[:, 7], abs=DIGITS)
    assert landing.angle_deg == pytest.approx(SERVES[:, 8], abs=5e-4)
    over_net = track(launched(SPEED, ANGLE, HEIGHT), time_s, DRAG, LIFT).height_at(9.0)
    assert over_net == pytest.approx(SERVES[:, 9], abs=DIGITS)
    assert landing.along_m / time_s / SPEED == pytest.approx(SERVES[:, 10], abs=5e-4)


@pytest.mark.parametrize(
    ("launch", "ground", "expected"),
    [
        ((20, 5, 2.6), 0.0, (0.927117, 18.471777, 2.754865, 2.386533)),
        ((15, 10, 2.4), 0.0, (1.013712, 14.974675, None, 2.166242)),
        ((28, -4, 3.3), 0.0, (0.644951, 18.014642, 3.3, 2.161414)),
        ((20, 5, 2.6), 0.105, (0.912696, 18.184459, None, None)),
        ((25, 15, 1.0), 0.0, (1.458904, 35.229818, None, None)),
    ],
)
def test_without_air(launch, ground, expected):
    """Computed from the closed form, the last with the start of a public tennis model; integrated, it is the same."""
    speed_mps, angle_deg, height_m = launch
    time_s, distance_m, apex_m = air_free_flight(speed_mps, angle_deg, height_m, ground)
    start = launched(*([part] for part in launch))
    flown_s, landing = come_down(start, 0.0, 0.0, ground)
    way = track(start, flown_s, 0.0, 0.0)

    assert (time_s, distance_m) == pytest.approx(expected[:2], abs=DIGITS)
    assert (flown_s[0], landing.along_m[0]) == pytest.approx((time_s, distance_m), rel=1e-9)
    assert way.apex_m()[0] == pytest.approx(apex_m, rel=1e-9)
    if expected[2] is not None:
        assert apex_m == pytest.approx(expected[2], abs=DIGITS)
    if expected[3] is not None:
        assert way.height_at(9.0)[0] == pytest.approx(expected[3], abs=DIGITS)


@pytest.mark.parametrize(
    ("drag", "time_s", "end_mps", "mean_share"),
    [(0.15, 1.000705, 16.235873, 0.899366), (0.45, 1.250638, 10.699586, 0.719633)],
)
def test_level_flight(drag, time_s, end_mps, mean_share):
    assert level_flight(20, drag * PER_METRE, 18) == pytest.approx((time_s, end_mps), abs=DIGITS)
    assert 18 / level_flight(20, drag * PER_METRE, 18)[0] / 20 == pytest.approx(mean_share, abs=DIGITS)


def test_level_flight_is_what_a_fast_flat_ball_does_at_first():
    """Over 2 m at 2000 m/s gravity turns the path by 5 micrometres; what is left is drag alone."""
    time_s, end_mps = level_flight(2000.0, 0.03, 2.0)
    end = advance(launched(2000.0, 0.0, 1.0), time_s, 0.03, 0.0)

    assert (end.along_m, end.along_mps) == pytest.approx((2.0, end_mps), rel=1e-6)


@pytest.mark.parametrize(
    ("drag", "height", "time_s", "end_mps"),
    [
        (0.15, 3, 0.786599, 7.540630),
        (0.15, 10, 1.455563, 13.233689),
        (0.45, 3, 0.795719, 7.288947),
        (0.45, 10, 1.511799, 11.891613),
    ],
)
def test_falls(drag, height, time_s, end_mps):
    told = fall(height, drag * PER_METRE)
    end = advance(launched(0.0, 0.0, height), told[0], drag * PER_METRE, 0.0)

    assert told == pytest.approx((time_s, end_mps), abs=DIGITS)
    assert height - end.height_m == pytest.approx(height, rel=1e-6)
    assert -end.rise_mps == pytest.approx(told[1], rel=1e-6)


@pytest.mark.parametrize(("drag", "time_s", "height"), [(0.15, 0.981868, 4.817689), (0.45, 0.919495, 4.363043)])
def test_throws_straight_up(drag, time_s, height):
    told = rise(10, drag * PER_METRE)
    top = advance(launched(10.0, 90.0, 0.0), told[0], drag * PER_METRE, 0.0)

    assert told == pytest.approx((time_s, height), abs=DIGITS)
    assert top.height_m == pytest.approx(told[1], rel=1e-6)
    assert top.rise_mps == pytest.approx(0.0, abs=1e-5)


@given(serves, st.sampled_from([FLIGHT_STEPS, launch_and_clearance.FLIGHT_MOMENTS]))
def test_energy_never_grows(serve, steps):
    speed, angle, height, drag, lift = serve
    way = stages(launched(speed, angle, height), 1.5, drag * PER_METRE, lift * PER_METRE, steps)
    energy = np.array([moment.energy_j_per_kg for moment in way])

    assert (np.diff(energy) <= 1e-9 * energy[0]).all()


@given(serves)
def test_lift_alone_does_no_work(serve):
    """It pulls at right angles to the path, so that without drag the energy stays what it was."""
    speed, angle, height, _, lift = serve
    end = advance(launched(speed, angle, height), 1.5, 0.0, lift * PER_METRE)

    assert end.energy_j_per_kg == pytest.approx(launched(speed, angle, height).energy_j_per_kg, rel=1e-6)


@pytest.mark.parametrize("seed", range(8))
def test_closed_forms_against_scipy(seed):
    """Drag alone along the level, and drag and gravity along the plumb line, integrated by scipy."""
    rng = np.random.default_rng(seed)
    speed, way, drag = rng.uniform((5, 1, 0.003), (35, 20, 0.05))

    def integrated(acceleration, start, until):
        until.terminal = True
        found = solve_ivp(
            lambda _, s: [s[1], acceleration(s[1])], (0, 30), start, "DOP853", events=until, rtol=1e-12, atol=1e-12
        )
        return found.t_events[0][0], *found.y_events[0][0]

    time_s, _, end_mps = integrated(lambda v: -drag * v * v, [0, speed], lambda _, s: s[0] - way)
    assert level_flight(speed, drag, way) == pytest.approx((time_s, end_mps), rel=1e-9)
    time_s, _, end_mps = integrated(lambda v: 9.81 - drag * v * v, [0, 0], lambda _, s: s[0] - way)
    assert fall(way, drag) == pytest.approx((time_s, end_mps), rel=1e-9)
    time_s, height_m, _ = integrated(lambda v: -9.81 - drag * v * v, [0, speed], lambda _, s: s[1])
    assert rise(speed, drag) == pytest.approx((time_s, height_m), rel=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_any_serve_against_scipy(seed):
    rng = np.random.default_rng(seed)
    speed, angle, height = rng.uniform((6, -8, 0.8), (32, 55, 3.6))
    drag, lift = rng.uniform((0.05, -0.15), (0.6, 0.25)) * PER_METRE
    start = launched([speed], [angle], [height])
    time_s, landing = come_down(start, drag, lift, 0.105)

    expected = by_scipy(speed, angle, height, drag, lift, 0.105)
    assert (time_s[0], landing.along_m[0]) == pytest.approx(expected[:2], rel=1e-6)
    assert track(start, time_s, drag, lift).apex_m()[0] == pytest.approx(expected[2], rel=1e-5)


def test_a_ball_that_never_rises_so_far_does_not_come_down_there():
    time_s, landing = come_down(launched([10.0, 10.0], [20.0, 20.0], [1.0, 3.0]), 0.03, 0.0, [2.5, 2.5])

    assert np.isnan([time_s[0], landing.along_m[0]]).all()
    assert np.isfinite([time_s[1], landing.along_m[1]]).all()


@pytest.mark.parametrize(("height_m", "within_m"), [(0.3, 1e-3), (0.8, 1e-3), (1.2, 1e-3), (2.0, 0.01)])
def test_where_a_ball_was_before_its_end(height_m, within_m):
    """Serves of all kinds brought down to a height, and from their landing back up to it; 99 of 100 agree."""
    rng = np.random.default_rng(4)
    start = launched(*rng.uniform((11, -2, 2.1), (28, 25, 3.3), (2000, 3)).T)
    drag, lift = rng.uniform(0.12, 0.5, 2000) * PER_METRE, rng.uniform(-0.05, 0.25, 2000) * PER_METRE
    landed_s, landing = come_down(start, drag, lift, BALL_RADIUS_M)
    passed_s, passing = come_down(start, drag, lift, height_m)
    before_m, before_s = before_the_end(landing, drag, lift, height_m)
    known = np.isfinite(landed_s + passed_s) & (landing.along_m > 10) & (landing.along_m < 19)
    assert known.sum() > 800
    assert np.quantile(np.abs(before_m - landing.along_m + passing.along_m)[known], 0.99) < within_m
    assert np.quantile(np.abs(before_s - landed_s + passed_s)[known], 0.99) < within_m / 5
    after_m, after_s = before_the_end(passing, drag, lift, BALL_RADIUS_M)
    assert after_m[known] == pytest.approx(-before_m[known], abs=0.2)
    assert (after_s[known] < 0).all()


def test_heights_beyond_either_end_are_unknown():
    way = track(launched([20.0, 20.0], [5.0, 5.0], [2.6, 2.6]), [0.9, 0.9], 0.03, 0.0)

    assert np.isnan(way.height_at([-0.1, 30.0])).all()
    assert way.height_at([0.0, 0.0]) == pytest.approx([2.6, 2.6])


def test_motion_is_told_as_speed_angle_and_energy():
    motion = Motion(np.array(0.0), np.array(2.0), np.array(3.0), np.array(-4.0))

    assert motion.speed_mps == 5.0
    assert motion.angle_deg == pytest.approx(-53.130102)
    assert motion.energy_j_per_kg == pytest.approx(12.5 + 2 * GRAVITY_MPS2)
