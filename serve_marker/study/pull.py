"""Pull: how far landings lie from their aims on average, and whether that can be told.

All in the half frame: x grows to the server's right, y grows long.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from serve_marker.confidence_level import TAIL
from serve_marker.court.dimensions import Floats
from serve_marker.study.intraclass import Evenings, evenings_of, independent_of, rho_of, share_of_variance_seen
from serve_marker.study.rates import over_net_mask

if TYPE_CHECKING:
    import pandas

MISS_COLUMNS = ("outcome", "x_m", "y_m", "aim_x_m", "aim_y_m", "aim_has_depth", "evening")
LEAST_PLACED = 0.7
"""Below this share of the balls over the net a pull is not told: the others may have gone elsewhere (own choice)."""


@dataclass(frozen=True, eq=False)
class Bias:
    """How far n aimed landings lie from their aims, on average.

    Parameters
    ----------
    n : landings whose place is known.
    over_net : aimed balls over the net, n of which are placed.
    right_m, long_m : mean miss; left and short are negative. long_m is NaN where no aim has a depth.
    right_low_m ... long_high_m : t interval of each mean; NaN below two landings. It is as wide as so few independent
        landings ask for, and of 95 % for all directions told together.
    distance_m : length of the mean miss.
    mean_radial_error_m : mean distance from the aim.
    """

    n: int
    over_net: int
    right_m: float
    long_m: float
    right_low_m: float
    right_high_m: float
    long_low_m: float
    long_high_m: float
    distance_m: float
    mean_radial_error_m: float

    @property
    def placed(self) -> bool:
        """Whether enough of the balls over the net are placed to speak of a pull."""
        return self.n >= LEAST_PLACED * self.over_net


def bias(
    points_m: Floats,
    aims_m: Floats,
    evenings: Evenings | None = None,
    rho: float = 0.0,
    directions: int = 1,
    over_net: int | None = None,
) -> Bias:
    """Return how far landings (N, 2) lie from their aims (N, 2) [m]; NaN is left out, along each axis by itself.

    Hancock, Butler and Fischman, J. Motor Behav. 27:241 (1995): mean radial error, and the identity
    mean(r^2) = bias^2 + bivariate error^2. Those of the same of ``evenings`` (N,) resemble each other by ``rho``. The
    intervals hold for all ``directions`` told together in 95 of 100 cases (Bonferroni). The landings are those placed
    of the ``over_net``, all of the rows where nothing is said.
    """
    misses_m = np.asarray(points_m - aims_m, dtype=float)
    count = int(np.isfinite(misses_m[:, 0]).sum())
    over_net = len(misses_m) if over_net is None else over_net
    (right_m, right_margin_m), (long_m, long_margin_m) = (
        _mean_with_margin(misses_m[:, axis], evenings, rho, directions) for axis in (0, 1)
    )
    both_m = misses_m[known_places(misses_m)]
    return Bias(
        n=count,
        over_net=over_net,
        right_m=right_m,
        long_m=long_m,
        right_low_m=right_m - right_margin_m,
        right_high_m=right_m + right_margin_m,
        long_low_m=long_m - long_margin_m,
        long_high_m=long_m + long_margin_m,
        distance_m=float(np.hypot(right_m, long_m)),
        mean_radial_error_m=float(np.hypot(*both_m.T).mean()) if len(both_m) else math.nan,
    )


def _mean_with_margin(misses_m: Floats, evenings: Evenings | None, rho: float, directions: int) -> tuple[float, float]:
    """Mean of misses (N,) along one axis and the half-width of its interval; NaN where they cannot be told."""
    known = np.isfinite(misses_m)
    kept_m, effective = misses_m[known], independent_of(known, evenings, rho)
    count = len(kept_m)
    if count < 2:
        return (float(kept_m.mean()) if count else math.nan), math.nan
    from scipy.special import stdtrit

    width = float(stdtrit(effective - 1, 1 - TAIL / directions))
    seen = share_of_variance_seen(count, effective)
    return float(kept_m.mean()), float(width * kept_m.std(ddof=1) / math.sqrt(seen * effective))


def bias_of(table: pandas.DataFrame, directions: int = 1) -> Bias:
    """Return how far the balls over the net lie from their aims, received ones where their landing is estimated.

    A seam leans to the left or right only: unless the coach named a depth, it has none. ``directions`` as for `bias`.
    """
    misses_m = misses_of(table)
    misses_m[:, 1] += depth_known(table)
    aimed = over_net_mask(table) & np.isfinite(table["aim_x_m"].to_numpy(dtype=float))
    over_net = int(aimed.sum())
    return bias(misses_m, np.zeros(2), evenings_of(table), rho_of(table, "place"), directions, over_net)


def misses_of(table: pandas.DataFrame) -> Floats:
    """Return misses (N, 2) [m] of all serves of a table, NaN where not over the net, not aimed or not placed."""
    x_m, y_m, aim_x_m, aim_y_m = (table[name].to_numpy(dtype=float) for name in ("x_m", "y_m", "aim_x_m", "aim_y_m"))
    misses_m = np.column_stack([x_m - aim_x_m, y_m - aim_y_m])
    misses_m[~over_net_mask(table)] = np.nan
    return misses_m


def depth_known(table: pandas.DataFrame) -> Floats:
    """Return 0 for each serve (N,) whose aim has a depth, NaN for those at a seam: to be added to what is long."""
    return np.where(table["aim_has_depth"].to_numpy(dtype=bool), 0.0, np.nan)


def aimed_landings(table: pandas.DataFrame) -> Floats:
    """Return the misses (N, 2) [m] of the aimed balls over the net that are placed: right and long are positive.

    At a seam long is beyond the middle of the deep part, or beyond the depth the coach named.
    """
    misses_m = misses_of(table)
    return misses_m[known_places(misses_m)]


def aimed_evenings(table: pandas.DataFrame) -> Evenings:
    """Return the evenings (N,) of the `aimed_landings`."""
    return evenings_of(table)[known_places(misses_of(table))]


def known_places(points_m: Floats) -> NDArray[np.bool_]:
    """Return which of N places (N, 2) are known along both axes."""
    return np.asarray(np.isfinite(points_m).all(axis=1), dtype=bool)
