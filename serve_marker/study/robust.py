"""A centre and scatter that a few stray landings cannot pull, and which landings are astray.

Minimum covariance determinant (P. J. Rousseeuw and K. Van Driessen, Technometrics 41:212, 1999): of all halves of the
landings, the one with the smallest ellipse. Its ellipse then says which landings lie too far out; the others give
centre and covariance.

That border leaves landings out of nearly every clean practice (of 20 serves from one normal scatter it leaves out one
or more in 9 of 10 cases), which does no harm to the centre but is no ground to call a serve astray (A. Cerioli, JASA
105:147, 2010). Those left out therefore come back one and all, as long as the rest foretells them. Landings scatter
with heavier tails than the normal, so the rest is taken to be Student's with four degrees of freedom.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from serve_marker.confidence_level import ELLIPSE_95, TAIL
from serve_marker.court.dimensions import Floats
from serve_marker.study.spread import prediction_factor

FEWEST_FOR_OUTLIERS = 8
"""Below this a smallest half says nothing about the rest (own choice)."""
STARTS = 250
KEPT_STARTS = 10
STEPS = 30
MOST_SEARCHED = 500
CHI2_2_975 = 7.377758908227871
"""Quantile 0.975 of chi-square with two degrees of freedom, -2 ln 0.025."""
HEAVY_TAILED_NAMED = 0.08
"""In about so many practices one landing or more may be called astray where the scatter is Student's with four degrees
of freedom, whose far landings belong to it (own choice)."""


@dataclass(frozen=True, eq=False)
class Robust:
    """What holds for most of N points.

    Parameters
    ----------
    centre_m, covariance_m2 : (2,) and (2, 2) of the points not left out.
    left_out : which points (N,) lie outside the 97.5 % ellipse of the smallest half.
    astray : which of them (N,) lie so far out that chance does not explain it.
    """

    centre_m: Floats
    covariance_m2: Floats
    left_out: NDArray[np.bool_]
    astray: NDArray[np.bool_]


def robust_spread(points_m: Floats) -> Robust:
    """Return the reweighted MCD of points (N, 2) [m]; with fewer than eight, or all on one line, none is astray.

    Examples
    --------
    >>> points = np.array([[0, 0], [1, 0], [0, 1], [1, 1], [0.5, 0.4], [0.4, 0.6], [0.6, 0.5], [0.5, 0.6], [9, 9.0]])
    >>> robust_spread(points).astray.tolist()[-2:]
    [False, True]
    """
    points = np.asarray(points_m, dtype=float)
    if points.ndim != 2 or points.shape[1] != 2:
        raise ValueError(f"points must have shape (N, 2), not {points.shape}")
    count = len(points)
    plain = Robust(
        points.mean(axis=0) if count else np.full(2, np.nan),
        np.cov(points, rowvar=False, ddof=1) if count > 1 else np.full((2, 2), np.nan),
        np.zeros(count, dtype=bool),
        np.zeros(count, dtype=bool),
    )
    if count < FEWEST_FOR_OUTLIERS or np.linalg.matrix_rank(points - points.mean(axis=0), tol=1e-9) < 2:
        return plain
    chance = np.random.default_rng(0)
    searched = points if count <= MOST_SEARCHED else points[chance.choice(count, MOST_SEARCHED, replace=False)]
    half = _smallest_half(searched, (len(searched) + 3) // 2, chance)
    if np.linalg.det(np.cov(half, rowvar=False)) <= 0:
        return plain
    kept = _squared_from(half, points) < CHI2_2_975 * _half_to_whole(len(half), len(searched))
    return Robust(
        points[kept].mean(axis=0), np.cov(points[kept], rowvar=False, ddof=1), ~kept, _unexplained(points, ~kept)
    )


def _unexplained(points: Floats, left_out: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which of the points (N,) ``left_out`` stay out when all come back that the rest foretells, again and again."""
    out = left_out
    while out.any():
        still = out & (_squared_from(points[~out], points) > _foretold_squared(int((~out).sum()), len(points)))
        if (still == out).all():
            break
        out = still
    return out


def _foretold_squared(rest: int, count: int) -> float:
    """Squared Mahalanobis distance within which ``rest`` points foretell all of ``count`` at once (Bonferroni).

    In two dimensions and with four degrees of freedom a share p lies beyond 4 (1 / sqrt(p) - 1); few points reach
    further in the ratio of their 95 % prediction ellipse to the ellipse of many.
    """
    few = prediction_factor(1 - 2 * TAIL, rest) ** 2 / ELLIPSE_95**2
    return float(few * 4 * ((HEAVY_TAILED_NAMED / count) ** -0.5 - 1))


def _half_to_whole(size: int, count: int) -> float:
    """What the covariance of the smallest ``size`` of ``count`` points has to be multiplied by to stand for all.

    Consistency under a normal scatter (C. Croux and G. Haesbroeck, J. Multivar. Anal. 71:161, 1999) times the
    correction for few points (G. Pison, S. Van Aelst, G. Willems, Metrika 55:111, 2002; constants for two dimensions
    as robustbase's covMcd has them, for a covariance with divisor ``size`` - 1).
    """
    share = size / count
    border = -2 * np.log1p(-share)
    inside = 1 - np.exp(-border / 2) * (1 + border / 2)
    return float(share / inside / (1 - np.exp(0.673292623522027) / count**0.691365864961895))


def _smallest_half(points: Floats, size: int, chance: np.random.Generator) -> Floats:
    """The ``size`` points with the smallest covariance determinant found from many starts of three points."""
    starts = np.argsort(chance.random((STARTS, len(points))), axis=1)[:, :3]
    halves, determinants = _concentrated(points, starts, size, 2)
    best = np.argsort(determinants)[:KEPT_STARTS]
    halves, determinants = _concentrated(points, halves[best], size, STEPS)
    return np.asarray(points[halves[int(np.argmin(determinants))]])


def _concentrated(points: Floats, chosen: NDArray[np.intp], size: int, steps: int) -> tuple[NDArray[np.intp], Floats]:
    """Take the ``size`` points nearest to each chosen set's ellipse again and again: sets (S, size), determinants."""
    tiny = 1e-12 * np.trace(np.cov(points, rowvar=False)) * np.eye(2)
    for _ in range(steps):
        centres, covariances = _moments(points[chosen])
        squared = _squared(points, centres, covariances + tiny)
        chosen = np.argpartition(squared, size - 1, axis=1)[:, :size]
    return chosen, np.linalg.det(_moments(points[chosen])[1])


def _moments(sets: Floats) -> tuple[Floats, Floats]:
    """Means (S, 2) and covariances (S, 2, 2) of sets (S, K, 2)."""
    centres = sets.mean(axis=1)
    off = sets - centres[:, None]
    return centres, np.einsum("ski,skj->sij", off, off) / sets.shape[1]


def _squared_from(some: Floats, points: Floats) -> Floats:
    """Squared Mahalanobis distances (N,) of points (N, 2) from the centre and covariance of ``some`` (K, 2)."""
    return np.asarray(_squared(points, some.mean(axis=0)[None], np.cov(some, rowvar=False, ddof=1)[None])[0])


def _squared(points: Floats, centres: Floats, covariances: Floats) -> Floats:
    """Squared Mahalanobis distances (S, N) of points (N, 2) from sets of centre and covariance."""
    off = points[None] - centres[:, None]
    return np.asarray(np.einsum("sni,sij,snj->sn", off, np.linalg.inv(covariances), off))
