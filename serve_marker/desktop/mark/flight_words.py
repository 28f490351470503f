"""How a serve flew, in one line of the panel."""

from __future__ import annotations

import numpy as np

from serve_marker.desktop.session.workspace import Workspace
from serve_marker.logbook.records import Serve
from serve_marker.logbook.serve_arrays import columns_of
from serve_marker.report.lettering import with_units_held
from serve_marker.study.flight_columns import flight_columns, pace_columns, timed
from serve_marker.study.sentences import over_net_words, pace_words
from serve_marker.study.settings import settings_of


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
    pace = pace_words(value["pace_mps"], value["pace_low_mps"], value["pace_high_mps"], settings.pace_unit)
    over = over_net_words(*(value[f"net_clearance_{part}m"] for part in ("", "low_", "high_")))
    return with_units_held(", ".join(filter(None, (pace, over))))
