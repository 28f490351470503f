"""The touch between frames, from the ball's underside on a few frames around its bounce.

For every possible moment of the touch, two short flights that meet on the floor are fitted to the marks: the ball
comes down with one velocity and leaves with another, both roughly known beforehand. The moments are then weighed by
how well they fit (a Laplace approximation per moment, summed over a grid), so that any number of marks helps and the
error left is honest about few of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from serve_marker.court.dimensions import Floats
from serve_marker.flight.shutter import GRAVITY_MPS2, RESTITUTION, Arrival

MOMENTS = 61
STEPS = 6
REBOUND_SD_MPS = np.array([3.0, 2.0, 1.3])
"""How far a rebound's velocity along, sideways and up strays from 0.7 of the arrival's (own estimate: spin)."""


@dataclass(frozen=True, eq=False)
class Touch:
    """Where the ball touched (2,) [m], its covariance (2, 2) [m2], and the marks' best sum of squares in SDs."""

    point_m: Floats
    cov_m2: Floats
    misfit: float


def touch_point(
    times_s: Floats,
    pixels_px: Floats,
    sd_px: Floats,
    projection: Floats,
    window_s: tuple[float, float],
    start_m: Floats,
    arrival: Arrival,
) -> Touch | None:
    """Return the touch seen through ``projection`` (3, 4), court metres to pixels; None where no fit settles.

    Parameters
    ----------
    times_s, pixels_px : (K,) and (K, 2), the ball's underside on K frames.
    sd_px : (K,), deviation of each mark per axis from the short flights [px].
    window_s : the earliest and latest moment of the touch.
    start_m : (2,), a floor point near the touch.
    arrival : of this one ball.
    """
    moments_s = window_s[0] + (np.arange(MOMENTS) + 0.5) / MOMENTS * (window_s[1] - window_s[0])
    since_s = times_s[None] - moments_s[:, None]
    axes = arrival.axes()[0]
    mean = arrival.velocity_mps[0]
    bounce = np.diag([RESTITUTION, RESTITUTION, -RESTITUTION])
    to_arrival = axes / arrival.sd_mps[0][:, None]
    to_rebound = axes / REBOUND_SD_MPS[:, None]
    prior = np.zeros((6, 8))
    prior[:3, 2:5] = to_arrival
    prior[3:, 2:5], prior[3:, 5:8] = -to_rebound @ bounce, to_rebound
    expected = np.concatenate([to_arrival @ mean, np.zeros(3)])
    guess = np.concatenate([start_m, mean, bounce @ mean])
    unknowns = np.broadcast_to(guess, (MOMENTS, 8)).copy()
    with np.errstate(all="ignore"):
        for _ in range(STEPS):
            residual, jacobian = _marks_in_sd(unknowns, since_s, pixels_px, sd_px, projection)
            normal = jacobian.transpose(0, 2, 1) @ jacobian + prior.T @ prior
            pull = (jacobian.transpose(0, 2, 1) @ residual[:, :, None])[:, :, 0] + (
                expected - unknowns @ prior.T
            ) @ prior
            if not (np.isfinite(normal).all() and np.isfinite(pull).all()):
                return None
            unknowns += np.linalg.solve(normal, pull[:, :, None])[:, :, 0]
        residual, _ = _marks_in_sd(unknowns, since_s, pixels_px, sd_px, projection)
    squares = (residual**2).sum(axis=1)
    cost = squares + ((expected - unknowns @ prior.T) ** 2).sum(axis=1)
    log_weight = -cost / 2 - np.linalg.slogdet(normal)[1] / 2
    if not np.isfinite(log_weight).all():
        return None
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    point_m = weight @ unknowns[:, :2]
    apart = unknowns[:, :2] - point_m
    spread = np.linalg.inv(normal)[:, :2, :2] + apart[:, :, None] * apart[:, None, :]
    return Touch(point_m, np.einsum("g,gij->ij", weight, spread), float(squares.min()))


def _marks_in_sd(
    unknowns: Floats, since_s: Floats, pixels_px: Floats, sd_px: Floats, projection: Floats
) -> tuple[Floats, Floats]:
    """Residuals (G, 2K) and derivatives (G, 2K, 8) of the predicted marks, in deviations of a click."""
    moments, marks = since_s.shape
    after = since_s > 0
    velocity = np.where(after[..., None], unknowns[:, None, 5:8], unknowns[:, None, 2:5])
    place = np.concatenate(
        [unknowns[:, None, :2] + since_s[..., None] * velocity[..., :2], np.ones((*after.shape, 2))], 2
    )
    place[..., 2] = since_s * velocity[..., 2] - GRAVITY_MPS2 / 2 * since_s**2
    q = place @ projection.T
    seen = q[..., :2] / q[..., 2:]
    by_place = (projection[:2, :3] - seen[..., None] * projection[2, :3]) / q[..., 2, None, None]
    jacobian = np.zeros((moments, marks, 2, 8))
    jacobian[..., :2] = by_place[..., :2]
    by_velocity = by_place * since_s[..., None, None]
    jacobian[..., 2:5] = np.where(after[..., None, None], 0.0, by_velocity)
    jacobian[..., 5:8] = np.where(after[..., None, None], by_velocity, 0.0)
    residual = (pixels_px[None] - seen) / sd_px[:, None]
    jacobian /= sd_px[:, None, None]
    return residual.reshape(moments, 2 * marks), jacobian.reshape(moments, 2 * marks, 8)
