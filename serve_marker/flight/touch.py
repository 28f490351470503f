"""The touch between frames, of the floor or of a server's hand, from the ball on a few frames around it.

For every possible moment of the touch, two short flights that meet there are fitted to the marks: the ball
comes with one velocity and leaves with another, both roughly known beforehand. The moments are then weighed by
how well they fit (a Laplace approximation per moment, summed over a grid), so that any number of marks helps and the
error left is honest about few of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from serve_marker.court.dimensions import Floats
from serve_marker.flight.forces import GRAVITY_MPS2

MOMENTS = 61
STEPS = 6


@dataclass(frozen=True, eq=False)
class Expected:
    """What is known of a touch before anything is seen: mean (8,) and information (8, 8).

    The eight are its place (x, y) and the ball's velocities before and after it.
    """

    mean: Floats
    information: Floats

    def at(self, place_m: Floats) -> Expected:
        """The same about another place (2,) [m]."""
        return Expected(np.concatenate([place_m, self.mean[2:]]), self.information)


@dataclass(frozen=True, eq=False)
class Touch:
    """Where the ball touched (2,) [m], its covariance (2, 2) [m2], and the marks' best sum of squares in SDs.

    ``moment_s`` is when, on the marks' clock, and ``moment_sd_s`` its deviation; ``before_mps`` and ``after_mps`` (3,)
    are the velocities; ``strain`` is how far they lie from the expected ones, a sum of squares in SDs.
    """

    point_m: Floats
    cov_m2: Floats
    misfit: float
    moment_s: float
    moment_sd_s: float
    before_mps: Floats
    after_mps: Floats
    strain: float


def touch_point(
    times_s: Floats,
    pixels_px: Floats,
    sd_px: Floats,
    projection: Floats,
    window_s: tuple[float, float],
    expected: Expected,
    drag_per_m: float = 0.0,
) -> Touch | None:
    """Return the touch seen through ``projection`` (3, 4), metres to straight pixels; None where no fit settles.

    Parameters
    ----------
    times_s, pixels_px : (K,) and (K, 2), the ball on K frames: its underside, or its centre with heights counted
        from where that is in the touch.
    sd_px : (K,), deviation of each mark per axis from the short flights [px].
    window_s : the earliest and latest moment of the touch.
    expected : of this one ball.
    drag_per_m : drag per metre of path [1/m].
    """
    moments_s = window_s[0] + (np.arange(MOMENTS) + 0.5) / MOMENTS * (window_s[1] - window_s[0])
    since_s = times_s[None] - moments_s[:, None]
    guess, prior = expected.mean, expected.information
    unknowns = np.broadcast_to(guess, (MOMENTS, 8)).copy()

    def in_sd(at: Floats) -> tuple[Floats, Floats]:
        seen, by_unknowns = seen_from(at, since_s, projection, drag_per_m)
        residual = ((pixels_px[None] - seen) / sd_px[:, None]).reshape(MOMENTS, -1)
        return residual, (by_unknowns / sd_px[:, None, None]).reshape(MOMENTS, -1, 8)

    with np.errstate(all="ignore"):
        for _ in range(STEPS):
            residual, jacobian = in_sd(unknowns)
            normal = jacobian.transpose(0, 2, 1) @ jacobian + prior
            pull = (jacobian.transpose(0, 2, 1) @ residual[:, :, None])[:, :, 0] + (guess - unknowns) @ prior
            if not (np.isfinite(normal).all() and np.isfinite(pull).all()):
                return None
            try:
                unknowns += np.linalg.solve(normal, pull[:, :, None])[:, :, 0]
            except np.linalg.LinAlgError:
                return None
        residual, _ = in_sd(unknowns)
    squares = (residual**2).sum(axis=1)
    strain = np.einsum("gi,ij,gj->g", unknowns - guess, prior, unknowns - guess)
    log_weight = -(squares + strain) / 2 - np.linalg.slogdet(normal)[1] / 2
    if not np.isfinite(log_weight).all():
        return None
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    mean = weight @ unknowns
    apart = unknowns[:, :2] - mean[:2]
    spread = np.linalg.inv(normal)[:, :2, :2] + apart[:, :, None] * apart[:, None, :]
    best = int(log_weight.argmax())
    moment_s = float(weight @ moments_s)
    step_s = (window_s[1] - window_s[0]) / MOMENTS
    return Touch(
        mean[:2],
        np.einsum("g,gij->ij", weight, spread),
        float(squares.min()),
        moment_s,
        float(np.sqrt(weight @ (moments_s - moment_s) ** 2 + step_s**2 / 12)),
        mean[2:5],
        mean[5:],
        float(strain[best]),
    )


def seen_from(unknowns: Floats, since_s: Floats, projection: Floats, drag_per_m: float) -> tuple[Floats, Floats]:
    """Return where balls (G, 8) are seen K moments after their touch, (G, K, 2) [px], and derivatives (G, K, 2, 8).

    ``since_s`` is (G, K) or (K,). Drag is that of the velocity at the touch, along all of the short flight.
    """
    since_s = np.broadcast_to(since_s, (len(unknowns), since_s.shape[-1]))
    after = since_s > 0
    velocity = np.where(after[..., None], unknowns[:, None, 5:8], unknowns[:, None, 2:5])
    way = way_since(velocity, since_s, drag_per_m)
    way[..., :2] += unknowns[:, None, :2]
    q = way @ projection[:, :3].T + projection[:, 3]
    seen = q[..., :2] / q[..., 2:]
    by_place = (projection[:2, :3] - seen[..., None] * projection[2, :3]) / q[..., 2, None, None]
    by_unknowns = np.zeros((*after.shape, 2, 8))
    by_unknowns[..., :2] = by_place[..., :2]
    by_velocity = by_place * since_s[..., None, None]
    by_unknowns[..., 2:5] = np.where(after[..., None, None], 0.0, by_velocity)
    by_unknowns[..., 5:8] = np.where(after[..., None, None], by_velocity, 0.0)
    return seen, by_unknowns


def way_since(velocity_mps: Floats, since_s: Floats, drag_per_m: float) -> Floats:
    """Return the way (..., 3) [m] since or until a touch with velocities (..., 3), drag that of the touch throughout.

    Examples
    --------
    >>> way_since(np.array([0.0, 10.0, -5.0]), np.array(-0.1), 0.0).round(3).tolist()
    [-0.0, -1.0, 0.451]
    """
    slowed_s = since_s - drag_per_m / 2 * np.linalg.norm(velocity_mps, axis=-1) * since_s**2
    way_m = slowed_s[..., None] * velocity_mps
    way_m[..., 2] -= GRAVITY_MPS2 / 2 * since_s**2
    return np.asarray(way_m)
