"""Serves of one evening: design effects by hand, the correlation against analysis of variance on simulated seasons."""

import numpy as np
import pandas as pd
import pytest

from serve_marker.study.intraclass import (
    ASSUMED_RHO,
    FEWEST_PRACTICES_FOR_RHO,
    codes_of,
    effective_n,
    intraclass_correlation,
    intraclass_correlations,
    rho_of,
)
from serve_marker.study.pull import bias
from serve_marker.study.rates import Attempts, rate_of, wilson
from tests.study.conftest import with_evenings


def evenings(rho, series=12, nights=20, serves=20, seed=1, rise=0.0):
    """Values of variance 1, of which rho lies between the evenings of each series; the second half ``rise`` higher."""
    rng = np.random.default_rng(seed)
    values = np.sqrt(rho) * rng.normal(size=(series, nights, 1)) + np.sqrt(1 - rho) * rng.normal(
        size=(series, nights, serves)
    )
    values[:, nights // 2 :] += rise
    who, when = np.meshgrid(np.arange(series), np.arange(nights), indexing="ij")
    return values.reshape(-1, 1), np.repeat(who.ravel(), serves), np.repeat(when.ravel(), serves)


def test_twenty_serves_of_one_evening_are_worth_thirteen():
    """By hand: 20 / (1 + 19 x 0.03) = 12.74; of evenings of 30 and 10, m = 1000 / 40 = 25 and 40 / 1.72 = 23.26."""
    assert effective_n(np.zeros(20, dtype=int), 0.03) == pytest.approx(12.7389, abs=5e-5)
    assert effective_n(np.repeat([0, 1], (30, 10)), 0.03) == pytest.approx(40 / 1.72)
    assert effective_n(np.zeros(0, dtype=int), 0.03) == 0


@pytest.mark.parametrize("rho", [0.0, 0.03, 0.07, 0.2])
def test_the_correlation_is_found_in_a_season(rho):
    """216 pairs of evenings tell it to about 0.015; twenty more count for the assumed 0.03."""
    found = np.mean([intraclass_correlation(*evenings(rho, seed=seed)) for seed in range(8)])
    assert found == pytest.approx((228 * rho + 20 * ASSUMED_RHO) / 248, abs=0.012)


def test_getting_better_is_no_unevenness():
    """A rise by half a deviation at half time: analysis of variance would call it 0.06 and more."""
    found = np.mean([intraclass_correlation(*evenings(0.0, seed=seed, rise=0.5)) for seed in range(8)])
    assert found < 0.02


def test_one_server_alone_says_little():
    """Nine pairs of evenings against the twenty of the assumption."""
    one = [intraclass_correlation(*evenings(0.0, series=1, nights=10, seed=seed)) for seed in range(20)]
    assert 0 < np.mean(one) < ASSUMED_RHO


def logbook_of(practices):
    table = pd.DataFrame({"practice_id": [f"{night:02d}" for night in range(practices) for _ in range(20)]})
    table["date"] = "2026-09-" + table["practice_id"]
    for name in ("aim", "serve_type", "target_kind"):
        table[name] = "same"
    table["player_id"], table["pace_mps"] = "marit", np.nan
    return with_evenings(table.assign(x_m=0.0, y_m=0.0))


def test_below_ten_practices_it_is_assumed():
    few, many = logbook_of(FEWEST_PRACTICES_FOR_RHO - 1), logbook_of(FEWEST_PRACTICES_FOR_RHO)
    by_evening = many["practice_id"].astype(int).to_numpy() % 2 == 0
    assert intraclass_correlations(few, by_evening[: len(few)]) == {}
    assert (rho_of(few), rho_of(few, "pace", 0.05)) == (ASSUMED_RHO, 0.05)
    assert intraclass_correlations(many, by_evening)["rate"] > 0.2
    assert intraclass_correlations(many, by_evening)["pace"] == ASSUMED_RHO


def test_a_rate_is_as_sure_as_its_independent_serves():
    table = logbook_of(2)
    hit = np.arange(40) % 2 == 0
    attempts = Attempts(np.ones(40, dtype=bool), hit, hit, hit, np.zeros(40, dtype=bool))
    table.attrs["rho"] = {"rate": 0.07}
    found = rate_of(table, attempts)
    worth = 40 / (1 + 19 * 0.07)
    assert (found.low, found.high) == pytest.approx(wilson(worth / 2, worth))
    assert (rho_of(table), rho_of(table, "place")) == (0.07, ASSUMED_RHO)


def test_codes_are_equal_where_all_columns_are():
    table = pd.DataFrame({"a": ["x", "y", "x", "x"], "b": ["1", "1", "2", "1"]})
    assert codes_of(table, ("a", "b")).tolist() == [0, 1, 2, 0]


@pytest.mark.parametrize(("rho", "nights"), [(0.0, 1), (0.03, 1), (0.07, 1), (0.07, 5)])
def test_a_centred_server_pulls_in_five_of_a_hundred_practices(rho, nights):
    """2,000 seasons of evenings of 20: chance alone is off by less than 0.015 in 997 of 1000 cases."""
    rng = np.random.default_rng(7)
    when = np.repeat(np.arange(nights), 20)
    told = 0
    for _ in range(2000):
        shift = np.sqrt(rho) * rng.normal(size=(nights, 2))[when]
        found = bias(shift + np.sqrt(1 - rho) * rng.normal(size=(20 * nights, 2)), np.zeros(2), when, rho, 2)
        told += found.right_low_m > 0 or found.right_high_m < 0 or found.long_low_m > 0 or found.long_high_m < 0
    assert 0.02 < told / 2000 < 0.065
