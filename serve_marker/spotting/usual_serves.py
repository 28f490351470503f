"""What serves have in common, and which balls in the air may have begun as one: a test before the costly fits.

Flights are carried back, and on, to many moments, all at once; at one of these a serve must have been where serves are
hit, as far as the flight's own error and the unknown air allow.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.flight.forces import UNKNOWN_LIFT, likely_drag
from serve_marker.flight.trajectory import PER_METRE, Motion, advance, against_indoor

CONTACT_HEIGHT_M, CONTACT_HEIGHT_SD_M = 2.6, 0.35
BEHIND_LINE_M, BEHIND_LINE_SD_M = 0.3, 0.8
"""How high and how far behind the end line serves are hit, standing and jumping into the court (common practice, no
source; own estimate of the deviations)."""
BEFORE_S, AFTER_S, MOMENTS = 1.8, 0.5, 47
"""From so long before a flight is first seen to so long after it, a twentieth of a second apart."""
AIR_SD_MPS2 = (1.0, 2.0, 2.5)
"""How far the pull of the air strays across, along and up: a float's from a topspin's (own estimate)."""
MOST_SQUARES = 60.0
"""Loose, for only the fit itself is to decide: 999 of 1000 normal deviates stay below 16."""
AIR_STEPS = 2
FASTEST_BALL_MPS = 60.0


def carried(states: Floats, since_s: Floats, view: View) -> Floats:
    """Places (G, K, 3) of balls so long (G, K) after states (G, 6), with the air of usual serves."""
    level = states[:, 3:5]
    pace = np.clip(np.hypot(*level.T), 1e-6, FASTEST_BALL_MPS)[:, None]
    air = PER_METRE * against_indoor(view.court.ball)
    zero = np.zeros_like(since_s)
    start = Motion(zero, zero, zero + pace, zero + np.clip(states[:, 5:], -FASTEST_BALL_MPS, FASTEST_BALL_MPS))
    there = advance(start, since_s, likely_drag(pace)[0] * air, UNKNOWN_LIFT[0] * air, AIR_STEPS)
    ways = there.along_m[..., None] * (level / np.maximum(np.hypot(*level.T), 1e-6)[:, None])[:, None]
    return np.concatenate([states[:, None, :2] + ways, (states[:, 2:3] + there.height_m)[..., None]], axis=2)


def may_be_served(states: Floats, covs: Floats, first_seen_s: Floats, view: View) -> NDArray[np.bool_]:
    """Which balls (F,) may have been hit behind an end line, by their states (F, 6) and covariances (F, 6, 6).

    ``first_seen_s`` (F,) is when they were first seen, from the moment of the state.
    """
    towards = np.sign(states[:, 4])
    since_s = first_seen_s[:, None] + np.linspace(-BEFORE_S, AFTER_S, MOMENTS)
    places = carried(states, since_s, view)
    behind_m = -towards[:, None] * places[..., 1] - view.court.half_length_m - BEHIND_LINE_M
    off_m = np.stack([places[..., 0], behind_m, places[..., 2] - CONTACT_HEIGHT_M], axis=2)
    turn = np.ones((len(states), 1, 3, 1))
    turn[:, 0, 1, 0] = -towards
    by_state = (np.eye(3, 6) + np.eye(3, 6, 3) * since_s[..., None, None]) * turn
    usual_m = np.array([view.court.half_width_m, BEHIND_LINE_SD_M, CONTACT_HEIGHT_SD_M])
    air_m = np.array(AIR_SD_MPS2) * since_s[..., None] ** 2 / 2
    spread = by_state @ covs[:, None] @ by_state.transpose(0, 1, 3, 2)
    spread += np.eye(3) * (usual_m**2 + air_m**2)[..., None]
    squares = (off_m * np.linalg.solve(spread, off_m[..., None])[..., 0]).sum(axis=2)
    return np.asarray(squares.min(axis=1, initial=np.inf) < MOST_SQUARES)
