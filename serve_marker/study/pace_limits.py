"""Paces no serve has, too slow or too fast: Mark asks about them, Study leaves them out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

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
