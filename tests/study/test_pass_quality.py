"""What the team's own passes tell of a serve's chance to win the rally."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from serve_marker.study.pass_quality import USUAL, pass_quality, usual_pass_quality


def passes(demand, ratings, passers="Ines", evenings=None):
    table = pd.DataFrame({"demand": demand, "pass_rating": ratings, "outcome": "received", "passer": passers})
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
    assert quality.line.tolist() == USUAL.tolist()
    assert quality.n == 0


def test_many_passes_are_the_line_of_least_squares():
    chance = np.random.default_rng(2)
    demand = chance.uniform(0, 1, 4000)
    ratings = np.clip(3 * (0.7 - 0.2 * demand + chance.normal(0, 0.1, 4000)), 0, 3)
    quality = pass_quality(passes(demand, ratings))
    slope, level = np.polyfit(demand, ratings / 3, 1)
    assert quality.line == pytest.approx([level, slope], abs=0.01)


def test_only_passes_of_received_balls_count():
    aces = passes([0.4] * 20, [0] * 20).assign(outcome="floor")
    quality = pass_quality(pd.concat([passes([0.4] * 5, [2] * 5), aces], ignore_index=True))
    assert quality.n == 5
    assert pass_quality(aces).n == 0


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
    own = {name: better for name, (better, _) in quality.of_passer.items()}
    assert max(own, key=lambda name: own[name]) == "Noor"
    assert own["Noor"] - own["Ines"] == pytest.approx(0.2, abs=0.04)
    few = pass_quality(passes(demand[::25], np.clip(ratings, 0, 3)[::25], names[::25]))
    assert few.of_passer["Noor"][0] - few.of_passer["Ines"][0] < 0.2
    assert few.of_passer["Noor"][1] > quality.of_passer["Noor"][1]


def test_what_passes_leave_possible_scatters_as_they_say():
    quality = pass_quality(passes(np.linspace(0, 1, 30), np.linspace(3, 1, 30)))
    first, *others = quality.possible(4000, np.random.default_rng(1))
    assert first is quality
    lines = np.array([one.line for one in others])
    assert np.cov(lines.T) == pytest.approx(quality.covariance, rel=0.1)
    ines = np.array([one.of_passer["Ines"][0] for one in others])
    assert (ines.mean(), ines.std()) == pytest.approx(quality.of_passer["Ines"], abs=0.005)


def test_out_of_reach_wins_and_an_unknown_passer_is_the_usual_one():
    usual = usual_pass_quality()
    wins = usual.chance(np.array([0.0, 1.0, 1.01]), np.array(["", "", ""], dtype=object))
    assert wins == pytest.approx([1 - 0.75 * 0.87, 1 - 0.75 * 0.42, 1.0])
