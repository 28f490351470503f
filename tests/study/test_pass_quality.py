"""What the team's own passes tell of a serve's chance to win the rally."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from statsmodels.regression.linear_model import OLS

from serve_marker.study.pass_quality import PASSERS_SD, USUAL, USUAL_SD, PassQuality, pass_quality, usual_pass_quality


def passes(demand, ratings, passers="Ines", evenings=None):
    table = pd.DataFrame({"demand": demand, "pass_rating": ratings, "outcome": "received", "passer": passers})
    table = table.assign(verdict="", reception="played", formation_id="f", target_kind="people", practice_id="tuesday")
    table["evening"] = np.arange(len(table)) if evenings is None else evenings
    return table


def test_the_usual_passer_lets_the_published_share_of_serves_win():
    """42 of 100 rallies were won on 1,334 serves (IAT record 4027190), 109 of 818 serves missed (ECSS abstract 628)."""
    mean_pass_two_thirds = (2 / 3 - USUAL[0]) / USUAL[1]
    usual = usual_pass_quality()
    (wins,) = usual.chance(np.array([mean_pass_two_thirds]), np.array(["x"], dtype=object))
    assert (1 - 109 / 818) * wins == pytest.approx(0.42, abs=0.02)


def test_without_passes_the_usual_line_holds():
    quality = pass_quality(passes([np.nan], [np.nan]))
    assert quality.told.tolist() == list(USUAL)
    assert quality.n == 0


def test_many_passes_are_the_line_of_least_squares():
    chance = np.random.default_rng(2)
    demand = chance.uniform(0, 1, 4000)
    ratings = np.clip(3 * (0.7 - 0.2 * demand + chance.normal(0, 0.1, 4000)), 0, 3)
    quality = pass_quality(passes(demand, ratings))
    slope, level = np.polyfit(demand, ratings / 3, 1)
    assert (quality.told[0] + quality.told[2], quality.told[1]) == pytest.approx((level, slope), abs=0.01)


def test_an_ace_within_reach_is_the_worst_pass_where_passes_are_rated():
    """30 passes rated 3 and 30 aces that could have been reached: half of all rallies were won outright."""
    aces = passes([0.5] * 30, [np.nan] * 30).assign(outcome="floor", verdict="in", reception="")
    both = pd.concat([passes([0.5] * 30, [3] * 30), aces], ignore_index=True)
    both["evening"] = np.arange(60)
    quality = pass_quality(both)
    assert quality.n == 60
    (wins,) = quality.chance(np.array([0.5]), np.array(["Ines"], dtype=object))
    assert wins == pytest.approx(0.5 + 0.5 * 0.25, abs=0.05)
    assert pass_quality(aces).n == 0, "where no pass is rated an ace tells nothing of passes"


def test_beyond_reach_nobody_passed():
    assert pass_quality(passes([1.2] * 5, [0] * 5)).n == 0


def test_one_bad_pass_changes_little():
    """The first rated pass of a team is a zero: the passer is taken to be a little worse, and no more is known."""
    quality = pass_quality(passes([0.4], [0]))
    usual = usual_pass_quality()
    at_her = np.array([0.4]), np.array(["Ines"], dtype=object)
    assert 0 < quality.chance(*at_her)[0] - usual.chance(*at_her)[0] < 0.15
    assert quality.covariance[2, 2] == pytest.approx(PASSERS_SD**2, rel=0.1)


def test_passes_of_one_evening_count_for_less():
    demand, ratings = np.linspace(0, 1, 40), np.linspace(3, 1, 40)
    apart, together = (pass_quality(passes(demand, ratings, evenings=of)) for of in (np.arange(40), np.zeros(40, int)))
    assert together.effective < apart.effective == 40
    assert (np.diag(together.covariance) > np.diag(apart.covariance)).all()


def test_a_better_passer_of_many_is_told_and_of_few_passes_hardly():
    demand = np.tile(np.linspace(0, 1, 10), 50)
    names = np.repeat(["Ines", "Noor", "Wren", "Yuki", "Zofia"], 100)
    chance = np.random.default_rng(3)
    better = np.where(names == "Noor", 0.2, 0.0)
    ratings = 3 * (0.7 - 0.3 * demand + better + chance.normal(0, 0.1, 500))
    quality = pass_quality(passes(demand, np.clip(ratings, 0, 3), names))
    own = dict(zip(quality.passers, quality.told[2:], strict=True))
    assert max(own, key=lambda name: own[name]) == "Noor"
    assert own["Noor"] - own["Ines"] == pytest.approx(0.2, abs=0.05)
    few = pass_quality(passes(demand[::25], np.clip(ratings, 0, 3)[::25], names[::25]))
    noor, ines = (2 + few.passers.index(name) for name in ("Noor", "Ines"))
    assert few.told[noor] - few.told[ines] < 0.2
    assert few.covariance[noor, noor] > quality.covariance[noor, noor]


def test_what_passes_leave_possible_scatters_as_they_say():
    quality = pass_quality(passes(np.linspace(0, 1, 30), np.linspace(3, 1, 30)))
    possible = quality.possible(4000, np.random.default_rng(1)).told
    assert possible[0] == pytest.approx(quality.told)
    told = possible[1:]
    assert told.mean(axis=0) == pytest.approx(quality.told, abs=0.01)
    assert np.cov(told.T) == pytest.approx(quality.covariance, abs=0.002)


def test_the_posterior_is_that_of_a_general_library():
    """Least squares (statsmodels) on the passes and, as further rows, on what is usual, each by its deviation."""
    chance = np.random.default_rng(6)
    demand, names = chance.uniform(0, 1, 60), np.tile(["Ines", "Noor", "Wren"], 20)
    ratings = np.clip(np.round(3 * (0.8 - 0.3 * demand + chance.normal(0, 0.3, 60))), 0, 3)
    quality = pass_quality(passes(demand, ratings, names).assign(evening=np.arange(60)))
    dummies = names[:, None] == np.array(quality.passers)
    rows = np.column_stack([np.ones(60), demand, dummies]).astype(float)
    sd = np.sqrt(OLS(ratings / 3, rows[:, :2]).fit().ssr / 58)
    usual_sd = np.array([*USUAL_SD, *[PASSERS_SD] * 3])
    weighted = np.vstack([rows / sd, np.diag(1 / usual_sd)])
    fitted = OLS(np.append(ratings / 3 / sd, np.array([*USUAL, 0, 0, 0]) / usual_sd), weighted).fit()
    assert quality.told == pytest.approx(fitted.params)
    assert quality.covariance == pytest.approx(fitted.normalized_cov_params)


def test_of_equal_passers_the_worst_is_not_believed():
    """36 passers with eight passes each, all alike: raw the lowest mean looks half as good as the rest."""
    chance = np.random.default_rng(5)
    names = np.repeat([f"p{n}" for n in range(36)], 8)
    ratings = chance.choice([0, 1, 2, 3], 288)
    table = passes(np.full(288, 0.4), ratings, names).assign(evening=np.arange(288))
    quality = pass_quality(table)
    raw = table.groupby("passer")["pass_rating"].mean().min()
    drawn = 3 * (quality.told[0] + 0.4 * quality.told[1] + quality.told[2:].min())
    assert raw < 0.9
    assert drawn > 1.2


def test_out_of_reach_wins_and_an_unknown_passer_is_the_usual_one():
    usual = usual_pass_quality()
    wins = usual.chance(np.array([0.0, 1.0, 1.01, np.nan]), np.array([""] * 4, dtype=object))
    assert wins == pytest.approx([1 - 0.75 * 0.87, 1 - 0.75 * 0.42, 1.0, 1 - 0.75 * 0.87]), "unknown is no ace"


def test_a_passer_who_has_not_passed_yet_is_on_the_line_beside_one_who_passes_better():
    """Hand-worked: at no demand the line is .6, Ines .2 better; 1 - .75 times each."""
    quality = PassQuality(np.array([0.6, -0.4, 0.2]), np.eye(3), ("Ines",))
    wins = quality.chance(np.zeros(3), np.array(["Ines", "Noor", ""], dtype=object))
    assert wins == pytest.approx([1 - 0.75 * 0.8, 1 - 0.75 * 0.6, 1 - 0.75 * 0.6])
