"""Something tried honestly: chance draws who tries it, and what she draws decides what chance alone can do.

Players are drawn, so players are redrawn: under the hypothesis that it changes nothing every other draw would have
shown the same changes in other hands, and the share of draws that show as large a difference is an exact p (R. A.
Fisher, The Design of Experiments, 1935, chapter 2). Each player keeps her evenings, before and after, however alike
they are; a season in which all get better moves both groups. It is looked at once, on the day named beforehand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from serve_marker.confidence_level import TAIL
from serve_marker.court.aims import OWN_POINT
from serve_marker.court.dimensions import Floats
from serve_marker.logbook.records import Trial
from serve_marker.study.compare import this_season
from serve_marker.study.groups import looked_up
from serve_marker.study.rates import Rate, aim_rate, in_rate

if TYPE_CHECKING:
    import pandas

MOST_DRAWS = 20_000
"""Where there are more draws than this so many of them are taken."""
FEWEST_DAYS_AFTER = 2
"""A practice with it, and the retest on another day."""
FEWEST_DRAWS = 40
"""Fewer draws than this cannot show anything in 5 of 100: two of them, hers and its mirror, are always there."""
SEED = 23


@dataclass(frozen=True)
class TrialResult:
    """By how much more the rate of those who tried it rose than that of the others.

    Parameters
    ----------
    tries, others : how many players of each had enough serves before and after.
    more : the difference of the mean changes [0-1]; NaN where one group is empty.
    p : the share of draws with as large a difference; NaN where that is.
    days_after : days of practice since it was drawn, up to the retest.
    is_due : whether the retest has been held.
    """

    tries: int
    others: int
    more: float
    p: float
    days_after: int
    is_due: bool

    @property
    def can_tell(self) -> bool:
        """Whether there are enough players, days and draws to tell anything."""
        return (
            self.is_due and self.days_after >= FEWEST_DAYS_AFTER and draws_of(self.tries, self.others) >= FEWEST_DRAWS
        )

    @property
    def told(self) -> bool:
        """Whether the difference is told from chance."""
        return self.can_tell and self.p <= 2 * TAIL


def draws_of(tries: int, others: int) -> int:
    """Return in how many ways chance can draw so many players.

    Examples
    --------
    >>> draws_of(4, 4), draws_of(3, 3)
    (70, 20)
    """
    return comb(tries + others, tries)


def drawn_by_chance(players: Sequence[str], chance: np.random.Generator) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return who tries it and who goes on as before, half and half, each in the order given."""
    chosen = set(chance.permutation(len(players))[: len(players) // 2].tolist())
    return (
        tuple(who for place, who in enumerate(players) if place in chosen),
        tuple(who for place, who in enumerate(players) if place not in chosen),
    )


def trial_result(table: pandas.DataFrame, trial: Trial) -> TrialResult:
    """Return how a trial came out by a serve table: of each player her rate since less her rate before, this season.

    The retest is the first practice of these players on its day or after it. The rate is that of hitting the aim of the
    trial, of landing in where it has none; what is too close to call counts half.
    """
    own = table[table["player_id"].isin((*trial.tries, *trial.others))]
    retest = min((day for day in own["date"] if day >= trial.retest_on), default="")
    before, since = _periods(own[own["date"] <= retest] if retest else own, trial)
    changes = [np.array(_changes(before, since, group, trial.aim)) for group in (trial.tries, trial.others)]
    more, p = permutation(*changes)
    return TrialResult(len(changes[0]), len(changes[1]), more, p, since["date"].nunique(), bool(retest))


def permutation(tries: Floats, others: Floats) -> tuple[float, float]:
    """Return by how much the mean of ``tries`` (T,) exceeds that of ``others`` (O,), and the exact two-sided p.

    Examples
    --------
    E. Edgington's kind of example: of the 70 draws of four out of eight four are as far apart.

    >>> more, p = permutation(np.array([1.5, 2.2, 2.9, 3.4]), np.array([0.4, 0.9, 1.3, 2.1]))
    >>> round(more, 3), round(70 * p)
    (1.325, 4)
    """
    if not (len(tries) and len(others)):
        return np.nan, np.nan
    both = np.concatenate([tries, others])
    more = float(tries.mean() - others.mean())
    taken = _draws(len(both), len(tries))
    sums = both[taken].sum(axis=1)
    apart = sums / len(tries) - (both.sum() - sums) / len(others)
    return more, float(np.mean(np.abs(apart) >= abs(more) - 1e-9))


def _draws(count: int, some: int) -> NDArray[np.int64]:
    """All ways (D, some) to take some of so many places, or enough of them with the first of all among them."""
    if comb(count, some) <= MOST_DRAWS:
        return np.array(list(combinations(range(count), some)))
    chance = np.random.default_rng(SEED)
    drawn = chance.permuted(np.tile(np.arange(count), (MOST_DRAWS - 1, 1)), axis=1)[:, :some]
    return np.vstack([np.arange(some), drawn])


def _periods(table: pandas.DataFrame, trial: Trial) -> tuple[pandas.DataFrame, pandas.DataFrame]:
    rows = this_season(table)
    if trial.aim:
        aims = looked_up(rows["aim"].to_numpy(dtype=object), lambda aim: aim.partition(OWN_POINT)[0])
        rows = rows[aims == trial.aim.partition(OWN_POINT)[0]]
    return rows[rows["date"] < trial.drawn_on], rows[rows["date"] >= trial.drawn_on]


def _changes(before: pandas.DataFrame, since: pandas.DataFrame, players: Sequence[str], aim: str) -> list[float]:
    """The change of rate of each player who served enough before and since."""
    rate_of = aim_rate if aim else in_rate
    found = []
    for who in players:
        first, second = (rate_of(rows[rows["player_id"] == who]) for rows in (before, since))
        if first.enough and second.enough:
            found.append(_middle(second) - _middle(first))
    return found


def _middle(one: Rate) -> float:
    return (one.hits + one.most) / (2 * one.n)
