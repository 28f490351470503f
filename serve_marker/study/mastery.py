"""Whether a server has mastered an aim: evidence that grows and shrinks with her serves, under a risk per season.

The evidence is a cumulative sum of log likelihood ratios that never falls below zero (E. S. Page, Biometrika 41:100,
1954; for hits and misses M. R. Reynolds, Z. G. Stoumbos, J. Qual. Technol. 31:87, 1999). Whoever looks after each serve
and begins anew after a bad evening looks often: so the threshold is not that of one test, but such that a server who
has *not* mastered the aim passes it in no more than a given share of whole seasons, drawn with evenings that differ.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import Floats

SEASON_SERVES = 400
"""Serves of one server at one aim in a season, which the risk is told for (own choice)."""
SEASONS_DRAWN = 4000
EVENING_SIZES = (1, 2, 3, 5, 10, 20, 40)
UNPLACED_SPREADS = 3.0
"""Where places decide, a serve that came down nowhere counts as so many spreads from the aim (own choice)."""


@dataclass(frozen=True)
class Goal:
    """What is told apart: a server who has not mastered an aim, and one who has.

    Parameters
    ----------
    not_enough, mastery : share of serves that hit the aim [0-1]; with ``axes``, how far they fall from it: the root of
        the mean square along one axis [m], pull and spread together.
    axes : along how many axes places decide (2, or 1 for a seam); 0 where hits do.
    """

    not_enough: float
    mastery: float
    axes: int = 0

    def __post_init__(self) -> None:
        ends = (self.mastery, self.not_enough) if self.axes else (self.not_enough, self.mastery)
        if not 0 < ends[0] < ends[1] < (math.inf if self.axes else 1):
            raise ValueError(f"a goal needs two rates or distances that differ, got {self.not_enough}, {self.mastery}")

    def of_hits(self, hit: NDArray[np.bool_]) -> Floats:
        """Return what hits and misses (...) tell for mastery: the log likelihood ratio of each.

        Examples
        --------
        >>> Goal(0.5, 0.75).of_hits(np.array([True, False])).round(3).tolist()
        [0.405, -0.693]
        """
        told = math.log(self.mastery / self.not_enough)
        against = math.log((1 - self.mastery) / (1 - self.not_enough))
        return np.where(hit, told, against)

    def of_misses(self, squared_m2: Floats) -> Floats:
        """Return what squared distances from the aim (...) tell for mastery; NaN is a serve without a place.

        Examples
        --------
        >>> Goal(1.2, 0.9, axes=2).of_misses(np.array([0.0, 2.0])).round(3).tolist()
        [0.575, 0.035]
        """
        squared_m2 = np.where(np.isnan(squared_m2), (UNPLACED_SPREADS * self.mastery) ** 2, squared_m2)
        nearer = 1 / self.mastery**2 - 1 / self.not_enough**2
        return self.axes * math.log(self.not_enough / self.mastery) - squared_m2 * nearer / 2

    def drawn(self, rng: np.random.Generator, truth: float, rho: float, shape: tuple[int, int]) -> Floats:
        """Return what an evening tells of servers whose rate or distance is ``truth``: (servers, serves).

        The serves of an evening are correlated by ``rho``: its rate is drawn from a beta distribution, its pull from a
        normal one.
        """
        servers, serves = shape
        if self.axes:
            pull = math.sqrt(rho) * rng.standard_normal((servers, 1, self.axes))
            about = math.sqrt(1 - rho) * rng.standard_normal((servers, serves, self.axes))
            return self.of_misses(truth**2 * ((pull + about) ** 2).sum(axis=2))
        rate: Floats | float = truth
        if rho > 0:
            rate = rng.beta(truth * (1 / rho - 1), (1 - truth) * (1 / rho - 1), (servers, 1))
        return self.of_hits(rng.random(shape) < rate)


@dataclass(frozen=True, eq=False)
class _Gathered:
    """Evidence of servers (M,) when an evening begins, and how much of it one evening alone has brought."""

    total: Floats
    of_best_evening: Floats

    def through(self, told: Floats, rho: float, two_dates: bool, most: float) -> tuple[Floats, _Gathered]:
        """Return the evidence (M, n) after each serve of an evening that tells ``told`` (M, n), and what it leaves."""
        of_evening = told.cumsum(axis=1) / (1 + np.arange(told.shape[1]) * rho)
        total = np.clip(self.total[:, None] + of_evening, 0.0, most)
        best = np.maximum(self.of_best_evening[:, None], of_evening)
        end = total[:, -1]
        counted = np.minimum(total, 2 * (total - best)) if two_dates else total
        return counted, _Gathered(end, np.where(end > 0, best[:, -1], 0.0))


def _nothing_yet(servers: int) -> _Gathered:
    return _Gathered(np.zeros(servers), np.zeros(servers))


def evidence(
    told: Floats, evenings: NDArray[np.int64], rho: float, two_dates: bool = True, most: float = math.inf
) -> Floats:
    """Return the evidence (N,) after each of N serves in their order.

    Parameters
    ----------
    told : log likelihood ratio of each serve (N,), of `Goal.of_hits` or `Goal.of_misses`.
    evenings : a number (N,) for each serve, the same for all of an evening.
    rho : correlation of serves of one evening; n of them count as n / (1 + (n - 1) rho).
    two_dates : half of what the threshold asks must come from other evenings than the best.
    most : evidence stops to grow here, so that it turns soon when the server changes.

    Examples
    --------
    >>> hits = Goal(0.5, 0.75).of_hits(np.ones(4, dtype=bool))
    >>> evidence(hits, np.array([0, 0, 1, 1]), 0.0).round(2).tolist()
    [0.0, 0.0, 0.81, 1.62]
    """
    found, gathered = [np.zeros(0)], _nothing_yet(1)
    for part in np.split(told, np.flatnonzero(np.diff(evenings)) + 1) if len(told) else ():
        counted, gathered = gathered.through(part[None, :], rho, two_dates, most)
        found.append(counted[0])
    return np.concatenate(found)


@lru_cache(maxsize=512)
def threshold(goal: Goal, rho: float, serves_an_evening: int, risk: float, against: bool = False) -> float:
    """Return the evidence that a server who has not mastered the goal reaches in a share ``risk`` of seasons.

    A season is SEASON_SERVES serves at the aim, looked at after each. ``against`` turns the question round: evidence
    against mastery, of one evening or more, that a server who has mastered it reaches in that share of seasons. The
    share is at most that: two standard errors are allowed for drawing no more than SEASONS_DRAWN.

    Examples
    --------
    >>> 2.5 < threshold(Goal(0.5, 0.75), 0.0, 20, 0.1) < 4.0
    True
    """
    rng, peak, gathered = np.random.default_rng(0), np.zeros(SEASONS_DRAWN), _nothing_yet(SEASONS_DRAWN)
    truth, sign = (goal.mastery, -1) if against else (goal.not_enough, 1)
    for _ in range(SEASON_SERVES // serves_an_evening):
        told = sign * goal.drawn(rng, truth, rho, (SEASONS_DRAWN, serves_an_evening))
        counted, gathered = gathered.through(told, rho, not against, math.inf)
        peak = np.maximum(peak, counted.max(axis=1))
    allowed = risk - 2 * math.sqrt(risk * (1 - risk) / SEASONS_DRAWN)
    return float(np.quantile(peak, 1 - max(allowed, risk / 2)))


def usual_evening(evenings: NDArray[np.int64]) -> int:
    """Return about how many serves a server hits at an aim in one evening, of EVENING_SIZES, rather too few.

    Examples
    --------
    >>> usual_evening(np.repeat([0, 1, 2], [12, 18, 25]))
    10
    """
    usual = float(np.median(np.unique(evenings, return_counts=True)[1])) if len(evenings) else 0.0
    return max((size for size in EVENING_SIZES if size <= usual), default=EVENING_SIZES[0])


def serves_lacking(goal: Goal, rho: float, serves_an_evening: int, missing: float) -> int:
    """Return about how many more serves of a server who has mastered a goal bring the evidence that is missing.

    Examples
    --------
    >>> serves_lacking(Goal(0.5, 0.75), 0.0, 20, 2.6)
    20
    """
    if goal.axes:
        apart = goal.not_enough / goal.mastery
        gain = goal.axes * (math.log(apart) - (1 - 1 / apart**2) / 2)
    else:
        gain = float(goal.mastery * goal.of_hits(np.array(True)) + (1 - goal.mastery) * goal.of_hits(np.array(False)))
    return math.ceil(max(missing, 0.0) * (1 + (serves_an_evening - 1) * rho) / gain)
