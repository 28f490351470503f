"""What is asked about a serve that cannot have flown as it was marked."""

from __future__ import annotations

import numpy as np

from serve_marker.desktop.dialogs.shortcut_card import key_words
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.logbook.records import Serve
from serve_marker.logbook.serve_arrays import columns_of
from serve_marker.study.flight_columns import flight_columns, through_net_mask, timed
from serve_marker.study.pace_limits import SLOWEST_MPS, impossible_mask
from serve_marker.study.suggested_capture_rate import placed_paces_mps


def doubt(serve: Serve, workspace: Workspace, suggested_fps: float | None) -> str:
    """Return what to ask about a serve of the open clip; "" where nothing is doubtful.

    ``suggested_fps`` is the rate at which the clip may have been filmed.
    """
    (pace_mps,) = placed_paces_mps([serve], workspace.time_scale)
    if not impossible_mask(np.array([pace_mps]))[0]:
        through = _through_net(serve, workspace)
        return "It would have gone through the net: is the contact marked too late?" if through else ""
    flown = f"It would have flown at {3.6 * pace_mps:.0f} km/h"
    if pace_mps > SLOWEST_MPS:
        return f"{flown}, faster than any serve: is the contact marked right?"
    guess = f", filmed at {suggested_fps:.0f}" if suggested_fps else ""
    return f"{flown}, slower than any serve: is it slow motion{guess}? {key_words('Ctrl+M')} says so."


def _through_net(serve: Serve, workspace: Workspace) -> bool:
    if workspace.view is None:
        return False
    of = timed(columns_of([serve]), [(workspace.view, np.array([0]))], {serve.clip_id: workspace.time_scale})
    return bool(through_net_mask(flight_columns(of, workspace.players, [workspace.view.net_height_m]))[0])
