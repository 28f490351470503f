"""How a serve flew, in one line of the panel."""

from __future__ import annotations

import math

import numpy as np

from serve_marker.desktop.session.workspace import Workspace
from serve_marker.logbook.records import Serve
from serve_marker.logbook.serve_arrays import columns_of
from serve_marker.study.flight_columns import flight_columns, pace_columns, timed
from serve_marker.study.settings import PER_MPS, settings_of


def flight_words(serve: Serve, workspace: Workspace) -> str:
    """Return how fast a serve of the open clip flew and how high over the net, with their ranges; "" where unknown."""
    view = workspace.view
    if view is None or serve.landing_point is None or serve.contact_point is None:
        return ""
    settings = settings_of(workspace.book())
    of = timed(columns_of([serve]), [(view, np.array([0]))], {serve.clip_id: workspace.time_scale})
    frames_off = view.click_frames_off
    found = pace_columns(of, frames_off) | flight_columns(of, workspace.players, [view.net_height_m], frames_off)
    value = {name: float(column[0]) for name, column in found.items()}
    parts = []
    per_mps = PER_MPS[settings.pace_unit]
    pace, low, high = (value[name] * per_mps for name in ("pace_mps", "pace_low_mps", "pace_high_mps"))
    if math.isfinite(pace):
        parts.append(f"{pace:.0f}\xa0{settings.pace_unit} ({low:.0f}–{high:.0f})")
    over_m = value["net_clearance_m"]
    if math.isfinite(over_m):
        known_m = (value["net_clearance_high_m"] - value["net_clearance_low_m"]) / 2
        side = "over" if over_m >= 0 else "under"
        parts.append(f"{abs(over_m):.1f}\xa0m {side} the net ±{known_m:.1f}")
    return ", ".join(parts)
