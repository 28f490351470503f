"""At what rate a clip was filmed, guessed from serves that cannot have flown as they seem to."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from serve_marker.flight.pace import pace
from serve_marker.logbook.records import Serve
from serve_marker.marking.landing import in_true_time
from serve_marker.study.pace_limits import impossible_mask

CAMERA_RATES_FPS = (60.0, 120.0, 240.0, 480.0, 960.0)
"""Rates at which phones film slow motion (common practice, no source)."""
MIDDLE_SERVE_MPS = 16.0
"""Most float serves fly at 12-20 m/s (docs/measurement.md)."""


def placed_paces_mps(serves: Sequence[Serve], time_scale: float) -> NDArray[np.float64]:
    """Return the average paces (N,) of placed serves as `flight.pace` has them, NaN where unknown.

    ``time_scale`` is what the clip's time has to be multiplied by to be true.
    """
    paces_mps = np.full(len(serves), np.nan)
    for row, serve in enumerate(in_true_time(serve, time_scale) for serve in serves):
        contact, landing = serve.contact, serve.landing
        start, end = serve.contact_point, serve.landing_point
        if contact and landing and start and end:
            sure = np.zeros((1, 2, 2))
            before_s, after_s = ([(mark.gap_before_s, mark.gap_after_s)] for mark in (contact, landing))
            start_m, end_m = ([(point.x_m, point.y_m)] for point in (start, end))
            flight_s = [landing.time_s - contact.time_s]
            paces_mps[row] = pace(start_m, sure, end_m, sure, before_s, after_s, flight_s)[0][0]
    return paces_mps


def suggested_fps(pace_mps: NDArray[np.float64], shown_fps: float) -> float | None:
    """Return the rate that brings paces (N,) too slow for serves nearest to usual ones; None where most can be true.

    Examples
    --------
    >>> suggested_fps(np.array([1.9, 2.1, 2.0]), 30.0)
    240.0
    >>> suggested_fps(np.array([14.0, 17.0, 2.0]), 30.0) is None
    True
    """
    known = pace_mps[np.isfinite(pace_mps)]
    if not len(known):
        return None
    middle_mps = float(np.median(known))
    too_slow = bool(impossible_mask(np.array([middle_mps]))[0]) and middle_mps < MIDDLE_SERVE_MPS
    rates = [rate for rate in CAMERA_RATES_FPS if rate > shown_fps]
    if not too_slow or middle_mps <= 0 or not rates:
        return None
    return min(rates, key=lambda rate: abs(np.log(middle_mps * rate / shown_fps / MIDDLE_SERVE_MPS)))
