"""Two rates against each other: Newcombe's published differences, statsmodels, and every way to settle the doubtful."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import kendalltau
from statsmodels.stats.proportion import confint_proportions_2indep

from serve_marker.study.compare import FEWEST_PRACTICES, MEASURED_COLUMNS, this_season, trend_sentence, two_periods
from serve_marker.study.rates import rate
from serve_marker.study.significance import Difference, rate_difference
from tests.study.conftest import with_evenings

COUNTS = st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
RANGES = st.integers(1, 12).flatmap(
    lambda n: st.tuples(st.integers(0, n), st.integers(0, n), st.just(n)).filter(lambda r: r[0] <= r[1])
)


@pytest.mark.parametrize(
    ("since", "before", "low", "high"),
    [
        ((56, 70), (48, 80), 0.0524, 0.3339),
        ((9, 10), (3, 10), 0.1705, 0.8090),
        ((6, 7), (2, 7), 0.0582, 0.8062),
        ((5, 56), (0, 29), -0.0381, 0.1926),
        ((0, 10), (0, 20), -0.1611, 0.2775),
        ((0, 10), (0, 10), -0.2775, 0.2775),
        ((10, 10), (0, 20), 0.6791, 1.0000),
        ((10, 10), (0, 10), 0.6075, 1.0000),
    ],
)
def test_newcombes_table_of_differences(since, before, low, high):
    """R. G. Newcombe, Statistics in Medicine 17:873 (1998), table II, method 10 (from memory; statsmodels agrees)."""
    found = rate_difference(rate(*before), rate(*since))
    assert found.value == pytest.approx(since[0] / since[1] - before[0] / before[1])
    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-5)


@given(COUNTS, COUNTS)
def test_differences_equal_statsmodels(before, since):
    found = rate_difference(rate(*before), rate(*since))
    theirs = confint_proportions_2indep(*since, *before, compare="diff", method="newcomb")
    assert (found.low, found.high) == pytest.approx(theirs, abs=1e-9)


@given(RANGES, RANGES)
def test_doubtful_serves_widen_it_to_every_way_they_may_be_settled(before, since):
    """Brute force: the interval is that of the worst and of the best choice of the serves too close to call."""
    (before_low, before_most, before_n), (since_low, since_most, since_n) = before, since
    found = rate_difference(rate(before_low, before_n, before_most), rate(since_low, since_n, since_most))
    settled = [
        rate_difference(rate(first, before_n), rate(second, since_n))
        for first in range(before_low, before_most + 1)
        for second in range(since_low, since_most + 1)
    ]
    assert found.low == pytest.approx(min(one.low for one in settled))
    assert found.high == pytest.approx(max(one.high for one in settled))
    assert found.value == pytest.approx((min(one.value for one in settled) + max(one.value for one in settled)) / 2)


def test_a_difference_is_told_only_where_it_cannot_be_nothing():
    assert Difference(0.2, 0.05, 0.3).told
    assert Difference(-0.2, -0.3, -0.05).told
    assert not Difference(0.1, -0.05, 0.3).told
    assert not rate_difference(rate(0, 0), rate(3, 5)).told
    assert math.isnan(rate_difference(rate(0, 0), rate(3, 5)).value)


def test_fewer_practices_cannot_show_a_trend():
    """Even in perfect order: the smallest two-sided p of Mann-Kendall (scipy, exact) passes 0.05 from five on."""
    least = {n: kendalltau(range(n), range(n), method="exact").pvalue for n in (3, 4, 5, 6)}
    assert list(least.values()) == pytest.approx([0.3333, 0.0833, 0.0167, 0.0028], abs=5e-5)
    assert min(n for n, p in least.items() if p < 0.05) == FEWEST_PRACTICES


def dated(*practices):
    """Ten serves in each practice of (date, how many in)."""
    rows = [
        dict.fromkeys(("player_id", *MEASURED_COLUMNS), "")
        | {"practice_id": str(place), "date": date, "outcome": "floor"}
        for place, (date, _) in enumerate(practices)
        for _ in range(10)
    ]
    table = with_evenings(pd.DataFrame(rows))
    table["verdict"] = ["in" if k < inside else "out" for _, inside in practices for k in range(10)]
    table["season"] = ""
    table[["aim_hit", "aim_surely", "aim_may", "aim_has_depth"]] = False
    table[["x_m", "y_m", "aim_x_m", "aim_y_m", "pace_mps"]] = math.nan
    return table


def test_the_odd_practice_belongs_to_the_later_half():
    table = dated(
        ("2026-09-20", 1), ("2026-09-01", 2), ("", 3), ("2026-11-01", 4), ("2026-10-01", 5), ("2026-09-08", 6)
    )
    before, since, practices = two_periods(table)
    assert practices == 5
    assert list(before["date"].unique()) == ["2026-09-01", "2026-09-08"]
    assert sorted(since["date"].unique()) == ["2026-09-20", "2026-10-01", "2026-11-01"]


def test_a_season_begins_after_the_summer():
    """61 days between two practices part seasons, 60 do not (own choice)."""
    dates = ("2026-03-01", "2026-03-08", "2026-05-08", "2026-05-15", "2026-07-14")
    table = dated(*[(date, 5) for date in dates])
    assert sorted(this_season(table)["date"].unique()) == [*dates[2:]]
    assert two_periods(table)[2] == 3
    named = table.assign(season=np.where(table["date"] < "2026-05-10", "old", "new"))
    assert sorted(this_season(named)["date"].unique()) == [*dates[3:]]


def test_september_against_now():
    """20 serves against 30: 5 of 20 and 27 of 30 differ for sure, 10 of 20 and 15 of 30 not at all."""
    dates = ("2026-09-01", "2026-09-08", "2026-10-01", "2026-10-08", "2026-11-01")
    better = trend_sentence(dated(*zip(dates, (2, 3, 9, 9, 9), strict=True)))
    assert better.startswith("Better (")
    assert better.endswith("First 2 practices: 5 of 20 in. Last 3 practices: 27 of 30.")
    alike = trend_sentence(dated(*zip(dates, (5, 5, 5, 5, 5), strict=True)))
    assert "Too early to say which is better" in alike
    worse = trend_sentence(dated(*zip(dates, (9, 9, 2, 2, 2), strict=True)))
    assert worse.startswith("Worse (28 to 86 fewer of 100).")
    four = trend_sentence(dated(*zip(dates[:4], (2, 2, 9, 9), strict=True)))
    assert four == (
        "First 2 practices: 4 of 20 in. Last 2 practices: 18 of 20. From 5 practices on we can say better or worse."
    )


def test_the_more_are_compared_the_more_is_asked():
    """Of three there are three pairs, of twelve 66: Newcombe's interval at 1 - 0.05 / pairs, by statsmodels."""
    fewer, more = rate(12, 30), rate(24, 30)
    for pairs in (1, 3, 66):
        found = rate_difference(fewer, more, pairs)
        theirs = confint_proportions_2indep(24, 30, 12, 30, compare="diff", method="newcomb", alpha=0.05 / pairs)
        assert (found.low, found.high) == pytest.approx(theirs, abs=1e-9)
    assert rate_difference(fewer, more, 1).told
    assert not rate_difference(fewer, more, 66).told


def test_of_many_who_serve_alike_none_is_clearly_worse():
    """Twelve servers, 20 serves each, seven of ten in: the last is told from the first in at most 5 of 100 cases."""
    counts = np.random.default_rng(4).binomial(20, 0.7, (400, 12))
    told = [rate_difference(rate(int(row.min()), 20), rate(int(row.max()), 20), 66).told for row in counts]
    assert np.mean(told) <= 0.05
