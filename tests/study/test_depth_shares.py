"""Shares of depth that come from pace and from angle: simulated serves of known launches, seen through timed marks."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from serve_marker.flight.forces import likely_drag
from serve_marker.flight.launch import solve_launch
from serve_marker.flight.trajectory import BALL_RADIUS_M, PER_METRE, come_down, launched
from serve_marker.study.depth_shares import DepthShares, Share, depth_shares, depth_shares_sentence

BEHIND_M, HEIGHT_M = 9.2, 2.4
MEAN_MPS, MEAN_DEG = 17.0, 12.0


def flown(rng, serves, sd_mps, sd_deg, blur_s=0.008):
    """Return true launches, depth and what solving marks back tells: a float of 17 m/s at 12 degrees, more or less."""
    speed, angle = rng.normal(MEAN_MPS, sd_mps, serves), rng.normal(MEAN_DEG, sd_deg, serves)
    height_m, drag = rng.normal(HEIGHT_M, 0.06, serves), rng.normal(0.33, 0.02, serves) * PER_METRE
    time_s, landing = come_down(launched(speed, angle, height_m), drag, 0.0, BALL_RADIUS_M)
    seen_m = landing.along_m + rng.normal(0, 0.04, serves)
    seen_s = time_s + rng.normal(0, blur_s, serves)
    pace = seen_m / seen_s
    solved = solve_launch(seen_m, seen_s, HEIGHT_M, likely_drag(pace)[0])
    table = pd.DataFrame(
        {
            "player_id": "marit",
            "aim": "deep 1",
            "serve_type": "float",
            "target_kind": "none",
            "outcome": "floor",
            "evening": np.arange(serves) // 20,
            "y_m": seen_m - BEHIND_M,
            "pace_mps": pace,
            "flight_s": seen_s,
            "launch_mps": solved.speed_mps,
            "course_y": 1.0,
        }
    )
    table.attrs["rho"] = {"place": 0.0}
    return table, speed, angle, landing.along_m


def true_shares(rng, sd_mps, sd_deg):
    """Slopes of the parts on the depth over 40,000 serves, each part by the flight itself, one launch changed alone."""
    _, speed, angle, depth_m = flown(rng, 40_000, sd_mps, sd_deg)
    drag = 0.33 * PER_METRE

    def range_m(speed_mps, angle_deg):
        return come_down(launched(speed_mps, angle_deg, HEIGHT_M), drag, 0.0, BALL_RADIUS_M)[1].along_m

    parts = range_m(speed, np.full_like(speed, MEAN_DEG)), range_m(np.full_like(angle, MEAN_MPS), angle)
    about = depth_m - np.nanmean(depth_m)
    return [float(np.nansum((part - np.nanmean(part)) * about) / np.nansum(about**2)) for part in parts]


@pytest.mark.parametrize(("sd_mps", "sd_deg", "told"), [(0.8, 0.5, "pace"), (0.25, 2.0, "angle"), (0.5, 1.4, "")])
def test_shares_lie_in_their_intervals_and_the_larger_is_told(sd_mps, sd_deg, told):
    """120 sets of 40 serves: 95 in 100 hold, but for chance (three standard errors); nothing wrong is told."""
    rng = np.random.default_rng(2)
    pace, angle = true_shares(rng, sd_mps, sd_deg)
    held, said = [], []
    for _ in range(120):
        found = depth_shares(flown(rng, 40, sd_mps, sd_deg)[0])
        held += [found.pace.low <= pace <= found.pace.high, found.angle.low <= angle <= found.angle.high]
        said.append(found.told)
    assert np.mean(held) > 0.95 - 3 * np.sqrt(0.05 * 0.95 / 120)
    wrong = {"pace": "angle", "angle": "pace"}.get(told)
    assert np.mean([one == wrong for one in said]) == 0
    if told:
        assert np.mean([one == told for one in said]) > 0.5
    else:
        assert np.mean([one != "" for one in said]) < 0.2, "silence where both weigh about the same"


def test_servers_are_each_about_their_own_mean():
    """Two servers who differ in pace, not in what scatters their depth: the difference between them is no share."""
    rng = np.random.default_rng(4)
    slow = flown(rng, 40, 0.2, 2.0)[0]
    fast = slow.assign(player_id="noor", launch_mps=slow["launch_mps"] + 3.0, y_m=slow["y_m"] + 1.0)
    both = pd.concat([slow, fast], ignore_index=True).assign(evening=np.arange(80) // 20)
    both.attrs["rho"] = {"place": 0.0}
    assert depth_shares(both).angle.value == pytest.approx(depth_shares(slow).angle.value, abs=0.12)
    assert depth_shares(both).told == "angle"


def test_serves_of_one_evening_widen_the_intervals():
    table = flown(np.random.default_rng(5), 40, 0.8, 0.5)[0]
    narrow = depth_shares(table).pace
    table.attrs["rho"] = {"place": 0.1}
    wide = depth_shares(table).pace
    assert wide.high - wide.value == pytest.approx((narrow.high - narrow.value) * np.sqrt(1 + 19 * 0.1))


def test_few_flights_and_unsolved_ones_tell_nothing():
    table = flown(np.random.default_rng(6), 40, 0.8, 0.5)[0]
    assert depth_shares(table[:19]) is None
    assert depth_shares(table.assign(launch_mps=np.nan)) is None
    assert depth_shares(table.assign(outcome="received")) is None
    assert depth_shares(table.assign(player_id=[str(n // 2) for n in range(40)])) is not None
    assert depth_shares(table.assign(player_id=[str(n) for n in range(40)])) is None
    assert depth_shares_sentence(None) == ""


def test_what_is_told_in_words():
    pace, angle = Share(0.3, 0.15, 0.45), Share(0.7, 0.6, 1.1)
    assert depth_shares_sentence(DepthShares(40, pace, angle, Share(-0.4, -0.6, -0.2))) == (
        "Long or short comes more from angle than from pace. Angle explains 60 to 100 % of it, pace 15 to 45 %."
    )
    assert depth_shares_sentence(DepthShares(40, pace, angle, Share(-0.1, -0.3, 0.1))) == ""
