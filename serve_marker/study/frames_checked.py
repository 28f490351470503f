"""On which frames a coach clicks, as the film around her landings tells it: a second marking that costs nothing."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.confidence_level import NORMAL_95


def frames_checked(touches_s: ArrayLike) -> tuple[int, int]:
    """Return of how many landings the film tells whether the frame clicked is the nearest, and of how many it is.

    ``touches_s`` (N, 4) is as `Logbook.touches_on_film` gives it. Nothing is told where the touch, within its own
    error, may lie on either side of the middle between two frames.

    Examples
    --------
    >>> gaps_s = (0.033, 0.033)
    >>> frames_checked([(0.01, 0.002, *gaps_s), (-0.03, 0.002, *gaps_s), (0.017, 0.002, *gaps_s)])
    (2, 1)
    """
    after_s, sd_s, gap_before_s, gap_after_s = np.reshape(np.asarray(touches_s, dtype=float), (-1, 4)).T
    half_s = np.where(after_s > 0, gap_after_s, gap_before_s) / 2
    nearest = np.abs(after_s) + NORMAL_95 * sd_s <= half_s
    beside = np.abs(after_s) - NORMAL_95 * sd_s > half_s
    return int(nearest.sum() + beside.sum()), int(nearest.sum())
