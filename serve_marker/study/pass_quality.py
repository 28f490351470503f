"""How good a pass becomes by what it demands of the passer, and what that is worth to the server's team.

The demand is the way to where she meets the ball, as a share of what she can cover in time (`court.reception`).
A pass rating stands for the chance that the receiving team wins the rally (J. Coleman's intent, as coaches tell it).
Taken as a line: nobody gets there, the server's team wins; a perfect pass, it still wins PERFECT_WINS. At a mean pass
of two thirds and 13 of 100 serves missed (109 of 818, ECSS abstract 628) that makes 43 of 100 rallies; 42 of 100 were
won on serve by 656 and 678 serves (IAT record 4027190).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import Floats
from serve_marker.study.groups import looked_up, rows_of
from serve_marker.study.intraclass import effective_n, evenings_of, rho_of
from serve_marker.study.passers import best_pass_of
from serve_marker.study.shrinkage import shrunk

if TYPE_CHECKING:
    import pandas

PERFECT_WINS = 0.25
"""Share of rallies that the server's team wins after a perfect pass (own choice, see above)."""
USUAL = np.array([0.87, -0.45])
"""Share of the best rating where she stands, and what the whole way takes away (own choice: 2.6 of 3, and 1.3 of 3)."""
USUAL_SD = np.array([0.12, 0.25])
"""How far a team may be from that, as deviations (own choice)."""
USUAL_SCATTER = 0.33
"""Deviation of one pass from its line, where few are rated (own choice: one of the three steps)."""
FEWEST_FOR_SCATTER = 10
PASSERS_SD = 0.08
"""By how much passers differ who are not told apart by their own passes (own choice: a quarter of a step of three)."""
UNKNOWN_PASSER = (0.0, PASSERS_SD)
ANYBODY = ""
"""Whoever has not passed yet."""


@dataclass(frozen=True, eq=False)
class PassQuality:
    """The share of the best rating that passes reach, as a line over the demand.

    Parameters
    ----------
    line : (2,) at no demand, and by how much more at all of it; ``covariance`` (2, 2) of it.
    of_passer : how much better than the line each passer passes, drawn together, and its deviation.
    n : rated passes of known demand; ``effective`` independent ones they are worth.
    """

    line: Floats
    covariance: Floats
    of_passer: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    n: int = 0
    effective: float = 0.0

    def possible(self, draws: int, chance: np.random.Generator) -> Iterator[PassQuality]:
        """Yield the same without doubt: the likeliest first, then what else the passes leave possible."""
        yield self
        lines = chance.multivariate_normal(self.line, self.covariance, draws)
        names = [*self.of_passer, ANYBODY]
        means, deviations = np.array([self.of_passer.get(name, UNKNOWN_PASSER) for name in names]).T
        for line, own in zip(lines, chance.normal(means, deviations, (draws, len(names))), strict=True):
            yield replace(self, line=line, of_passer={name: (one, 0.0) for name, one in zip(names, own, strict=True)})

    def chance(self, demand: Floats, passer: NDArray[np.object_]) -> Floats:
        """Return the chance (N,) to win the rally of N balls in the court.

        Examples
        --------
        >>> usual_pass_quality().chance(np.array([0.0, 0.9, 1.1]), np.array(["Noor"] * 3, dtype=object)).round(2)
        array([0.35, 0.65, 1.  ])
        """
        anybody = self.of_passer.get(ANYBODY, UNKNOWN_PASSER)
        own = looked_up(passer, lambda name: self.of_passer.get(name, anybody)[0], float)
        passed = self.line[0] + self.line[1] * np.nan_to_num(demand) + own
        return np.where(demand <= 1.0, 1.0 - (1.0 - PERFECT_WINS) * np.clip(passed, 0.0, 1.0), 1.0)


def usual_pass_quality() -> PassQuality:
    """Return what holds where no pass is rated."""
    return PassQuality(USUAL, np.diag(USUAL_SD**2))


def pass_quality(table: pandas.DataFrame) -> PassQuality:
    """Return what the rated passes of a serve table tell, drawn towards the usual line.

    Normal regression with a normal prior (A. Gelman and others, Bayesian Data Analysis, 3rd ed., section 14.8); what is
    left is shared out to the passers by `shrunk`. Passes of one evening count as so many independent ones.
    """
    ratings, demand = (table[name].to_numpy(dtype=float) for name in ("pass_rating", "demand"))
    known = np.isfinite(ratings) & np.isfinite(demand) & (table["outcome"] == "received").to_numpy()
    count = int(known.sum())
    if not count:
        return usual_pass_quality()
    passed = ratings[known] / best_pass_of(table)
    effective = effective_n(evenings_of(table)[known], rho_of(table))
    along = np.column_stack([np.ones(count), demand[known]])
    scatter = _scatter(along, passed)
    told = effective / count / scatter**2
    precision = np.diag(1 / USUAL_SD**2) + told * along.T @ along
    covariance = np.linalg.inv(precision)
    line = covariance @ (USUAL / USUAL_SD**2 + told * along.T @ passed)
    own = rows_of(table["passer"].to_numpy(dtype=object)[known])
    own.pop("", None)
    left = passed - along @ line
    means = np.array([left[rows].mean() for rows in own.values()])
    variances = np.array([scatter**2 / (len(rows) * effective / count) for rows in own.values()])
    better, deviations = shrunk(means, variances, PASSERS_SD**2)
    of_passer = dict(zip(own, zip(better.tolist(), deviations.tolist(), strict=True), strict=True))
    return PassQuality(line, covariance, of_passer, count, effective)


def _scatter(along: Floats, passed: Floats) -> float:
    """Deviation of single passes from their line."""
    if len(passed) < FEWEST_FOR_SCATTER:
        return USUAL_SCATTER
    fitted = along @ np.linalg.lstsq(along, passed, rcond=None)[0]
    return max(float(np.sqrt(((passed - fitted) ** 2).sum() / (len(passed) - 2))), 0.05)
