"""What a server's hit does to a ball, before any of it is seen: the toss it ends and the flight it begins."""

from __future__ import annotations

import numpy as np

from serve_marker.court.dimensions import Floats
from serve_marker.flight.forces import GRAVITY_MPS2
from serve_marker.flight.touch import Expected

TOSS_MPS, TOSS_SD_MPS = (1.0, 0.0, -1.2), (1.5, 0.5, 1.5)
"""Along the serve, aside and up: tosses are hit near their top or falling, a jump server's forwards (own estimate)."""
FIRST_SHARE = 1.12
"""A serve leaves the hand faster than its average pace, as drag slows it (common practice, no source)."""
LAUNCH_SD_SHARE, LAUNCH_UP_SD_MPS = (0.25, 0.08), 3.0
"""How far a launch strays along and aside, over its pace, and upwards (own estimate: drag, spin, float)."""


def rough_launch_velocity(way_m: Floats, flight_s: float, height_m: float) -> Floats:
    """Return about how a ball (3,) [m/s] left the hand at a height [m] that came down a way (2,) [m] further on.

    Examples
    --------
    >>> rough_launch_velocity(np.array([0.0, 15.0]), 1.2, 2.4).round(1).tolist()
    [0.0, 14.0, 3.9]
    """
    up_mps = GRAVITY_MPS2 * flight_s / 2 - height_m / flight_s
    return np.array([*(FIRST_SHARE * np.asarray(way_m) / flight_s), up_mps])


def expected_hit(foot_m: Floats, launch_mps: Floats) -> Expected:
    """Return what is known of a hit above ``foot_m`` (2,), of whose place nothing is known, before it is seen."""
    pace_mps = float(np.hypot(*launch_mps[:2]))
    along = launch_mps[:2] / pace_mps
    axes = np.array([(*along, 0.0), (-along[1], along[0], 0.0), (0.0, 0.0, 1.0)])
    launch_sd_mps = np.array([*(share * pace_mps for share in LAUNCH_SD_SHARE), LAUNCH_UP_SD_MPS])
    rows = np.zeros((6, 8))
    rows[:3, 2:5] = axes / np.array(TOSS_SD_MPS)[:, None]
    rows[3:, 5:8] = axes / launch_sd_mps[:, None]
    return Expected(np.concatenate([foot_m, np.array(TOSS_MPS) @ axes, launch_mps]), rows.T @ rows)
