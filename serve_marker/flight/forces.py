"""Gravity, and the drag and lift of a serve with how far they may be off.

Drag and spin of one serve are not seen; they enter as spread, never as secret constants:

- Drag falls sharply at a critical speed. In wind tunnels balls of two makers had Cd 0.13-0.17 at 19-25 m/s (Hong,
  Ozaki, Watanabe, Asai, Appl. Sci. 2020, 10, 3256); below it about 0.4-0.5 (common practice, no source). A serve
  slows down through that range, so its mean Cd is taken as 0.40 up to a pace of 12 m/s, falling evenly to 0.25 at
  24 m/s, each with a deviation of 0.07 (own choice: 95 % from about 0.11 to 0.54).
- Lift is the ratio of spin to speed, up to 0.2-0.3 (common practice, no source): see ``LIFT_BY_SERVE_TYPE``. What
  counts is its mean over the flight: a float that drifts up and down by turns loses most of it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.court.dimensions import Floats

GRAVITY_MPS2 = 9.81
AIR_DENSITY_KG_M3 = 1.204
"""Dry air at 20 degrees C and 1013 hPa."""

SLOW_PACE_MPS, SLOW_DRAG = 12.0, 0.40
FAST_PACE_MPS, FAST_DRAG = 24.0, 0.25
DRAG_SD = 0.07

LIFT_BY_SERVE_TYPE = {
    "underhand": (0.0, 0.05),
    "float": (0.0, 0.01),
    "jump float": (0.0, 0.01),
    "topspin": (0.14, 0.03),
    "jump topspin": (0.14, 0.03),
    "hybrid": (0.07, 0.075),
}
"""Mean CL and its deviation (own choice). That of a float stands for its wobble: over a flight of 1 s at 17 m/s, 0.11 m
up or down. A hybrid may spin or float."""
UNKNOWN_LIFT = (0.07, 0.075)
"""As likely a float as a serve with topspin."""


def likely_drag(pace_mps: ArrayLike) -> tuple[Floats, Floats]:
    """Mean drag coefficient and its deviation (N,) for serves of an average pace (N,).

    Examples
    --------
    >>> likely_drag([10.0, 18.0, 30.0])[0].round(3).tolist()
    [0.4, 0.325, 0.25]
    """
    pace = np.asarray(pace_mps, dtype=float)
    mean = np.interp(pace, (SLOW_PACE_MPS, FAST_PACE_MPS), (SLOW_DRAG, FAST_DRAG))
    return np.where(np.isfinite(pace), mean, np.nan), np.full_like(pace, DRAG_SD)


def likely_lift(serve_types: Sequence[str]) -> tuple[Floats, Floats]:
    """Mean lift coefficient and its deviation (N,) for types of serve; "" and others are unknown.

    Examples
    --------
    >>> likely_lift(["float", "jump topspin"])[0].tolist()
    [0.0, 0.14]
    """
    rows = np.array([LIFT_BY_SERVE_TYPE.get(kind, UNKNOWN_LIFT) for kind in serve_types], dtype=float).reshape(-1, 2)
    return rows[:, 0], rows[:, 1]
