"""How fast the serves of the open clip flew."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from serve_marker.desktop.session.workspace import Workspace
from serve_marker.logbook.records import Serve
from serve_marker.logbook.serve_arrays import columns_of
from serve_marker.study.flight_columns import pace_columns, timed
from serve_marker.study.settings import PER_MPS, settings_of


def paces_of(serves: Sequence[Serve], workspace: Workspace) -> dict[str, float]:
    """Return the known paces of the serves placed in the view shown, by the serves' ids, in the team's unit."""
    view = workspace.view
    placed = [serve for serve in serves if serve.contact_point and serve.landing_point]
    placed = [serve for serve in placed if serve.view_id == workspace.view_id]
    if view is None or not placed:
        return {}
    clip_ids = {serve.clip_id for serve in placed}
    of = timed(columns_of(placed), [(view, np.arange(len(placed)))], dict.fromkeys(clip_ids, workspace.time_scale))
    found = pace_columns(of, view.click_frames_off)["pace_mps"] * PER_MPS[settings_of(workspace.book()).pace_unit]
    return {serve.id: float(pace) for serve, pace in zip(placed, found, strict=True) if math.isfinite(pace)}
