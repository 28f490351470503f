"""Pace against hand-worked flights and the frame-counting errors of two events on a frame grid."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from serve_marker.flight.pace import pace

STILL = np.zeros((1, 2, 2))


def one(distance_m, flight_s, gap_s, cov=STILL):
    gaps = [(gap_s, gap_s)]
    return [float(v[0]) for v in pace([(0, -9.0)], cov, [(0, distance_m - 9.0)], cov, gaps, gaps, [flight_s])]


@pytest.mark.parametrize(("distance_m", "flight_s", "speed_mps"), [(16.0, 1.0, 16.0), (18.0, 0.8, 22.5)])
def test_distance_over_time(distance_m, flight_s, speed_mps):
    assert one(distance_m, flight_s, 1 / 60)[0] == pytest.approx(speed_mps)


@pytest.mark.parametrize(("fps", "sd_percent"), [(30, 1.36), (60, 0.68), (120, 0.34), (240, 0.17)])
def test_width_is_the_frame_counting_error(fps, sd_percent):
    """SD of T is 1 / (fps sqrt 6), here for T = 1 s; the sensor's readout widens it by under a tenth."""
    speed, low, high = one(16.0, 1.0, 1 / fps)
    width_percent = 100 * np.log(high / low) / 2 / 1.96
    assert sd_percent <= width_percent <= 1.3 * sd_percent
    assert low < speed < high


def test_position_error_counts_along_the_flight_only():
    along, across = np.diag([0.0, 0.25])[None], np.diag([0.25, 0.0])[None]
    assert one(16.0, 1.0, 1e-6, across)[2] == pytest.approx(16.0, abs=1e-3)
    # sqrt(2) * 0.5 m over 16 m is 4.42 %, times 1.96: 8.66 %.
    assert np.log(one(16.0, 1.0, 1e-6, along)[2] / 16.0) == pytest.approx(0.0866, abs=1e-4)


def test_dropped_frames_move_the_likely_moment():
    """0.2 s without a frame before the contact frame: on average the hit came 42.5 ms before it."""
    speed, _, _ = pace([(0, -9)], STILL, [(0, 7)], STILL, [(0.2, 0.03)], [(0.03, 0.03)], [1.0])
    assert speed[0] == pytest.approx(16 / 1.0425)


@given(st.integers(0, 2**32 - 1))
def test_interval_holds_the_truth(seed):
    rng = np.random.default_rng(seed)
    count, gap_s = 300, 1 / 30
    truth, distance_m = rng.uniform(10, 25, count), rng.uniform(14, 19, count)
    late_s = rng.uniform(-gap_s / 2, gap_s / 2, (2, count))
    contact = np.column_stack([np.zeros(count), rng.normal(-9.3, 0.1, count)])
    landing = np.column_stack([np.zeros(count), distance_m - 9.3 + rng.normal(0, 0.1, count)])
    cov = np.broadcast_to(np.eye(2) * 0.01, (count, 2, 2))
    gaps = np.full((count, 2), gap_s)
    _, low, high = pace(contact, cov, landing, cov, gaps, gaps, distance_m / truth + late_s[0] - late_s[1])
    assert np.mean((low <= truth) & (truth <= high)) >= 0.90


def test_what_cannot_be_told():
    gaps = np.full((3, 2), 1 / 30)
    cov = np.zeros((3, 2, 2))
    contact = np.array([(0, -9.0), (np.nan, 0), (0, 7.0)])
    landing = np.full((3, 2), (0, 7.0))
    speed, low, high = pace(contact, cov, landing, cov, gaps, gaps, np.array([-0.5, 1.0, 1.0]))
    assert np.isnan([speed, low, high]).all()


def test_shapes_are_named():
    with pytest.raises(ValueError, match=r"\(N, 2\)"):
        pace([0, 1], STILL, [(0, 1)], STILL, [(1, 1)], [(1, 1)], [1.0])
    with pytest.raises(ValueError, match=r"\(1, 2\)"):
        pace([(0, 1)], STILL, [(0, 2)], STILL, [1.0], [1.0], [1.0])
