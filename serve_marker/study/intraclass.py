"""How much the serves of one evening resemble each other, and how many independent serves they are worth.

Intraclass correlation rho: the share of the variance that lies between evenings. n serves, n_k of them by one server on
one evening, are worth n / (1 + (m - 1) rho) independent ones with m = sum n_k^2 / sum n_k (L. Kish, Survey Sampling,
1965; for unequal evenings A. Donner, S. Koval, Biometrics 36:19, 1980).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas

Evenings = NDArray[np.int64]
ASSUMED_RHO = 0.03
"""Where a logbook cannot tell (own assumption; serving evenings have no published figure)."""
ASSUMED_RHO_OF_MANY = 0.05
"""The same where dozens of comparisons share the 5 in 100: far out in the tails an assumption too low is told as a
difference more often (own choice: simulated, tests/benchmarks/season.py)."""
FEWEST_PRACTICES_FOR_RHO = 10
ASSUMED_PAIRS = 20
"""The assumption weighs as much as so many pairs of evenings (own choice)."""
EVENING_COLUMNS = ("practice_id", "player_id")
TASK_COLUMNS = ("aim", "serve_type", "target_kind")
"""Serves are alike, and compared, where all of these are."""


def codes_of(table: Mapping[str, Any] | pandas.DataFrame, columns: tuple[str, ...]) -> NDArray[np.int64]:
    """Return a number (N,) for each row, the same where all of the columns are the same, from 0 without gaps.

    Examples
    --------
    >>> import pandas as pd
    >>> codes_of(pd.DataFrame({"aim": ["b", "a", "b"], "serve_type": ["x", "x", "x"]}), ("aim", "serve_type")).tolist()
    [0, 1, 0]
    """
    import pandas as pd

    found: NDArray[np.int64] = pd.factorize(np.asarray(table[columns[0]]), use_na_sentinel=False)[0]
    for column in columns[1:]:
        codes, names = pd.factorize(np.asarray(table[column]), use_na_sentinel=False)
        if len(names) > 1:
            found = pd.factorize(found * len(names) + codes)[0]
    return found


def evenings_of(table: pandas.DataFrame) -> Evenings:
    """Return a number (N,) for each serve, the same for all serves of one server in one practice."""
    return np.asarray(table["evening"], dtype=np.int64)


def effective_n(evenings: Evenings, rho: float) -> float:
    """Return how many independent serves those of the evenings (N,) are worth; 0 without serves.

    Examples
    --------
    >>> [round(effective_n(evenings, 0.05), 3) for evenings in (np.repeat([0, 1], 20), np.arange(40))]
    [20.513, 40.0]
    """
    count = len(evenings)
    if not count:
        return 0.0
    sizes = np.bincount(evenings).astype(float)
    return float(count / (1 + ((sizes**2).sum() / count - 1) * rho))


def independent_of(known: NDArray[np.bool_], evenings: Evenings | None, rho: float) -> float:
    """Return how many independent serves the known ones (N,) are worth: all where no evenings (N,) are told."""
    return float(known.sum()) if evenings is None else effective_n(evenings[known], rho)


def share_of_variance_seen(count: int, effective: float) -> float:
    """Return what share the variance about the mean, divisor n - 1, holds on average of that over many evenings.

    With d = n / effective, ``(n - d) / (n - 1)``: 1 - rho for a single evening.
    """
    return max((count - count / effective) / (count - 1), 1e-9)


def rho_of(table: pandas.DataFrame, measure: str = "rate", assumed: float = ASSUMED_RHO) -> float:
    """Return the intraclass correlation that holds for a serve table, by what is measured: "rate", "place" or "pace".

    It is the ``assumed`` one where the logbook cannot tell.
    """
    return float(table.attrs.get("rho", {}).get(measure, assumed))


def intraclass_correlations(table: pandas.DataFrame, hit: NDArray[np.bool_]) -> dict[str, float]:
    """Return the correlation of "rate", "place" and "pace" over a logbook, its serves in the order of their dates.

    ``hit`` (N,) is what rates are told from. Nothing is told before FEWEST_PRACTICES_FOR_RHO practices with a date.
    """
    dated = (table["date"] != "").to_numpy()
    if table["practice_id"][dated].nunique() < FEWEST_PRACTICES_FOR_RHO:
        return {}
    series, days = codes_of(table, ("player_id", *TASK_COLUMNS)), codes_of(table, ("practice_id",))
    measured = {
        "rate": hit.astype(float)[:, None],
        "place": table[["x_m", "y_m"]].to_numpy(dtype=float),
        "pace": table[["pace_mps"]].to_numpy(dtype=float),
    }
    known = dated & (table["player_id"] != "").to_numpy()
    return {
        name: intraclass_correlation(values[known], series[known], days[known]) for name, values in measured.items()
    }


def intraclass_correlation(values: NDArray[Any], series: NDArray[np.int64], days: NDArray[np.int64]) -> float:
    """Return rho of values (N, D), all dimensions together, over series (N,) of evenings in the order of days (N,).

    The variance between evenings is told from one evening to the next of a series (J. von Neumann, Ann. Math. Statist.
    12:367, 1941), so that whoever gets better over a season does not count as uneven. Few pairs of evenings are drawn
    towards ASSUMED_RHO. Rows with NaN are left out.
    """
    known = np.isfinite(values).all(axis=1)
    values, series, days = values[known], series[known], days[known]
    order = np.lexsort((days, series))
    values, series, days = values[order], series[order], days[order]
    if not len(values):
        return ASSUMED_RHO
    starts = np.flatnonzero(np.r_[True, (np.diff(series) != 0) | (np.diff(days) != 0)])
    sizes = np.diff(np.r_[starts, len(values)]).astype(float)
    means = np.add.reduceat(values, starts) / sizes[:, None]
    freedom = len(values) - len(starts)
    follows = np.flatnonzero(series[starts][1:] == series[starts][:-1])
    if freedom < 1 or not len(follows):
        return ASSUMED_RHO
    within = ((values - np.repeat(means, sizes.astype(int), axis=0)) ** 2).sum() / freedom
    apart = ((means[follows + 1] - means[follows]) ** 2).sum(axis=1)
    weights = 1 / (1 / sizes[follows] + 1 / sizes[follows + 1])
    between = (weights * apart).sum() / (2 * weights.sum()) - within / 2 * len(follows) / weights.sum()
    rho = between / max(between + within, 1e-12)
    pairs = len(follows)
    return float(np.clip((pairs * rho + ASSUMED_PAIRS * ASSUMED_RHO) / (pairs + ASSUMED_PAIRS), 0.0, 1.0))
