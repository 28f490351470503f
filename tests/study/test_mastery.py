"""Evidence of mastery against scipy's distributions, a published constant, and figures of other simulations."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from serve_marker.study.mastery import (
    SEASON_SERVES,
    UNPLACED_SPREADS,
    Goal,
    evidence,
    serves_lacking,
    threshold,
    usual_evening,
)

HITS = Goal(0.5, 0.75)
PLACES = Goal(1.2, 0.9, axes=2)


def test_hits_and_misses_tell_the_ratio_of_their_likelihoods():
    """scipy.stats.bernoulli."""
    for goal in (HITS, Goal(0.2, 0.38)):
        for hit in (True, False):
            told = np.subtract(
                *(scipy.stats.bernoulli.logpmf(int(hit), rate) for rate in (goal.mastery, goal.not_enough))
            )
            assert goal.of_hits(np.array(hit)) == pytest.approx(told)


def test_a_hit_and_a_miss_lie_ln_3_apart_at_the_usual_rates():
    """Wald's k of the sequential test of .5 against .75 (Sequential Analysis, 1947): ln(.75 .5 / (.5 .25)) = ln 3."""
    assert np.ptp(HITS.of_hits(np.array([True, False]))) == pytest.approx(math.log(3))


@pytest.mark.parametrize("axes", [1, 2])
def test_places_tell_the_ratio_of_their_densities(axes):
    """scipy.stats.multivariate_normal."""
    goal, misses_m = Goal(1.2, 0.9, axes), np.random.default_rng(1).normal(size=(50, axes))
    densities = [
        scipy.stats.multivariate_normal(np.zeros(axes), spread_m**2 * np.eye(axes)).logpdf(misses_m)
        for spread_m in (goal.mastery, goal.not_enough)
    ]
    assert goal.of_misses((misses_m**2).sum(axis=1)) == pytest.approx(np.subtract(*densities))


def test_a_serve_without_a_place_counts_as_a_wild_one():
    assert PLACES.of_misses(np.array(math.nan)) == PLACES.of_misses(np.array((UNPLACED_SPREADS * 0.9) ** 2))
    assert PLACES.of_misses(np.array(math.nan)) < HITS.of_hits(np.array(False))


@pytest.mark.parametrize(
    ("not_enough", "mastery", "axes"), [(0.75, 0.5, 0), (0.5, 0.5, 0), (0.0, 0.5, 0), (0.5, 1.0, 0), (0.9, 1.2, 2)]
)
def test_goals_that_tell_nothing_apart_are_refused(not_enough, mastery, axes):
    with pytest.raises(ValueError, match="two rates or distances"):
        Goal(not_enough, mastery, axes)


def test_evidence_by_hand():
    """hit .405, miss -.693: first evening 2 hits, 3 misses and 1 hit; the sum stops at 0 only between evenings."""
    hit, miss = HITS.of_hits(np.array([True, False]))
    told = np.array([hit, hit, miss, miss, miss, hit, hit, hit, hit])
    gathered = evidence(told, np.array([0] * 6 + [1] * 3), 0.0, two_dates=False)
    expected = [hit, 2 * hit, 2 * hit + miss, 0, 0, 0, hit, 2 * hit, 3 * hit]
    assert gathered == pytest.approx(np.clip(expected, 0, None))


def test_one_evening_is_no_mastery_however_good():
    hits = HITS.of_hits(np.ones(60, dtype=bool))
    assert evidence(hits, np.zeros(60, dtype=int), 0.0).max() == 0
    two = evidence(hits, np.repeat([0, 1], [50, 10]), 0.0)
    assert two[-1] == pytest.approx(2 * 10 * hits[0]), "twice what the other evening told"


def test_serves_of_one_evening_count_for_fewer():
    """n of them tell as much as n / (1 + (n - 1) rho): 20 at .05 as much as 10.26 (Kish)."""
    hits = HITS.of_hits(np.ones(20, dtype=bool))
    gathered = evidence(hits, np.zeros(20, dtype=int), 0.05, two_dates=False)
    assert gathered[-1] == pytest.approx(20 / 1.95 * hits[0])


def test_no_serves_no_evidence():
    assert evidence(np.zeros(0), np.zeros(0, dtype=int), 0.1).size == 0


@given(st.lists(st.booleans(), min_size=1, max_size=60), st.integers(1, 9), st.floats(0, 0.4))
def test_evidence_is_never_more_than_all_hits_and_never_grows_with_a_miss(hits, evening, rho):
    told = HITS.of_hits(np.array(hits))
    evenings = np.arange(len(hits)) // evening
    gathered = evidence(told, evenings, rho, two_dates=False)
    assert (gathered >= 0).all()
    assert gathered.max() <= np.clip(told, 0, None).sum() + 1e-9
    assert (evidence(told, evenings, rho) <= gathered + 1e-9).all()


def test_a_plain_sum_passes_as_often_as_another_simulation_found():
    """600 seasons of 400 serves at .5 elsewhere: S >= 6 is reached in 10 of 100; at .75 after 37 serves (median)."""
    rng = np.random.default_rng(5)
    passed: list[int] = []
    after: list[int] = []
    for rate, found in ((0.5, passed), (0.75, after)):
        for _ in range(600):
            told = HITS.of_hits(rng.random(SEASON_SERVES) < rate)
            gathered = evidence(told, np.arange(SEASON_SERVES), 0.0, two_dates=False)
            found.append(int(np.argmax(gathered >= 6)) + 1 if gathered.max() >= 6 else 0)
    assert np.mean(np.array(passed) > 0) == pytest.approx(0.10, abs=0.04)
    assert np.median(after) == pytest.approx(37, abs=4)


@pytest.mark.parametrize(
    ("goal", "rho", "size"), [(HITS, 0.0, 20), (HITS, 0.1, 10), (PLACES, 0.06, 20), (HITS, 0.2, 1), (PLACES, 0.2, 2)]
)
@pytest.mark.parametrize("against", [False, True])
def test_the_threshold_holds_the_risk_in_seasons_drawn_anew(goal, rho, size, against):
    """1,000 other seasons: at most 10 of 100 cross it, but for chance (three standard errors), and not far fewer."""
    rng = np.random.default_rng(11)
    asked = threshold(goal, rho, size, 0.1, against)
    truth, sign = (goal.mastery, -1) if against else (goal.not_enough, 1)
    evenings = np.repeat(np.arange(SEASON_SERVES // size), size)
    crossed = 0
    for _ in range(1000):
        told = np.concatenate([goal.drawn(rng, truth, rho, (1, size))[0] for _ in range(SEASON_SERVES // size)])
        crossed += evidence(sign * told, evenings, rho, two_dates=not against).max() >= asked
    assert 0.05 < crossed / 1000 < 0.10 + 3 * math.sqrt(0.1 * 0.9 / 1000)


def test_more_correlated_evenings_and_smaller_risks_ask_for_more_serves():
    lacking = [
        serves_lacking(HITS, rho, 20, threshold(HITS, rho, 20, risk))
        for rho, risk in ((0.0, 0.1), (0.06, 0.1), (0.06, 0.02))
    ]
    assert lacking == sorted(lacking)
    assert lacking[0] < 60


def test_what_an_evening_usually_holds():
    assert usual_evening(np.repeat([0, 1, 2], [3, 2, 4])) == 3
    assert usual_evening(np.repeat([0, 1], [45, 80])) == 40
    assert usual_evening(np.zeros(0, dtype=int)) == 1


def test_serves_lacking_follow_the_mean_gain_of_a_serve():
    """Kullback-Leibler distance of .75 from .5: .75 ln 1.5 + .25 ln .5 = .13081; of normals 1.0 from 1.5 m: by sums."""
    assert serves_lacking(HITS, 0.0, 20, 1.3081) == 10
    gain = 2 * (math.log(1.5) - (1 - 1 / 2.25) / 2)
    assert serves_lacking(Goal(1.5, 1.0, axes=2), 0.0, 20, 10 * gain - 1e-9) == 10
    assert serves_lacking(HITS, 0.05, 21, 1.3081) == 20
    assert serves_lacking(HITS, 0.0, 20, -1.0) == 0
