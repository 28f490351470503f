"""On which frames a coach clicks, as the film around her landings tells it: a second marking that costs nothing."""

from __future__ import annotations

import numpy as np

from serve_marker.confidence_level import NORMAL_95
from serve_marker.logbook.serve_arrays import Columns


def frames_checked(columns: Columns) -> tuple[int, int]:
    """Return of how many landings the touch was told by the frames around, and how many lie on the nearest frame.

    A click counts as on the nearest frame where the touch, within its own error, may lie within half of the gap to the
    next.

    Examples
    --------
    >>> gaps = {f"landing_gap_{side}_s": np.full(3, 0.033) for side in ("before", "after")}
    >>> frames_checked(gaps | {"touch_after_s": np.array([0.01, -0.03, np.nan]), "touch_sd_s": np.full(3, 0.002)})
    (2, 1)
    """
    after_s, sd_s = columns["touch_after_s"], columns["touch_sd_s"]
    gap_s = np.where(after_s > 0, columns["landing_gap_after_s"], columns["landing_gap_before_s"])
    told = np.isfinite(after_s) & (gap_s > 0)
    nearest = np.abs(after_s) - NORMAL_95 * sd_s <= gap_s / 2
    return int(told.sum()), int((told & nearest).sum())
