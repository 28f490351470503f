"""A usual serve flown to other places: it clears the net as high as ever, slower where it has to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from serve_marker.court.dimensions import court_named
from serve_marker.court.passer_movement import Movement
from serve_marker.flight.forces import likely_drag
from serve_marker.flight.launch import solve_launch
from serve_marker.flight.trajectory import BALL_RADIUS_M, PER_METRE, track
from serve_marker.study.usual_serve import UsualServe

COURT = court_named("indoor")
FLOAT = UsualServe(way_m=16.0, flight_s=1.0, from_x_m=4.5, serve_type="float", n=20)


def straight_ahead(*depths_m):
    return FLOAT.to(np.array([(4.5, depth_m) for depth_m in depths_m]), COURT, Movement())


def test_it_takes_the_medians_of_timed_serves_to_either_end():
    """Hand-worked: from (2, -9) to (2, 7) is 16 m; at end a the court frame runs the other way."""
    rows = {
        "half": ["a", "a", "b", "b"],
        "course_x": [0.0, 0.0, 0.0, np.nan],
        "course_y": [-1.0, -1.0, 1.0, np.nan],
        "x_m": [2.0, 3.0, 2.0, 8.0],
        "y_m": [7.0, 6.0, 7.5, 2.0],
        "flight_s": [1.0, 1.2, 1.1, 9.0],
        "serve_type": ["float", "float", "jump float", "topspin"],
    }
    usual = UsualServe.of(pd.DataFrame(rows), COURT)
    slower = [1.0 / 16 * 16 / 1.1 - 1, 1.2 / 15 * 16 / 1.1 - 1, 1.1 / 16.5 * 16 / 1.1 - 1]
    sd = ((10 * 0.04**2 + sum(one**2 for one in slower)) / 13) ** 0.5
    assert usual is not None
    assert usual.sd == pytest.approx(sd)
    assert replace(usual, sd=0.04, over_net_m=0.0) == UsualServe(16.0, 1.1, 2.0, "float", 3, over_net_m=0.0)
    assert UsualServe.of(pd.DataFrame(rows)[3:], COURT) is None


def test_short_serves_do_not_make_the_usual_one_slower():
    """Two deep serves of 16 m in a second, three short ones of 12 m in 1.4 s."""
    rows = {"half": "b", "course_x": 0.0, "course_y": 1.0, "x_m": 4.5, "serve_type": "float"}
    table = pd.DataFrame({"y_m": [7.0, 7.0, 3.0, 3.0, 3.0], "flight_s": [1.0, 1.0, 1.4, 1.4, 1.4]}).assign(**rows)
    for rows, way_m, flight_s, n in ((table, 16.0, 1.0, 2), (table[2:], 12.0, 1.4, 3)):
        usual = UsualServe.of(rows, COURT)
        assert usual is not None
        assert usual.sd == pytest.approx(0.04 * (10 / (10 + n)) ** 0.5)
        assert replace(usual, sd=0.04, over_net_m=0.0) == UsualServe(way_m, flight_s, 4.5, "float", n, over_net_m=0.0)


def test_at_its_own_depth_it_is_the_usual_serve_itself():
    """Low play lies after high play, and before the landing after one second."""
    flights = straight_ahead(7.0)
    (high_s, low_s), (high_m, low_m) = flights.at_s[0], flights.before_m[0]
    assert high_s < low_s < 1.0
    assert high_m > low_m > 0
    fall_s = np.sqrt(2 * (1.2 - 0.3) / 9.81)
    assert low_s - high_s < fall_s


@pytest.mark.parametrize("depth_m", [1.5, 3.0, 4.5, 6.0, 8.5])
def test_no_flight_crosses_lower_than_usual(depth_m):
    """The whole way is flown again by the general solver, apart from the search for it."""
    heights_m = []
    for way_m, flight_s in ((16.0, 1.0), (9.0 + depth_m, landing_s(depth_m))):
        drag = float(likely_drag([way_m / flight_s])[0][0])
        start = solve_launch(np.array([way_m]), np.array([flight_s]), 2.4, drag, 0.0, BALL_RADIUS_M)
        flown = track(start, np.array([flight_s]), drag * PER_METRE, 0.0)
        heights_m.append(float(flown.height_at(9.0)[0]))
    usual_m, there_m = heights_m
    assert there_m >= usual_m - 0.08


def landing_s(depth_m):
    """When the ball lands: a tenth of the way from high to low play further on than low play is near enough 0.3 m."""
    (high_s, low_s), (high_m, low_m) = (
        part[0] for part in (straight_ahead(depth_m).at_s, straight_ahead(depth_m).before_m)
    )
    return low_s + low_m * (low_s - high_s) / (high_m - low_m)


def test_nearer_places_take_longer_and_fall_steeper():
    flights = straight_ahead(1.5, 3.0, 7.0)
    assert (np.diff(flights.at_s[:, 1]) < 0).all()
    assert (np.diff(flights.before_m[:, 0]) > 0).all()


def test_aside_it_flies_longer_from_where_she_serves():
    beside = FLOAT.to(np.array([(4.5, 7.0), (0.5, 7.0)]), COURT, Movement())
    assert beside.at_s[1, 1] / beside.at_s[0, 1] == pytest.approx(np.hypot(4.0, 16.0) / 16.0)
    assert beside.course[1] == pytest.approx(np.array([-4.0, 16.0]) / np.hypot(4.0, 16.0))


def test_shares_of_the_usual_time_scatter_as_her_serves_do():
    """The first about the median by her own deviation; the others about a median as far off as it may be."""
    shares, often = FLOAT.shares(4000, np.random.default_rng(2))
    assert often.sum(axis=1) == pytest.approx(np.ones(4001))
    means = often @ shares
    assert means[0] == pytest.approx(1.0)
    assert np.sqrt(often[0] @ (shares - 1) ** 2) == pytest.approx(FLOAT.sd, rel=0.05)
    assert means[1:].std() == pytest.approx(FLOAT.doubt, rel=0.1)
    assert FLOAT.doubt == pytest.approx(np.hypot(0.04 / 20**0.5, 0.02))


def test_a_serve_across_the_court_is_no_slower_than_one_straight_ahead():
    """From (1, -9) to (9, 6) is 17 m, 15 of them forwards: at 17 m/s a second, as is 15 m in 15 / 17 of it."""
    rows = {"half": "b", "course_x": 8 / 17, "course_y": 15 / 17, "x_m": 9.0, "y_m": 6.0, "serve_type": "float"}
    usual = UsualServe.of(pd.DataFrame({"flight_s": [1.0]}).assign(**rows), COURT)
    assert usual is not None
    assert (usual.way_m, usual.flight_s, usual.from_x_m) == pytest.approx((15.0, 15 / 17, 1.0))


def test_how_high_shorter_serves_cross_the_net_is_taken_from_them():
    """Six serves of 13 m, a tenth slower than hers of 16 m would have to be: to 4 m she serves as they do."""
    shorter_s = landing_s(4.0)
    rows = {"half": "b", "course_x": 0.0, "course_y": 1.0, "x_m": 4.5, "serve_type": "float"}
    table = pd.DataFrame({"y_m": [7.0] * 6 + [4.0] * 6, "flight_s": [1.0] * 6 + [1.1 * shorter_s] * 6}).assign(**rows)
    usual = UsualServe.of(table, COURT)
    assert usual is not None
    told = usual.to(np.array([(4.5, 4.0)]), COURT, Movement())
    assert told.at_s[0, 1] / FLOAT.to(np.array([(4.5, 4.0)]), COURT, Movement()).at_s[0, 1] == pytest.approx(
        1.1, abs=0.02
    )
