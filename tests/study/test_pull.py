"""Whose pull it is: of balls over the net, with received ones; a seam has none in depth."""

import numpy as np
import pandas as pd
import pytest

from serve_marker.court.aims import aim_words, parse_aim
from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import court_named
from serve_marker.errors import UserError
from serve_marker.study.pull import LEAST_PLACED, bias_of
from serve_marker.study.sentences import (
    FEW_PLACED,
    NO_PULL,
    aim_sentence,
    bias_words,
    placed_words,
    seam_depth_sentence,
)
from serve_marker.study.serve_columns import serve_table
from tests.study.conftest import SERVES, landed, with_evenings

COURT = court_named("indoor")
SCHEME = default_scheme(COURT)


def evening(misses_m, outcome="floor", placed=True, aim="deep 1", has_depth=True):
    """Aimed serves (N, 2) beside an aim at (1.5, 7.5), each of an evening of its own."""
    misses_m = np.asarray(misses_m, dtype=float)
    places = np.where(np.broadcast_to(placed, len(misses_m))[:, None], misses_m + np.array([1.5, 7.5]), np.nan)
    told = {"aim": aim, "aim_has_depth": has_depth, "aim_x_m": 1.5, "aim_y_m": 7.5, "verdict": ""}
    told |= {"aim_hit": None, "aim_surely": False, "aim_may": True, "player_id": "marit"}
    when = [f"{k}" for k in range(len(misses_m))]
    x_m, y_m = places.T
    return with_evenings(pd.DataFrame({"outcome": outcome, "x_m": x_m, "y_m": y_m, "practice_id": when} | told))


def a_centred_practice(rng, placed_share):
    """Twenty centred serves whose nearest ten passers take; of those a share has an estimated landing."""
    misses_m = rng.normal(0.0, (1.1, 1.4), (20, 2))
    outcome = np.full(20, "floor", dtype=object)
    outcome[np.argsort(misses_m[:, 1])[:10]] = "received"
    placed = (outcome == "floor") | (rng.random(20) < placed_share)
    return evening(misses_m, outcome, placed)


def test_a_centred_server_whose_passers_take_the_short_balls_does_not_pull_long():
    """The floor landings alone lie 1.1 m long on average (half-normal mean 0.8 x 1.4 m): told of 4 in 5 practices."""
    rng = np.random.default_rng(3)
    practices = [a_centred_practice(rng, 1.0) for _ in range(200)]
    seen_only = [rows[rows["outcome"] == "floor"] for rows in practices]
    assert np.mean([bias_of(rows, 2).long_low_m > 0 for rows in seen_only]) > 0.8
    assert np.mean([bias_words(bias_of(rows, 2)) != NO_PULL for rows in practices]) < 0.09


def test_with_too_few_placed_no_pull_is_told():
    rng = np.random.default_rng(4)
    rows = a_centred_practice(rng, 0.0)
    assert (bias_words(bias_of(rows)), placed_words(bias_of(rows))) == (FEW_PLACED, "10 of 20")
    assert "Too few of the 20 balls over the net are placed for a pull" in aim_sentence(rows)
    placed = np.arange(20) < LEAST_PLACED * 20
    assert bias_words(bias_of(evening([(0.01 * k, -1.0) for k in range(20)], placed=placed))).startswith("1.0 m short")


def test_nets_are_no_balls_over_the_net_and_balls_seen_out_are():
    misses_m = [(0.1 * (k % 3), -1.0 - 0.1 * (k % 2)) for k in range(12)]
    outcome = np.array(["floor"] * 9 + ["net", "fault", "out"], dtype=object)
    found = bias_of(evening(misses_m, outcome, np.arange(12) < 9))
    assert (found.n, found.over_net) == (9, 10)
    assert "Pull 1.0 m short" in aim_sentence(evening(misses_m, outcome, np.arange(12) < 9))
    assert "(9 of 10 over the net)" in aim_sentence(evening(misses_m, outcome, np.arange(12) < 9))


def test_a_seam_leans_left_or_right_only():
    """Serves that hit a seam near the end line lie 2.2 m beyond the middle of its strip and are not long."""
    rng = np.random.default_rng(5)
    misses_m = rng.normal(0.0, 0.2, (20, 2))
    misses_m += (0.5, 2.2) - misses_m.mean(axis=0)
    assert bias_words(bias_of(evening(misses_m))) == "2.2 m long, 0.5 m right"
    assert bias_words(bias_of(evening(misses_m, aim="seam 5-6", has_depth=False))) == "0.5 m right"


def test_the_depth_of_a_seam_is_the_deep_part_unless_one_is_named():
    """The deep part runs from 6 to 9 m; the seam along x = 6."""
    seam, own = parse_aim("seam 5-6", COURT, SCHEME), parse_aim("Seam 5-6 at 8", COURT, SCHEME)
    assert (seam.centre_m, seam.has_depth) == ((6.0, 7.5), False)
    assert (own.centre_m, own.has_depth, own.text) == ((6.0, 8.0), True, "seam 5-6 at 8")
    assert own.polygon.equals(seam.polygon)


def test_how_many_at_a_seam_fell_deep_is_told(logbook):
    """One landing at the seam, 7 m deep; the deep part begins at 6 m."""
    assert seam_depth_sentence(serve_table(logbook)) == "Aimed at a seam: 1 of 1 fell in the deep part."
    logbook.put(*(landed(serve.id, 6.1, 7.0, aim="seam 5-6 at 8") for serve in SERVES if serve.id == "s-seam"))
    assert seam_depth_sentence(serve_table(logbook)) == ""


def test_a_column_of_the_beach_has_no_depth_either():
    """8 x 8 m, the deep part from two thirds of the depth: its middle lies at 6.67 m."""
    beach = court_named("beach")
    line = parse_aim("line", beach, default_scheme(beach))
    assert line.centre_m[1] == pytest.approx(20 / 3)
    assert not line.has_depth
    assert parse_aim("line at 7", beach, default_scheme(beach)).has_depth


@pytest.mark.parametrize(
    ("text", "point"), [("deep 1 at 8", (1.5, 8.0)), ("deep 1 at 1, 8", (1.0, 8.0)), ("zone 5 at 7.5", (7.5, 7.5))]
)
def test_an_area_may_have_its_own_point(text, point):
    assert parse_aim(text, COURT, SCHEME).centre_m == pytest.approx(point)


@pytest.mark.parametrize("text", ["deep 1 at 4", "deep 1 at", "deep 1 at far", "deep 1 at 1,2,3", "deep 1 at nan"])
def test_a_point_outside_its_area_is_refused(text):
    with pytest.raises(UserError):
        parse_aim(text, COURT, SCHEME)


def test_the_table_tells_the_pull_from_the_point_named(logbook):
    logbook.put(landed("s-own", 1.5, 7.5, aim="deep 1 at 8"))
    table = serve_table(logbook).set_index("serve_id")
    assert table.loc["s-own", "aim_y_m"] == 8.0
    assert bool(table.loc["s-own", "aim_hit"])
    assert (table.loc["s-seam", "aim_y_m"], bool(table.loc["s-seam", "aim_has_depth"])) == (7.5, False)
    assert len(table) == len(SERVES) + 1
    assert aim_words("deep 1 at 8") == "deep 1 at 8 m"
