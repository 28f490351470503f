"""Pace against hand-worked flights and the frame-counting errors of two events on a frame grid."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import serve_marker.flight.pace as pace_module
from serve_marker.flight.pace import flight_time, pace

STILL = np.zeros((1, 2, 2))


def one(distance_m, flight_s, gap_s, cov=STILL):
    gaps = [(gap_s, gap_s)]
    return [float(v[0]) for v in pace([(0, -9.0)], cov, [(0, distance_m - 9.0)], cov, gaps, gaps, [flight_s])]


@pytest.mark.parametrize(("distance_m", "flight_s", "speed_mps"), [(16.0, 1.0, 16.0), (18.0, 0.8, 22.5)])
def test_distance_over_time(distance_m, flight_s, speed_mps):
    assert one(distance_m, flight_s, 1 / 60)[0] == pytest.approx(speed_mps)


FLIGHTS_S = (0.6, 0.8, 1.0, 1.3)
COUNTING = {30: (2.27, 1.70, 1.36, 1.05), 60: (1.13, 0.85, 0.68, 0.52), 120: (0.57, 0.43, 0.34, 0.26)}
COUNTING[240] = (0.28, 0.21, 0.17, 0.13)


@pytest.mark.parametrize(
    ("fps", "flight_s", "sd_percent"),
    [(fps, flight_s, sd) for fps, row in COUNTING.items() for flight_s, sd in zip(FLIGHTS_S, row, strict=True)],
)
def test_width_is_the_frame_counting_error(fps, flight_s, sd_percent, monkeypatch):
    """SD of a time between two events on the frame grid, in percent: 1 / (fps sqrt 6); a table worked beforehand."""
    monkeypatch.setattr(pace_module, "READOUT_S", 0.0)
    speed, low, high = one(16.0, flight_s, 1 / fps)
    for end in (speed / low, high / speed):
        assert 100 * np.log(end) / stats.norm.ppf(0.975) == pytest.approx(sd_percent, abs=0.006)


@pytest.mark.parametrize(("fps", "readout_s"), [(30, 0.004), (60, 1 / 300), (240, 1 / 1200)])
def test_the_readout_widens_it(fps, readout_s):
    """A fifth of 20 ms, or of a frame where that is shorter, root-sum-squared with the frames' part."""
    _, low, high = one(16.0, 1.0, 1 / fps)
    expected = np.hypot(1 / (fps * np.sqrt(6)), readout_s)
    assert np.log(high / low) / 2 / stats.norm.ppf(0.975) == pytest.approx(expected, rel=1e-6)


def test_marks_one_frame_off_are_spread_over_three(monkeypatch):
    """The nearest frame or one beside it, each as likely: three frames wide, sqrt(3^2 / 12 + 3^2 / 12) = 3 / sqrt 6."""
    monkeypatch.setattr(pace_module, "READOUT_S", 0.0)
    gaps = [(1 / 60, 1 / 60)]
    _, low, high = pace([(0, -9)], STILL, [(0, 7)], STILL, gaps, gaps, [1.0], frames_off=1.0)
    expected = 3 / 60 / np.sqrt(6)
    assert np.log(high / low)[0] / 2 / stats.norm.ppf(0.975) == pytest.approx(expected, rel=1e-6)
    monkeypatch.undo()
    assert flight_time([1.0], gaps, gaps, frames_off=1.0)[1] == pytest.approx(np.hypot(expected, 1 / 60 / 5))


def test_position_error_counts_along_the_flight_only():
    along, across = np.diag([0.0, 0.25])[None], np.diag([0.25, 0.0])[None]
    assert one(16.0, 1.0, 1e-6, across)[2] == pytest.approx(16.0, abs=1e-3)
    # sqrt(2) * 0.5 m over 16 m is 4.42 %, times 1.96: 8.66 %.
    assert np.log(one(16.0, 1.0, 1e-6, along)[2] / 16.0) == pytest.approx(0.0866, abs=1e-4)


def test_dropped_frames_move_the_likely_moment(monkeypatch):
    """0.2 s without a frame before the contact frame: on average the hit came 42.5 ms before it.

    It lies evenly within 0.115 s (half of 0.2 s and of 0.03 s), the landing within 0.03 s.
    """
    monkeypatch.setattr(pace_module, "READOUT_S", 0.0)
    speed, low, high = pace([(0, -9)], STILL, [(0, 7)], STILL, [(0.2, 0.03)], [(0.03, 0.03)], [1.0])
    assert speed[0] == pytest.approx(16 / 1.0425)
    time_sd_s = np.hypot(0.115, 0.03) / np.sqrt(12)
    assert np.log(high / low)[0] / 2 / stats.norm.ppf(0.975) == pytest.approx(time_sd_s / 1.0425, rel=1e-6)


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
