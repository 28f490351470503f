"""A centre and scatter that a few stray landings cannot pull, and which landings are astray.

Minimum covariance determinant (P. J. Rousseeuw and K. Van Driessen, Technometrics 41:212, 1999): of all halves of the
landings, the one with the smallest ellipse. Its ellipse then says which landings lie too far out; the others give
centre and covariance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FEWEST_FOR_OUTLIERS = 8
"""Below this a smallest half says nothing about the rest (own choice)."""
STARTS = 250
KEPT_STARTS = 10
STEPS = 30
MOST_SEARCHED = 500
CHI2_2_975 = 7.377758908227871
"""Quantile 0.975 of chi-square with two degrees of freedom, -2 ln 0.025."""


@dataclass(frozen=True, eq=False)
class Robust:
    """Centre (2,) [m], covariance (2, 2) [m2], and which of the points (N,) lie astray."""

    centre_m: Floats
    covariance_m2: Floats
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
    )
    if count < FEWEST_FOR_OUTLIERS or np.linalg.matrix_rank(points - points.mean(axis=0), tol=1e-9) < 2:
        return plain
    chance = np.random.default_rng(0)
    searched = points if count <= MOST_SEARCHED else points[chance.choice(count, MOST_SEARCHED, replace=False)]
    half = _smallest_half(searched, (len(searched) + 3) // 2, chance)
    centre, covariance = half.mean(axis=0), np.cov(half, rowvar=False, ddof=0)
    if np.linalg.det(covariance) <= 0:
        return plain
    squared = _squared(points, centre[None], covariance[None])[0]
    kept = squared < CHI2_2_975 * _half_to_whole(len(half), len(searched))
    return Robust(points[kept].mean(axis=0), np.cov(points[kept], rowvar=False, ddof=1), ~kept)


def _half_to_whole(size: int, count: int) -> float:
    """What the covariance of the smallest ``size`` of ``count`` points has to be multiplied by to stand for all.

    Consistency under a normal scatter (C. Croux and G. Haesbroeck, J. Multivar. Anal. 71:161, 1999) times the
    correction for few points (G. Pison, S. Van Aelst, G. Willems, Metrika 55:111, 2002; constants for two dimensions
    from memory, checked through the stars of the tests).
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


def _squared(points: Floats, centres: Floats, covariances: Floats) -> Floats:
    """Squared Mahalanobis distances (S, N) of points (N, 2) from sets of centre and covariance."""
    off = points[None] - centres[:, None]
    return np.asarray(np.einsum("sni,sij,snj->sn", off, np.linalg.inv(covariances), off))
