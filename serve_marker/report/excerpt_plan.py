"""Which frames of a film an excerpt shows of a serve, and for how long each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from serve_marker.court.dimensions import Floats
from serve_marker.logbook.records import Serve

BEFORE_S, AFTER_S = 1.0, 1.5
UNSEEN_FLIGHT_S = 1.5
"""How long before its end a serve is taken to be hit where its contact was not marked."""
SLOWED_WITHIN_S, SLOWED_BY = 0.25, 4.0
"""So long before and after the landing each frame stays so many times longer."""


@dataclass(frozen=True)
class Moments:
    """When a serve was hit and ended, and from when to when it is shown [s after the clip's first frame]."""

    hit_s: float
    ended_s: float

    @property
    def span_s(self) -> tuple[float, float]:
        """From when to when it is shown."""
        return max(self.hit_s - BEFORE_S, 0.0), self.ended_s + AFTER_S


def moments_of(serve: Serve) -> Moments | None:
    """Return when a serve was hit and ended; None where neither was marked.

    Examples
    --------
    >>> from serve_marker.logbook.records import Mark
    >>> moments_of(Serve(id="s", clip_id="c", contact=Mark(4.0), landing=Mark(5.25))).span_s
    (3.0, 6.75)
    """
    hit_s = None if serve.contact is None else serve.contact.time_s + (serve.hit_after_s or 0.0)
    ended_s = None if serve.landing is None else serve.landing.time_s + (serve.touch_after_s or 0.0)
    if hit_s is None and ended_s is None:
        return None
    if ended_s is None:
        return Moments(hit_s or 0.0, (hit_s or 0.0) + UNSEEN_FLIGHT_S)
    return Moments(ended_s - UNSEEN_FLIGHT_S if hit_s is None else hit_s, ended_s)


def shown_for_s(times_s: Floats, usual_gap_s: float, slowed_at_s: float | None) -> Floats:
    """Return how long each of some frames (N,) is shown [s]: until the next one, longer around the landing.

    Examples
    --------
    >>> shown_for_s(np.array([0.0, 0.1, 0.2, 0.5]), 0.1, 0.5).round(2).tolist()
    [0.1, 0.1, 0.3, 0.4]
    """
    gaps_s = np.append(np.diff(times_s), usual_gap_s)
    if slowed_at_s is None:
        return gaps_s
    return np.asarray(np.where(np.abs(times_s - slowed_at_s) <= SLOWED_WITHIN_S, SLOWED_BY, 1.0) * gaps_s)
