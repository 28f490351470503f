"""The shutter's part of the error against hand-worked geometry."""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.flight.shutter import RESTITUTION, Arrival, shutter_displacement

GAPS = np.array([(1 / 30, 1 / 30)])


def displacement_m(point, camera, velocity, gaps=GAPS, sd=(0.0, 0.0, 0.0)):
    arrival = Arrival(np.array([velocity], dtype=float), np.array([sd], dtype=float))
    (mean_m,), (cov_m2,) = shutter_displacement(np.array([point], dtype=float), camera, arrival, gaps)
    return mean_m, cov_m2


def deviations_m(*args, **more):
    """Root mean squares about the touch itself."""
    mean_m, cov_m2 = displacement_m(*args, **more)
    return np.sqrt(np.diagonal(cov_m2) + mean_m**2)


def test_level_flight_seen_from_far_above():
    """Uniform over half a frame each way: the mean square is v^2 (dt/2)^2 (1 + 0.7^2) / 6, nothing sideways."""
    expected = 13 / 60 * np.sqrt((1 + RESTITUTION**2) / 6)
    across, along = deviations_m((0, 5), (0, 0, 1e6), (0, 13, 0))
    assert along == pytest.approx(expected, rel=0.01)
    assert across == 0


def test_falling_ball_is_seen_further_out():
    """At h above the floor and D from a camera of height H: out by D h / (H - h). Here D 10 m, H 2 m, 7.5 m/s down."""
    times_s = np.linspace(0, 1 / 60, 20001)
    down_m = 7.5 * times_s - 4.905 * times_s**2
    up_m = np.maximum(RESTITUTION * 7.5 * times_s - 4.905 * times_s**2, 0)
    expected = np.sqrt(np.mean([np.mean((10 * h / (2 - h)) ** 2) for h in (down_m, up_m)]))
    _, along = deviations_m((0, 10), (0, 0, 2), (0, 1e-6, -7.5))
    assert along == pytest.approx(expected, rel=0.01)


def test_the_mean_lies_further_out_on_both_sides_of_the_touch():
    """The same heights averaged over time: falling and risen alike are seen behind the touch, never before it."""
    times_s = np.linspace(0, 1 / 60, 20001)
    down_m = 7.5 * times_s - 4.905 * times_s**2
    up_m = np.maximum(RESTITUTION * 7.5 * times_s - 4.905 * times_s**2, 0)
    expected = np.mean([np.mean(10 * h / (2 - h)) for h in (down_m, up_m)])
    mean_m, _ = displacement_m((0, 10), (0, 0, 2), (0, 1e-6, -7.5))
    assert mean_m == pytest.approx([0, expected], rel=0.01, abs=1e-9)


def test_a_click_on_the_frame_beside_leaves_the_mean_and_widens_the_rest():
    """Uniform over one and a half frames each way, about the mean of half a frame: the mean square is that of three
    times the time, less 5 m^2, where m = -v dt/2 (1 - 0.7) / 4 is the mean and 3 m that of the longer time."""
    seen_from_above = np.array([[0.0, 5.0]]), (0.0, 0.0, 1e6), Arrival(np.array([[0.0, 13.0, 0.0]]), np.zeros((1, 3)))
    mean_m, cov_m2 = shutter_displacement(*seen_from_above, GAPS, frames_off=1)
    middle_m = -13 / 60 * (1 - RESTITUTION) / 4
    assert mean_m[0, 1] == pytest.approx(middle_m, rel=0.01)
    expected_m2 = (3 * 13 / 60) ** 2 * (1 + RESTITUTION**2) / 6 - 5 * middle_m**2
    assert cov_m2[0, 1, 1] == pytest.approx(expected_m2, rel=0.01)


def test_over_a_long_gap_the_click_stays():
    mean_m, cov_m2 = displacement_m((0, 5), (0, -14, 2), (0, 13, -7), np.array([(1.4, 0.1)]))
    assert mean_m.tolist() == [0, 0]
    assert cov_m2[1, 1] > 1


def test_no_gaps_no_error():
    assert deviations_m((0, 5), (0, -14, 2), (0, 13, -7), np.zeros((1, 2))).tolist() == [0, 0]


def test_unsure_direction_spreads_sideways():
    sure = deviations_m((0, 5), (0, -14, 2), (0, 13, -7))
    unsure = deviations_m((0, 5), (0, -14, 2), (0, 13, -7), sd=(0, 3, 0))
    assert unsure[0] > sure[0]


def test_samples_have_the_mean_and_covariance_they_stand_for():
    arrival = Arrival(np.array([(5.0, 12.0, -7.0)]), np.array([(3.0, 2.0, 1.0)]))
    samples = arrival.samples()[0]
    axes = arrival.axes()[0]
    np.testing.assert_allclose(samples.mean(axis=0), (5, 12, -7), atol=1e-12)
    np.testing.assert_allclose(axes @ np.cov(samples.T, bias=True) @ axes.T, np.diag([9.0, 4.0, 1.0]), atol=1e-12)


def test_a_camera_lower_than_the_ball_stays_finite():
    assert np.isfinite(deviations_m((0, 5), (0, -14, 0.05), (0, 13, -7))).all()
