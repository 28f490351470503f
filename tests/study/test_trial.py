"""A trial by chance: the exact test is held to scipy's, and whole seasons to what a coach would see."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import permutation_test

from serve_marker.logbook.records import Trial
from serve_marker.study.intraclass import EVENING_COLUMNS, codes_of
from serve_marker.study.trial import MOST_DRAWS, drawn_by_chance, draws_of, permutation, trial_result
from serve_marker.study.trial_words import trial_sentence

PLAYERS = tuple("abcdefgh")
TRIAL = Trial(
    id="t",
    name="a higher toss",
    drawn_on="2026-10-10",
    retest_on="2026-10-24",
    aim="deep 1",
    tries=PLAYERS[:4],
    others=PLAYERS[4:],
)


def season(hits, days=("2026-10-01", "2026-10-12", "2026-10-24"), players=PLAYERS, aim="deep 1", serves=20):
    """Serves of all players on all days; ``hits(player, day)`` of them on target."""
    rows = [
        {"player_id": who, "date": day, "practice_id": day, "hit": number < hits(who, day)}
        for day in days
        for who in players
        for number in range(serves)
    ]
    table = pd.DataFrame(rows).assign(aim=aim, season="", outcome="floor", verdict="in", serve_type="float")
    table = table.assign(aim_hit=table["hit"], aim_surely=table["hit"], aim_may=table["hit"], target_kind="mats")
    return table.assign(evening=codes_of(table, EVENING_COLUMNS))


def test_the_p_is_that_of_all_draws():
    """4 of the 70 draws of four out of eight are as far apart: enumeration and scipy agree."""
    others, tries = [0.4, 0.9, 1.3, 2.1], [1.5, 2.2, 2.9, 3.4]
    more, p = permutation(np.array(tries), np.array(others))
    known = permutation_test((tries, others), lambda x, y: np.mean(x) - np.mean(y), n_resamples=np.inf)
    assert (more, p) == pytest.approx((known.statistic, known.pvalue))
    assert p == pytest.approx(4 / 70)


def test_of_very_many_draws_enough_are_taken():
    chance = np.random.default_rng(1)
    tries, others = chance.normal(0.5, 1.0, (2, 12))
    assert draws_of(12, 12) > MOST_DRAWS
    known = permutation_test((tries, others), lambda x, y: np.mean(x) - np.mean(y), n_resamples=40_000, rng=2)
    assert permutation(tries, others)[1] == pytest.approx(known.pvalue, abs=0.01)


def test_a_gain_of_those_who_tried_it_is_told_at_the_retest():
    """All were at 8 of 20; those who try it come to 13, the others to 9, all of them alike: the first draw of 70."""
    table = season(lambda who, day: 8 if day < TRIAL.drawn_on else 13 if who in TRIAL.tries else 9)
    result = trial_result(table, TRIAL)
    assert (result.tries, result.others, result.days_after, result.is_due) == (4, 4, 2, True)
    assert (result.more, result.p) == pytest.approx((0.2, 2 / 70))
    assert trial_sentence(result, TRIAL.retest_on) == (
        "Those who tried it came out 20 of 100 better: chance does that 2.9 times in 100."
    )


def test_what_all_gain_is_no_gain_of_the_trial():
    chance = np.random.default_rng(3)
    noise = {(who, day): chance.integers(-2, 3) for who in PLAYERS for day in ("2026-10-12", "2026-10-24")}
    table = season(lambda who, day: 8 if day < TRIAL.drawn_on else 14 + noise[who, day])
    assert not trial_result(table, TRIAL).told


def large_gain(who, day):
    return 18 if day >= TRIAL.drawn_on and who in TRIAL.tries else 5


def test_before_the_retest_nothing_is_told():
    table = season(large_gain, days=("2026-10-01", "2026-10-12", "2026-10-14"))
    result = trial_result(table, TRIAL)
    assert not result.is_due
    assert not result.told
    assert trial_sentence(result, TRIAL.retest_on) == "It is told at the retest, Sat 24 Oct 2026."


def test_one_day_since_and_too_few_players_tell_nothing():
    alone = season(large_gain, days=("2026-10-01", "2026-10-24"))
    assert trial_sentence(trial_result(alone, TRIAL), TRIAL.retest_on).startswith("One day since cannot tell")
    few = season(lambda who, day: 5, players=tuple("abcefg"))
    assert trial_sentence(trial_result(few, TRIAL), TRIAL.retest_on).startswith("3 and 3 players cannot tell")


def test_serves_after_the_retest_and_at_other_aims_do_not_count():
    gained = season(lambda who, day: 8 if day < TRIAL.drawn_on else 13 if who in TRIAL.tries else 9)
    later = season(lambda who, day: 0, days=("2026-10-30",))
    elsewhere = season(lambda who, day: 20, aim="seam 5-6")
    both = pd.concat([gained, later, elsewhere], ignore_index=True)
    assert trial_result(both, TRIAL) == trial_result(gained, TRIAL)


def test_chance_draws_half_and_everybody_once():
    drawn = [drawn_by_chance(PLAYERS, np.random.default_rng(seed)) for seed in range(300)]
    for tries, others in drawn:
        assert len(tries) == len(others) == 4
        assert sorted(tries + others) == list(PLAYERS)
    often = [sum(who in tries for tries, _ in drawn) for who in PLAYERS]
    assert min(often) > 150 - 4 * 8.7, "each player is drawn half of the time (binomial deviation 8.7)"
    assert max(often) < 150 + 4 * 8.7


def test_a_retest_held_late_counts_with_its_serves():
    """Named for 24 October, held on the 27th; what others serve on the 24th is not theirs."""
    days = ("2026-10-01", "2026-10-12", "2026-10-27")
    late = season(lambda who, day: 8 if day < TRIAL.drawn_on else 13 if who in TRIAL.tries else 9, days=days)
    stranger = season(lambda who, day: 0, days=("2026-10-24",), players=("z",))
    result = trial_result(pd.concat([late, stranger], ignore_index=True), TRIAL)
    assert (result.is_due, result.days_after) == (True, 2)
    assert result.more == pytest.approx(0.2)


def test_an_aim_with_a_point_of_its_own_is_the_aim():
    table = season(lambda who, day: 8 if day < TRIAL.drawn_on else 13 if who in TRIAL.tries else 9, aim="deep 1 at 8")
    assert trial_result(table, replace(TRIAL, aim="deep 1 at 8")).tries == 4
