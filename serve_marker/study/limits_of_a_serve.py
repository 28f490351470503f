"""What no serve can do: paces too slow or too fast, ways through the net. Mark asks, Study leaves them out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.flight.trajectory import BALL_RADIUS_M

SLOWEST_MPS, FASTEST_MPS = 25 / 3.6, 140 / 3.6
"""Average paces outside this are no serve's: the slowest match serve measured was 42 km/h (Stamm et al., ECSS abstract
628), the fastest served by national teams about 110-125 km/h; rounded outwards (own choice)."""


def impossible_mask(pace_mps: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether each average pace (N,) cannot be a serve's, as when a clip runs in slow motion; unknown paces are not.

    Examples
    --------
    >>> impossible_mask(np.array([2.0, 15.0, 60.0, np.nan])).tolist()
    [True, False, True, False]
    """
    with np.errstate(invalid="ignore"):
        return np.asarray((pace_mps < SLOWEST_MPS) | (pace_mps > FASTEST_MPS), dtype=bool)


def through_net_mask(columns: Mapping[str, Any]) -> NDArray[np.bool_]:
    """Whether each serve (N,) came over, but by its marks would have gone through the net; unknown flights did not.

    Even the upper end of its clearance leaves no room for the ball, whose middle passes a radius above the tape. That
    is what a contact marked too late does: the flight becomes too short for its way, and so too flat.
    """
    with np.errstate(invalid="ignore"):
        return np.asarray(np.asarray(columns["net_clearance_high_m"], dtype=float) < BALL_RADIUS_M, dtype=bool)
