"""What each serve asked of the passers it was hit against, as columns of the serve table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import Court, Floats
from serve_marker.court.formations import Formation
from serve_marker.court.reception import Playable, receive
from serve_marker.study.groups import Rows, rows_of, where_known
from serve_marker.study.settings import StudySettings

FACED_COLUMNS = ("gap_m", "floor_gap_m", "nearest", "way", "forward_m", "right_m", "passer_seam", "demand", "reached")
FACED_NUMBERS = ("gap_m", "floor_gap_m", "forward_m", "right_m", "demand")


def playable_of(columns: Mapping[str, Any], halves: NDArray[Any]) -> Playable:
    """Return where N serves can be played, from FLIGHT_COLUMNS and the ends they were served to."""
    turn = np.where(halves == "a", -1.0, 1.0)[:, None]
    before_m, at_s, course = (
        np.column_stack([np.asarray(columns[name], dtype=float) for name in names])
        for names in (("high_before_m", "low_before_m"), ("high_at_s", "low_at_s"), ("course_x", "course_y"))
    )
    return Playable(before_m, at_s, turn * course)


def reception_columns(
    formation_ids: NDArray[Any],
    points_half_m: Floats,
    courts: Sequence[tuple[Court, Rows]],
    formations: Mapping[str, Formation],
    settings: StudySettings,
    playable: Playable | None = None,
) -> dict[str, Any]:
    """Return FACED_COLUMNS (N,) for landings (N, 2) in the half frame; NaN, "" and None where nothing can be told.

    ``nearest`` is the passer whose ball it was, ``gap_m``, ``way`` and ``forward_m``, ``right_m`` her way to where she
    meets it, ``demand`` which share that is of what she can cover in time and ``reached`` whether a passer could get to
    it; known only where the flight is ``playable``.
    ``courts`` are the courts with the rows of the serves hit on each.
    """
    count = len(formation_ids)
    columns: dict[str, Any] = {name: np.full(count, np.nan) for name in FACED_NUMBERS}
    columns |= {name: np.full(count, "", dtype=object) for name in ("nearest", "way", "passer_seam")}
    columns["reached"] = np.full(count, None, dtype=object)
    for court, on_court in courts:
        for formation_id, there in rows_of(formation_ids[on_court]).items():
            if formation_id not in formations:
                continue
            rows, formation = on_court[there], formations[formation_id]
            flown = None if playable is None else playable[rows]
            told = receive(points_half_m[rows], formation, court, settings.seam_width_m, flown, settings.movement)
            for name in (*FACED_NUMBERS, "way"):
                columns[name][rows] = getattr(told, name)
            columns["nearest"][rows], columns["passer_seam"][rows] = told.passer, told.seam
            columns["reached"][rows] = where_known(told.reached, np.isfinite(told.gap_m))
    return {name: columns[name] for name in FACED_COLUMNS}
