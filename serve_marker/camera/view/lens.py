"""Radial bend of a lens: pixels as the picture shows them, and pixels as a lens without bend would show them.

A point at distance r from the lens's centre (in units of ``scale_px``) is shown at ``r (1 + k1 r^2 + k2 r^4)`` (Brown,
"Decentering Distortion of Lenses", 1966; the radial part of OpenCV's model when ``scale_px`` is the focal length).
That polynomial folds back far outside the picture; from where its slope falls to a quarter it goes on straight, so that
both directions exist everywhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.court.dimensions import Floats

LEAST_SLOPE = 0.25
FAR = 1e4
"""No pixel is this many scales away: a polynomial that turns only there never turns."""
MOST_STEPS = 60


@dataclass(frozen=True)
class Lens:
    """A lens by its bend; the default one has none.

    Parameters
    ----------
    k1, k2 : share by which a point ``scale_px`` from the centre is moved outwards (negative: barrel).
    centre_px : (x, y) where the lens's axis meets the picture.
    scale_px : the unit of distance [px], half the picture's longer side for views fitted here.

    Examples
    --------
    >>> lens = Lens(-0.1, 0.0, (0.0, 0.0), 100.0)
    >>> lens.bend([(50.0, 0.0), (0.0, 100.0)]).round(6).tolist()
    [[48.75, 0.0], [0.0, 90.0]]
    >>> lens.straighten([(48.75, 0.0), (0.0, 90.0)]).round(6).tolist()
    [[50.0, 0.0], [0.0, 100.0]]
    """

    k1: float = 0.0
    k2: float = 0.0
    centre_px: tuple[float, float] = (0.0, 0.0)
    scale_px: float = 1.0

    @property
    def bends(self) -> bool:
        """Whether the lens moves any point at all."""
        return self.k1 != 0.0 or self.k2 != 0.0

    def bend(self, straight_px: ArrayLike) -> Floats:
        """Return where the lens shows points (N, 2) that a lens without bend would show at ``straight_px``."""
        straight = _points(straight_px)
        if not self.bends:
            return straight.copy()
        away = (straight - self.centre_px) / self.scale_px
        return np.asarray(self.centre_px + self.scale_px * away * self._factor(np.hypot(*away.T))[0][:, None])

    def straighten(self, points_px: ArrayLike) -> Floats:
        """Return the pixels (N, 2) without bend of points (N, 2) of the picture: the inverse of `bend`."""
        shown = _points(points_px)
        if not self.bends:
            return shown.copy()
        away = (shown - self.centre_px) / self.scale_px
        shown_r = np.hypot(*away.T)
        r = shown_r.copy()
        low, high, step = np.zeros_like(r), shown_r / LEAST_SLOPE, np.full_like(r, np.inf)
        with np.errstate(all="ignore"):
            for _ in range(MOST_STEPS):
                factor, slope = self._factor(r)
                excess = r * factor - shown_r
                low, high = np.where(excess < 0, r, low), np.where(excess > 0, r, high)
                newton = r - excess / slope
                useful = (newton >= low) & (newton <= high) & (np.abs(newton - r) <= np.abs(step) / 2)
                step = np.where(useful, newton, (low + high) / 2) - r
                r = r + step
                if not (np.abs(step) > 1e-13).any():
                    break
            ratio = np.where(shown_r > 0, r / shown_r, 1.0)
        return np.asarray(self.centre_px + self.scale_px * away * ratio[:, None])

    def bend_jacobian(self, straight_px: ArrayLike) -> Floats:
        """Derivative (N, 2, 2) of `bend` by the straight pixels (N, 2); `straighten` has its inverse."""
        away = (_points(straight_px) - self.centre_px) / self.scale_px
        r = np.hypot(*away.T)
        factor, slope = self._factor(r)
        with np.errstate(all="ignore"):
            outward = np.where(r[:, None] > 0, away / r[:, None], 0.0)
        along = outward[:, :, None] * outward[:, None, :]
        return np.asarray(factor[:, None, None] * np.eye(2) + (slope - factor)[:, None, None] * along)

    def parameter_jacobian(self, straight_px: ArrayLike) -> Floats:
        """Derivative (N, 2, 4) of `bend` by k1, k2 and the centre's x and y."""
        by_centre = np.eye(2) - self.bend_jacobian(straight_px)
        return np.concatenate([self.coefficient_jacobian(straight_px), by_centre], axis=2)

    def coefficient_jacobian(self, straight_px: ArrayLike) -> Floats:
        """Derivative (N, 2, 2) of `bend` by k1 and k2."""
        away = _points(straight_px) - self.centre_px
        r2 = np.minimum((away**2).sum(axis=1) / self.scale_px**2, self._limit() ** 2)[:, None]
        return np.stack([away * r2, away * r2**2], axis=2)

    def _limit(self) -> float:
        """The distance at which the polynomial's slope 1 + 3 k1 r^2 + 5 k2 r^4 first falls to LEAST_SLOPE."""
        root = 9 * self.k1**2 - 20 * (1 - LEAST_SLOPE) * self.k2
        inverse_square = (-3 * self.k1 + math.sqrt(root)) / (2 * (1 - LEAST_SLOPE)) if root >= 0 else 0.0
        return 1 / math.sqrt(inverse_square) if inverse_square > FAR**-2 else math.inf

    def _polynomial(self, r: Floats | float) -> tuple[Floats, Floats]:
        r2 = np.square(r)
        return np.asarray(1 + self.k1 * r2 + self.k2 * r2**2), np.asarray(1 + 3 * self.k1 * r2 + 5 * self.k2 * r2**2)

    def _factor(self, r: Floats) -> tuple[Floats, Floats]:
        """Shown over straight distance (N,), and the slope (N,) of the shown distance."""
        limit = self._limit()
        within = np.minimum(r, limit)
        factor, slope = self._polynomial(within)
        beyond = r > limit
        if beyond.any():
            factor[beyond] = (within * factor + LEAST_SLOPE * (r - within))[beyond] / r[beyond]
            slope[beyond] = LEAST_SLOPE
        return factor, slope


def _points(points_px: ArrayLike) -> Floats:
    points = np.asarray(points_px, dtype=float)
    if points.ndim != 2 or points.shape[1] != 2:
        raise ValueError(f"pixels must have shape (N, 2), not {points.shape}")
    return points
