"""How good a pass becomes by what it demands of the passer, and what that is worth to the server's team.

The demand is the way to where she meets the ball, as a share of what she can cover in time (`court.reception`).
A pass rating stands for the chance that the receiving team wins the rally (J. Coleman's intent, as coaches tell it).
Taken as a line: nobody gets there, the server's team wins; a perfect pass, it still wins PERFECT_WINS. At a mean pass
of two thirds and 13 of 100 serves missed (109 of 818, ECSS abstract 628) that makes 43 of 100 rallies; 42 of 100 were
won on serve by 656 and 678 serves (IAT record 4027190).

Of 36 equal passers with eight passes each one always looks half as good as the rest: passers are drawn towards the
line by as much as they usually differ from it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import Floats
from serve_marker.study.groups import coded
from serve_marker.study.intraclass import effective_n, evenings_of, rho_of
from serve_marker.study.passers import best_pass_of, pass_ratings

if TYPE_CHECKING:
    import pandas

PERFECT_WINS = 0.25
"""Share of rallies that the server's team wins after a perfect pass (own choice, see above)."""
USUAL = (0.87, -0.45)
"""Share of the best rating where she stands, and what the whole way takes away (own choice: 2.6 of 3, and 1.3 of 3)."""
USUAL_SD = (0.12, 0.25)
"""How far a team may be from that, as deviations (own choice)."""
PASSERS_SD = 0.08
"""By how much passers differ, as a deviation (own choice: a quarter of a step of three)."""
USUAL_SCATTER = 0.33
"""Deviation of one pass from its line, where few are rated (own choice: one of the three steps)."""
FEWEST_FOR_SCATTER = 10


@dataclass(frozen=True, eq=False)
class PassQuality:
    """The share of the best rating that passes reach: a line over the demand, and how much better each passer is.

    Parameters
    ----------
    told : (..., 2 + P) the line at no demand, by how much more at all of it, and each of ``passers`` over the line;
        ``covariance`` (2 + P, 2 + P) of these.
    n : passes it is told from; ``effective`` independent ones they are worth.
    """

    told: Floats
    covariance: Floats
    passers: tuple[str, ...] = ()
    n: int = 0
    effective: float = 0.0

    def possible(self, draws: int, chance: np.random.Generator) -> PassQuality:
        """Return what the passes leave possible (1 + draws, 2 + P), the likeliest first."""
        drawn = chance.multivariate_normal(self.told, self.covariance, draws, method="cholesky")
        return replace(self, told=np.vstack([self.told, drawn]))

    def with_passers(self, names: tuple[str, ...]) -> PassQuality:
        """Return the same with passers who have not passed yet, each of whom may be better or worse."""
        new = tuple(name for name in names if name not in self.passers)
        count = len(self.told)
        covariance = np.eye(count + len(new)) * PASSERS_SD**2
        covariance[:count, :count] = self.covariance
        told = np.append(self.told, np.zeros(len(new)))
        return replace(self, told=told, covariance=covariance, passers=(*self.passers, *new))

    def chance(self, demand: Floats, passer: NDArray[np.object_]) -> Floats:
        """Return the chance (..., N) to win the rally of N balls in the court; one of unknown demand is passed well.

        Examples
        --------
        >>> usual_pass_quality().chance(np.array([0.0, 0.9, 1.1]), np.array(["Noor"] * 3, dtype=object)).round(2)
        array([0.35, 0.65, 1.  ])
        """
        of_name = {name: at for at, name in enumerate(self.passers)}
        who = coded(passer).looked_up(lambda name: of_name.get(name, -1), int)
        better = np.where(who < 0, 0.0, self.told[..., 2:][..., who]) if self.passers else 0.0
        passed = self.told[..., :1] + self.told[..., 1:2] * np.nan_to_num(demand) + better
        return np.where(demand > 1.0, 1.0, 1.0 - (1.0 - PERFECT_WINS) * np.clip(passed, 0.0, 1.0))


def usual_pass_quality() -> PassQuality:
    """Return what holds where no pass is rated."""
    return PassQuality(np.array(USUAL), np.diag(np.square(USUAL_SD)))


def pass_quality(table: pandas.DataFrame) -> PassQuality:
    """Return what the passes of a serve table tell, drawn towards the usual line.

    Normal regression with a normal prior (A. Gelman and others, Bayesian Data Analysis, 3rd ed., section 14.8).
    In practices where passes were rated an ace that somebody could have reached is the worst of passes, as the trade
    counts it. Passes of one evening count as so many independent ones.
    """
    rated = set(table["practice_id"][table["pass_rating"].notna()])
    ratings, demand = pass_ratings(table), table["demand"].to_numpy(dtype=float)
    known = np.isfinite(ratings) & (demand <= 1.0) & table["practice_id"].isin(rated).to_numpy()
    count = int(known.sum())
    if not count:
        return usual_pass_quality()
    passed = ratings[known] / best_pass_of(table)
    effective = effective_n(evenings_of(table)[known], rho_of(table))
    who = coded(table["passer"].to_numpy(dtype=object)[known])
    line = np.column_stack([np.ones(count), demand[known]])
    along = np.column_stack([line, who.codes[:, None] == np.arange(len(who.names))])
    weight = effective / count / _scatter(line, passed) ** 2
    prior = np.append(USUAL, np.zeros(len(who.names)))
    precision = np.append(1 / np.square(USUAL_SD), np.full(len(who.names), 1 / PASSERS_SD**2))
    covariance = np.linalg.inv(np.diag(precision) + weight * along.T @ along)
    told = covariance @ (precision * prior + weight * along.T @ passed)
    return PassQuality(told, covariance, tuple(who.names), count, effective)


def _scatter(line: Floats, passed: Floats) -> float:
    """Deviation of single passes from their line."""
    if len(passed) < FEWEST_FOR_SCATTER:
        return USUAL_SCATTER
    fitted = line @ np.linalg.lstsq(line, passed, rcond=None)[0]
    return max(float(np.sqrt(((passed - fitted) ** 2).sum() / (len(passed) - 2))), 0.05)
