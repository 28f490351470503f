"""What the floor does to a ball, before any of it is seen: the fall it ends and the rebound it begins."""

from __future__ import annotations

import numpy as np

from serve_marker.court.dimensions import Floats
from serve_marker.flight.shutter import RESTITUTION, Arrival
from serve_marker.flight.touch import Expected

REBOUND_SD_MPS = np.array([3.0, 2.0, 1.3])
"""How far a rebound's velocity along, sideways and up strays from 0.7 of the arrival's (own estimate: spin)."""


def expected_bounce(start_m: Floats, arrival: Arrival) -> Expected:
    """Return what is known of a bounce near ``start_m`` (2,), of whose place nothing is known, before it is seen."""
    axes, mean = arrival.axes()[0], arrival.velocity_mps[0]
    bounce = np.diag([RESTITUTION, RESTITUTION, -RESTITUTION])
    to_arrival = axes / arrival.sd_mps[0][:, None]
    to_rebound = axes / REBOUND_SD_MPS[:, None]
    rows = np.zeros((6, 8))
    rows[:3, 2:5] = to_arrival
    rows[3:, 2:5], rows[3:, 5:8] = -to_rebound @ bounce, to_rebound
    return Expected(np.concatenate([start_m, mean, bounce @ mean]), rows.T @ rows)
