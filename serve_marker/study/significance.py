"""Differences between two groups of serves, told within what both were asked to do and then held together."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from serve_marker.confidence_level import TAIL
from serve_marker.court.dimensions import Floats
from serve_marker.study.intraclass import TASK_COLUMNS, Evenings, codes_of, effective_n, evenings_of
from serve_marker.study.rates import Attempts, Rate, rate, rates_in_cells, wilson

if TYPE_CHECKING:
    import pandas

Pairs = Sequence[tuple[Rate, Rate]]


@dataclass(frozen=True)
class Difference:
    """How much larger the second of two numbers is, with its 95 % interval; NaN where it cannot be told."""

    value: float
    low: float
    high: float

    @property
    def told(self) -> bool:
        """Whether the interval leaves out zero."""
        return self.low > 0 or self.high < 0


def rate_difference(before: Rate, since: Rate, tests: int = 1) -> Difference:
    """Return by how much a rate rose, with Newcombe's interval from two Wilson intervals (Stat. Med. 17:873, 1998).

    Examples
    --------
    >>> from serve_marker.study.rates import rate
    >>> found = rate_difference(rate(48, 80), rate(56, 70))
    >>> round(found.value, 4), round(found.low, 4), round(found.high, 4)
    (0.2, 0.0524, 0.3339)
    """
    return stratified_rate_difference([(before, since)], tests)


def stratified_rate_difference(pairs: Pairs, tests: int = 1) -> Difference:
    """Return by how much a rate rose within each of several strata (before, since), held together.

    Strata weigh as Mantel and Haenszel have it, n1 n2 / (n1 + n2) (J. Natl. Cancer Inst. 22:719, 1959; the difference:
    S. Greenland, J. Robins, Biometrics 41:55, 1985). The interval of one stratum is Newcombe's, that of several has
    the variance of Mantel and Haenszel's test, each of its effective n.

    Serves too close to call widen it: each rate runs from its sure hits to the most possible. Where
    so many ``tests`` are made, each gets its share of the 5 in 100 (Bonferroni).
    """
    pairs = [(before, since) for before, since in pairs if before.n and since.n]
    if not pairs:
        return Difference(math.nan, math.nan, math.nan)
    z = NormalDist().inv_cdf(1 - TAIL / tests)
    weights = np.array([before.n * since.n / (before.n + since.n) for before, since in pairs])
    weights /= weights.sum()
    shares = [(one.hits / one.n, one.most / one.n) for pair in pairs for one in pair]
    before_low, before_most, since_low, since_most = np.reshape(shares, (-1, 4)).T
    if len(pairs) == 1:
        under, over = _newcombe_margins(*pairs[0], z)
    else:
        under = z * _deviation(pairs, weights, before_most, since_low)
        over = z * _deviation(pairs, weights, before_low, since_most)
    value = weights @ (since_low + since_most - before_low - before_most) / 2
    low, high = weights @ (since_low - before_most) - under, weights @ (since_most - before_low) + over
    return Difference(float(value), float(low), float(high))


def odds_ratio(pairs: Pairs) -> float:
    """Return how many times larger the odds became within the strata (Mantel and Haenszel 1959); NaN if undefined.

    What is too close to call counts half.

    Examples
    --------
    >>> from serve_marker.study.rates import rate
    >>> odds_ratio([(rate(2, 4), rate(6, 8))])
    3.0
    """
    top = bottom = 0.0
    for before, since in pairs:
        together = before.n + since.n
        first, second = ((one.hits + one.most) / 2 for one in (before, since))
        if together:
            top += second * (before.n - first) / together
            bottom += first * (since.n - second) / together
    return top / bottom if bottom else math.nan


def task_rates(
    groups: Sequence[pandas.DataFrame],
    attempts_of: Callable[[pandas.DataFrame], Attempts],
    rho: float,
    by: tuple[str, ...] = TASK_COLUMNS,
) -> list[dict[int, Rate]]:
    """Return for each group of serves its rate in each task it attempted; equal numbers are equal tasks.

    Serves of one evening resemble each other by ``rho``, whatever their task.
    """
    import pandas as pd

    tasks = codes_of(pd.concat([group[list(by)] for group in groups], ignore_index=True), by)
    ends = np.cumsum([len(group) for group in groups])[:-1]
    found = []
    for group, cells in zip(groups, np.split(tasks, ends), strict=True):
        attempts = attempts_of(group)
        counted = attempts.counted
        worth = effective_n(evenings_of(group)[counted], rho) / max(1, counted.sum())
        present, numbered = np.unique(cells, return_inverse=True)
        rates = rates_in_cells(attempts, numbered, len(present), worth)
        found.append({int(cell): one for cell, one in zip(present, rates, strict=True) if one.n})
    return found


def in_common(before: Mapping[int, Rate], since: Mapping[int, Rate]) -> list[tuple[Rate, Rate]]:
    """Return both rates of each task that both attempted."""
    return [(before[task], since[task]) for task in before if task in since]


def added(rates: Sequence[Rate]) -> Rate:
    """Return the rate of all attempts of several rates."""
    hits, n, most = (sum(getattr(one, name) for one in rates) for name in ("hits", "n", "most"))
    return rate(hits, n, most, sum(one.effective_n for one in rates))


def _newcombe_margins(before: Rate, since: Rate, z: float) -> tuple[float, float]:
    """How far the interval of two rates reaches below its lowest and above its highest difference."""
    (before_low, before_most, before_from, before_to), (since_low, since_most, since_from, since_to) = (
        _ends(one, z) for one in (before, since)
    )
    under = math.hypot(since_low - since_from, before_to - before_most)
    return under, math.hypot(since_to - since_most, before_low - before_from)


def _ends(one: Rate, z: float) -> tuple[float, float, float, float]:
    """Fewest and most share of a rate, and the Wilson bounds beyond them."""
    low, most, worth = one.hits / one.n, one.most / one.n, one.effective_n
    return low, most, wilson(low * worth, worth, z)[0], wilson(most * worth, worth, z)[1]


def _deviation(pairs: Pairs, weights: Floats, before: Floats, since: Floats) -> float:
    """Standard deviation of the weighted difference if both shares (S,) of each stratum were alike.

    One more hit and one more miss in each keep a few serves that all went alike from telling too much (A. Agresti, B.
    Caffo, Am. Stat. 54:280, 2000).
    """
    worth = np.array([(first.effective_n, second.effective_n) for first, second in pairs])
    sizes = np.array([(first.n, second.n) for first, second in pairs], dtype=float)
    alike = (sizes[:, 0] * before + sizes[:, 1] * since + 1) / (sizes.sum(axis=1) + 2)
    together = worth.sum(axis=1)
    variance = alike * (1 - alike) * (1 / worth).sum(axis=1) * together / np.maximum(together - 1, 0.5)
    return math.sqrt(float((weights**2 * variance).sum()))


def stratified_mean_difference(
    values: Floats,
    second: NDArray[np.bool_],
    strata: NDArray[np.int64],
    evenings: Evenings,
    rho: float,
    tests: int = 1,
) -> Difference:
    """Return by how much the mean of values (N,) is higher where ``second`` (N,), within the strata (N,) and over all.

    The common difference of least squares with a level for each stratum; variance within cells of stratum and group,
    df of the effective n. ``evenings``, ``rho`` and ``tests`` as for rates. Rows with NaN are left out.
    """
    from scipy.special import stdtrit

    known = np.isfinite(values)
    cells = 2 * strata + second
    counts = np.bincount(cells[known], minlength=2 * (int(strata.max(initial=0)) + 1)).astype(float)
    shared = (counts[0::2] > 0) & (counts[1::2] > 0)
    known &= shared[strata]
    if not known.any():
        return Difference(math.nan, math.nan, math.nan)
    values, second, cells, evenings = values[known], second[known], cells[known], evenings[known]
    means = np.bincount(cells, values, len(counts)) / np.maximum(counts, 1)
    first_n, second_n = counts[0::2][shared], counts[1::2][shared]
    weights = first_n * second_n / (first_n + second_n)
    value = float(np.average((means[1::2] - means[0::2])[shared], weights=weights))
    worth = [effective_n(evenings[of], rho) / of.sum() for of in (~second, second)]
    freedom = worth[0] * first_n.sum() + worth[1] * second_n.sum() - 2 * shared.sum()
    left_over = len(values) - 2 * shared.sum()
    if freedom <= 0 or left_over <= 0:
        return Difference(value, math.nan, math.nan)
    variance = ((values - means[cells]) ** 2).sum() / left_over / (1 - rho)
    of_difference = variance * (1 / (worth[0] * first_n) + 1 / (worth[1] * second_n))
    deviation = math.sqrt(float((weights**2 * of_difference).sum())) / weights.sum()
    margin = float(stdtrit(freedom, 1 - TAIL / tests)) * deviation
    return Difference(value, value - margin, value + margin)
