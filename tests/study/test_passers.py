"""What passes averaged: Student's interval as scipy has it."""

import math

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from serve_marker.study.passers import pass_means


def passed(ratings, area="deep 1"):
    count = len(ratings)
    same = {"outcome": "received", "verdict": "", "formation_id": "up", "area": area, "passer_seam": "", "seam": ""}
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
