"""From where on the end line a serve came, and whether early or late in its server's practice."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.logbook.serve_arrays import Columns
from serve_marker.study.groups import rows_of

THIRDS = ("left third", "middle third", "right third")
"""Of the end line served from, as the server looks at the net."""
FIRST, LAST = "first 20", "last 20"
AT_EITHER_END = 20


def when_columns(
    columns: Columns, practice_ids: NDArray[Any], halves: NDArray[Any], widths_m: NDArray[np.float64]
) -> dict[str, Any]:
    """Return ``served_from`` (one of THIRDS, or "") and ``turn`` (FIRST, LAST or "") for N serves in their order.

    A server with fewer than forty serves in a practice has her first and her last half told apart. ``halves`` are the
    receiving ends, ``widths_m`` the widths of the courts.
    """
    right_m = widths_m / 2 + np.where(halves == "b", 1, -1) * columns["contact_x_m"]
    known = np.isfinite(right_m) & (halves != "")
    third = np.clip(3 * np.where(known, right_m, 0.0) // widths_m, 0, 2).astype(int)
    thirds = np.where(known, np.array(THIRDS, dtype=object)[third], "")
    turn = np.full(len(halves), "", dtype=object)
    players = columns["player_id"]
    told = np.flatnonzero((players != "") & (practice_ids != ""))
    for rows in rows_of(practice_ids[told] + "\n" + players[told]).values():
        reach = min(AT_EITHER_END, len(rows) // 2)
        turn[told[rows[:reach]]], turn[told[rows[len(rows) - reach :]]] = FIRST, LAST
    return {"served_from": thirds, "turn": turn}
