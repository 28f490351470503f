"""What passes averaged: Student's interval as scipy has it."""

import math

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from serve_marker.study.passers import ace_mask, at_passers_sentence, pass_means, pass_sentence


def passed(ratings, area="deep 1"):
    count = len(ratings)
    same = {
        "reception": "",
        "target_kind": "people",
        "outcome": "received",
        "verdict": "",
        "formation_id": "up",
        "area": area,
        "passer_seam": "",
        "seam": "",
    }
    table = pd.DataFrame({name: [value] * count for name, value in same.items()})
    table["pass_rating"], table["gap_m"] = np.array(ratings, dtype=float), 1.5
    return table


@pytest.mark.parametrize("seed", range(8))
def test_the_interval_of_a_mean_rating_is_students(seed):
    """scipy's t interval of the mean, cut at the ends of the scale 0 to 3."""
    rng = np.random.default_rng(seed)
    ratings = np.r_[0, 3, rng.integers(0, 4, rng.integers(1, 30))]
    (found,) = pass_means(passed(ratings), "area")
    theirs = stats.t.interval(0.95, len(ratings) - 1, ratings.mean(), stats.sem(ratings))
    assert found.n == len(ratings)
    assert found.mean == pytest.approx(ratings.mean())
    assert (found.low, found.high) == pytest.approx((max(theirs[0], 0.0), min(theirs[1], 3.0)))


def test_a_worked_example():
    """1, 2, 3, 2, 2: mean 2, s = sqrt(1/2), t(0.975; 4) = 2.776: 2 -+ 0.878."""
    (found,) = pass_means(passed([1, 2, 3, 2, 2]), "gap")
    assert (found.name, found.mean) == ("1 to 2 m", 2.0)
    assert (found.low, found.high) == pytest.approx((1.122, 2.878), abs=5e-4)


def test_one_pass_or_passes_all_alike_have_no_interval():
    for ratings in ([2], [2, 2, 2]):
        (found,) = pass_means(passed(ratings), "area")
        assert found.mean == 2.0
        assert math.isnan(found.low)


ENDS = pd.DataFrame(
    [
        ("floor", "in", "", "up", "none", math.nan, True),
        ("floor", "in", "", "", "people", 0.0, True),
        ("floor", "in", "", "", "mats", math.nan, False),
        ("floor", "too close", "", "up", "none", math.nan, False),
        ("received", "", "shank", "up", "none", 0.0, True),
        ("received", "", "over", "up", "none", 0.0, False),
        ("received", "", "", "up", "none", 0.0, False),
        ("received", "", "played", "up", "none", 3.0, False),
        ("net", "", "", "up", "none", math.nan, False),
        ("out", "", "", "up", "none", math.nan, False),
    ],
    columns=["outcome", "verdict", "reception", "formation_id", "target_kind", "pass_rating", "ace"],
)
"""An ace is a ball on the floor or one that nobody could play; one passed over is none (design.md 6), and a rating 0
may be either, so that it says nothing alone."""


def test_ace_ball_passed_over_and_rating_0_are_told_apart():
    assert ace_mask(ENDS).tolist() == ENDS["ace"].tolist()


def test_serves_at_passers_are_told_by_errors_aces_and_passes_first():
    """By hand: nine at passers, net and out are errors; 0, 0, 0, 0, 0 and 3 are rated or aces: mean 0.5."""
    table = ENDS.assign(missed="", gap_m=math.nan, floor_gap_m=math.nan)
    assert at_passers_sentence(table) == (
        "9 serves at passers: 2 errors, 3 aces. 1 too close to a line, 1 passed over the net. Mean pass 0.5."
    )


def test_one_rated_pass_is_one_however_many_aces():
    table = ENDS[ENDS["ace"] | (ENDS["reception"] == "played")].assign(area="", passer_seam="", seam="", gap_m=1.0)
    assert pass_sentence(table.assign(pass_rating=[math.nan, math.nan, math.nan, 3.0])) == (
        "1 pass rated, 3 aces: too few for a mean."
    )
