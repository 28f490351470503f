"""How fast the serves of the open clip flew."""

from __future__ import annotations

import math
from collections.abc import Sequence

from serve_marker.camera.fitting.repeatability import OWN_CLICK, own_frames_off
from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.logbook.records import Serve
from serve_marker.logbook.serve_arrays import columns_of
from serve_marker.study.flight_columns import pace_columns, timed
from serve_marker.study.groups import rows_of
from serve_marker.study.settings import PER_MPS, settings_of


def paces_of(serves: Sequence[Serve], workspace: Workspace) -> dict[str, float]:
    """Return the known paces of serves, each by the view it was placed in, by the serves' ids, in the team's unit."""
    placed = [serve for serve in serves if serve.contact_point and serve.landing_point and serve.view_id]
    stored = workspace.stored_views() if placed else {}
    columns = columns_of(placed)
    seen = [
        (view_from_text(stored[view_id].document), rows)
        for view_id, rows in rows_of(columns["view_id"]).items()
        if view_id in stored
    ]
    if not seen:
        return {}
    of = timed(columns, seen, dict.fromkeys({serve.clip_id for serve in placed}, workspace.time_scale))
    book = workspace.book()
    frames_off = own_frames_off(book.get_setting(OWN_CLICK))
    found = pace_columns(of, frames_off)["pace_mps"] * PER_MPS[settings_of(book).pace_unit]
    return {serve.id: float(pace) for serve, pace in zip(placed, found, strict=True) if math.isfinite(pace)}
