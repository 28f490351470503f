"""How landings scatter about their centre.

All in the half frame: x grows to the server's right, y grows long.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from serve_marker.confidence_level import TAIL
from serve_marker.court.dimensions import Floats
from serve_marker.study.intraclass import Evenings, evenings_of, independent_of, rho_of, share_of_variance_seen
from serve_marker.study.pull import MISS_COLUMNS, Bias, aimed_evenings, aimed_landings, bias_of, known_places
from serve_marker.study.rates import landed_mask

if TYPE_CHECKING:
    import pandas

HALF_INSIDE = math.sqrt(2 * math.log(2))
GROUPS = {
    "server": "server",
    "serve type": "serve_type",
    "aim": "aim",
    "kind of target": "target_kind",
    "practice": "practice_id",
    "third of the end line": "served_from",
    "first and last 20": "turn",
}
"""What spread is told by, and the column of the serve table that holds it."""


@dataclass(frozen=True, eq=False)
class Spread:
    """The scatter of n landings.

    Parameters
    ----------
    n : landings whose place is known.
    centre_m : (2,) mean landing.
    covariance_m2 : (2, 2) with divisor n - 1; NaN below two landings.
    half_axes_m : longer and shorter half-axis of the ellipse that holds half of the serves of a two-dimensional
        normal scatter, sqrt(2 ln 2) = 1.1774 standard deviations.
    half_radius_m : radius of the circle about the centre that holds half of them (exact for unequal axes).
    bivariate_error_m : sqrt of the mean squared distance to the centre, divisor n.
    next_half_m, next_most_m : radii of the circles about the centre in which the NEXT serve lands with 50 and with 95
        of 100, see `prediction_radius`; NaN below three landings.
    mean_half_axes_m : half-axes of the 95 % ellipse of the centre itself (Hotelling); NaN below three landings.
    """

    n: int
    centre_m: Floats
    covariance_m2: Floats
    half_axes_m: tuple[float, float]
    half_radius_m: float
    bivariate_error_m: float
    next_half_m: float = math.nan
    next_most_m: float = math.nan
    mean_half_axes_m: tuple[float, float] = (math.nan, math.nan)


def spread(points_m: Floats, evenings: Evenings | None = None, rho: float = 0.0) -> Spread:
    """Return the scatter of landings (N, 2) [m]; rows with NaN are left out.

    Those of the same of ``evenings`` (N,) resemble each other by ``rho``; the next serve is one of another evening.

    Examples
    --------
    >>> found = spread(np.array([[3.0, 3.0], [3.0, 1.0], [1.0, 3.0], [2.0, 2.0]]))
    >>> found.centre_m.tolist(), round(found.bivariate_error_m, 6)
    ([2.25, 2.25], 1.172604)
    """
    known = known_places(points_m)
    kept_m, effective = np.asarray(points_m[known], dtype=float), independent_of(known, evenings, rho)
    count = len(kept_m)
    centre_m = kept_m.mean(axis=0) if count else np.full(2, np.nan)
    if count < 2:
        return Spread(count, centre_m, np.full((2, 2), np.nan), (math.nan, math.nan), math.nan, math.nan)
    covariance_m2 = np.cov(kept_m, rowvar=False, ddof=1)
    shorter_m, longer_m = np.sqrt(np.clip(np.linalg.eigvalsh(covariance_m2), 0.0, None))
    about_centre_m2 = float(((kept_m - centre_m) ** 2).sum(axis=1).mean())
    return Spread(
        n=count,
        centre_m=centre_m,
        covariance_m2=covariance_m2,
        half_axes_m=(HALF_INSIDE * float(longer_m), HALF_INSIDE * float(shorter_m)),
        half_radius_m=circle_radius(0.5, float(longer_m), float(shorter_m)),
        bivariate_error_m=math.sqrt(about_centre_m2),
        next_half_m=prediction_radius(0.5, covariance_m2, count, effective),
        next_most_m=prediction_radius(1 - 2 * TAIL, covariance_m2, count, effective),
        mean_half_axes_m=_mean_half_axes(float(longer_m), float(shorter_m), count),
    )


def prediction_radius(share: float, covariance_m2: Floats, count: int, effective: float | None = None) -> float:
    """Return the radius [m] about the mean of ``count`` landings that holds the next one with probability ``share``.

    ``s sqrt(2 (1 + 1/n) F(share; 2, 2n - 2))`` with ``s^2`` half the trace, for a scatter equal to all sides. The
    plug-in 2.4477 s holds the next serve in only 86 of 100 cases after five serves, this one in 95. NaN below three.
    Where they are worth only ``effective`` independent ones, the next comes from an evening of its own: n is then that
    number, and s grows by what few evenings hide of the variance between evenings.

    Examples
    --------
    >>> round(prediction_radius(0.95, np.eye(2), 10), 5)
    2.79643
    """
    if count < 3:
        return math.nan
    from scipy.special import fdtri

    effective = float(count) if effective is None else effective
    seen = share_of_variance_seen(count, effective)
    quantile = float(fdtri(2, 2 * count - 2, share))
    return math.sqrt(float(np.trace(covariance_m2)) / seen * (1 + 1 / effective) * quantile)


def prediction_factor(share: float, count: int) -> float:
    """Return how many deviations along each axis the ellipse about the mean of ``count`` landings has to reach.

    It holds the next landing with probability ``share``, whatever the shape of the scatter: ``sqrt((n + 1) / n 2 (n -
    1) / (n - 2) F(share; 2, n - 2))`` (Hotelling's T^2 of one more landing). NaN below three.

    Examples
    --------
    >>> round(prediction_factor(0.95, 10), 5)
    3.32204
    """
    if count < 3:
        return math.nan
    from scipy.special import fdtri

    return math.sqrt((count + 1) / count * 2 * (count - 1) / (count - 2) * float(fdtri(2, count - 2, share)))


def _mean_half_axes(longer_sd_m: float, shorter_sd_m: float, count: int) -> tuple[float, float]:
    """Half-axes [m] of the 95 % ellipse of the mean (H. Hotelling, Ann. Math. Statist. 2:360, 1931)."""
    if count < 3:
        return math.nan, math.nan
    from scipy.special import fdtri

    factor = math.sqrt(2 * (count - 1) / (count * (count - 2)) * float(fdtri(2, count - 2, 1 - 2 * TAIL)))
    return factor * longer_sd_m, factor * shorter_sd_m


def spread_of(table: pandas.DataFrame) -> Spread:
    """Return the scatter of the floor landings of a serve table, landings out of court included."""
    return spread(_places(table, "x_m", "y_m"), evenings_of(table)[landed_mask(table)], rho_of(table, "place"))


def miss_spread_of(table: pandas.DataFrame) -> Spread:
    """Return the scatter of the misses of a serve table, so that serves at different aims can be held together."""
    return spread(aimed_landings(table), aimed_evenings(table), rho_of(table, "place"))


def spread_by(table: pandas.DataFrame, column: str) -> list[tuple[str, Spread, Bias]]:
    """Return spread about the own centre and bias from the aim of each group of a column of GROUPS, in its order.

    The scatter is that of the misses, so that serves at different aims can be held together.
    """
    if column not in GROUPS.values():
        raise ValueError(f"spread is told by one of {sorted(GROUPS.values())}, not by {column!r}")
    columns = list(dict.fromkeys((column, *MISS_COLUMNS)))
    groups = [(str(name), rows) for name, rows in table[columns].groupby(column, sort=False) if name]
    return [(name, miss_spread_of(rows), bias_of(rows, 2 * len(groups))) for name, rows in groups]


def circle_radius(share: float, longer_sd_m: float, shorter_sd_m: float) -> float:
    """Return the radius [m] about the centre of a normal scatter that holds ``share`` of it.

    The distribution of the radius is Hoyt's. The share inside is integrated over the angle (the integrand is periodic,
    so the trapezoid rule is exact to rounding) and inverted by halving.
    """
    if longer_sd_m <= 0.0:
        return 0.0
    ratio = shorter_sd_m / longer_sd_m
    if ratio < 0.002:
        return longer_sd_m * NormalDist().inv_cdf((1 + share) / 2)
    angle = np.linspace(0.0, math.pi / 2, 129 if ratio > 0.1 else 4097)
    g = np.cos(angle) ** 2 + np.sin(angle) ** 2 / ratio**2
    low, high = 0.0, 12.0
    for _ in range(50):
        middle = (low + high) / 2
        inside = 2 / (math.pi * ratio) * float(np.trapezoid(-np.expm1(-0.5 * middle**2 * g) / g, angle))
        low, high = (middle, high) if inside < share else (low, middle)
    return longer_sd_m * middle


def _places(table: pandas.DataFrame, *names: str) -> Floats:
    """Two columns (N, 2) of the floor landings of a serve table."""
    landed = landed_mask(table)
    return np.column_stack([table[name].to_numpy(dtype=float)[landed] for name in names])
