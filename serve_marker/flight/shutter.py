"""What the shutter hides: between two frames the ball comes down, touches the floor and leaves it.

The clicked frame is the one nearest the touch, so that the touch lies anywhere within half a frame of it. Before the
touch the ball is higher and further back; after it, it has rebounded. Its underside at height h, at the ground
distance D from a camera of height H, is seen over the floor ``D h / (H - h)`` further out (similar triangles)::

        camera
          o-_
          |  `-_
        H |     `-_ o ball's underside, h above the floor
          |        `-_
          +-----------+---*---------   * the floor point that is clicked
          <---- D ---->
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from serve_marker.court.dimensions import Floats
from serve_marker.flight.forces import GRAVITY_MPS2

RESTITUTION = 0.7
"""Share of the ball's speed kept by a bounce on a gym floor, along and up (common practice, no source)."""
LONGEST_GAP_S = 0.1
"""Over longer gaps a ball flies and bounces too far for its mean displacement to be told: the click stays."""
TIME_NODES = 15
TALLEST_SHARE = 0.8


@dataclass(frozen=True, eq=False)
class Arrival:
    """How N balls come down: mean velocity (N, 3) [m/s], z up, and deviations (N, 3) along, sideways, up [m/s]."""

    velocity_mps: Floats
    sd_mps: Floats

    def axes(self) -> Floats:
        """Unit vectors (N, 3, 3), one row each for along, sideways and up."""
        level = self.velocity_mps[:, :2] / np.maximum(np.hypot(*self.velocity_mps[:, :2].T), 1e-9)[:, None]
        axes = np.zeros((len(level), 3, 3))
        axes[:, 0, :2] = level
        axes[:, 1, 0], axes[:, 1, 1] = -level[:, 1], level[:, 0]
        axes[:, 2, 2] = 1.0
        return axes

    def samples(self) -> Floats:
        """Six velocities (N, 6, 3) [m/s] with the same mean and covariance."""
        steps = np.sqrt(3.0) * self.sd_mps[:, :, None] * self.axes()
        return np.asarray(self.velocity_mps[:, None] + np.concatenate([steps, -steps], axis=1))


def shutter_displacement(
    points_m: Floats,
    camera_m: tuple[float, float, float],
    arrival: Arrival,
    gaps_s: Floats,
    frames_off: float = 0.0,
) -> tuple[Floats, Floats]:
    """Mean (N, 2) [m] and covariance (N, 2, 2) [m2] of clicked minus touched points, for balls clicked as seen.

    On both sides of the touch the ball is above the floor and seen too far out, so that the mean is not zero. Over a
    gap longer than ``LONGEST_GAP_S`` it is left at zero, and the covariance is about the click itself.

    Parameters
    ----------
    points_m : (N, 2), where the balls were clicked.
    camera_m : the camera's place in the same frame [m].
    gaps_s : (N, 2), time to the frame before and after the clicked one [s].
    frames_off : how many frames the click may lie beside the nearest, each as likely. The mean stays that of the
        nearest frame, which most clicks are on; the covariance about it is that of all these frames.

    Examples
    --------
    >>> down = Arrival(np.array([[0.0, 13.0, -7.5]]), np.zeros((1, 3)))
    >>> gaps = np.array([[1 / 30, 1 / 30]])
    >>> mean_m, cov_m2 = shutter_displacement(np.array([[0.0, 5.0]]), (0.0, 14.0, 2.0), down, gaps)
    >>> mean_m.round(2).tolist(), np.sqrt(np.diagonal(cov_m2[0])).round(2).tolist()
    ([[0.0, -0.26]], [0.0, 0.22])
    """
    near_m = _displacements(points_m, camera_m, arrival, gaps_s)
    mean_m = near_m.mean(axis=1) * (gaps_s.max(axis=1) <= LONGEST_GAP_S)[:, None]
    apart_m = _displacements(points_m, camera_m, arrival, gaps_s * (1 + 2 * frames_off)) - mean_m[:, None]
    return mean_m, np.asarray(apart_m.transpose(0, 2, 1) @ apart_m / max(apart_m.shape[1], 1))


def _displacements(points_m: Floats, camera_m: tuple[float, float, float], arrival: Arrival, gaps_s: Floats) -> Floats:
    """Clicked minus touched points (N, M, 2) [m] at moments evenly spread over half of each gap, for all arrivals."""
    share = (np.arange(TIME_NODES) + 0.5) / TIME_NODES
    since_s = (gaps_s[:, :1] - share * gaps_s.sum(axis=1, keepdims=True))[:, :, None] * 0.5
    velocity = arrival.samples()[:, None]
    kept = np.where(since_s > 0, RESTITUTION, 1.0)
    level_m = (kept * since_s)[..., None] * velocity[..., :2]
    rise_m = kept * np.abs(since_s) * np.abs(velocity[..., 2]) - GRAVITY_MPS2 / 2 * since_s**2
    height_m = np.clip(rise_m, 0.0, TALLEST_SHARE * camera_m[2])
    from_camera = points_m - np.array(camera_m[:2])
    outward_m = from_camera[:, None, None] * (height_m / (camera_m[2] - height_m))[..., None]
    return np.asarray((level_m + outward_m).reshape(len(points_m), -1, 2))
