"""From where on the end line a serve came, and whether early or late in its server's practice."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import Floats
from serve_marker.study.groups import rows_of

THIRDS = ("left third", "middle third", "right third")
"""Of the end line served from, as the server looks at the net."""
FIRST, LAST = "first 20", "last 20"
AT_EITHER_END = 20


def when_columns(
    contact_x_m: Floats, evenings: NDArray[np.int64], known: NDArray[np.bool_], halves: NDArray[Any], widths_m: Floats
) -> dict[str, Any]:
    """Return ``served_from`` (one of THIRDS, or "") and ``turn`` (FIRST, LAST or "") for N serves in their order.

    A server with fewer than forty serves in a practice has her first and her last half told apart. ``known`` says whose
    server and practice are, ``halves`` are the receiving ends, ``widths_m`` the widths of the courts.
    """
    right_m = widths_m / 2 + np.where(halves == "b", 1, -1) * contact_x_m
    placed = np.isfinite(right_m) & (halves != "")
    third = np.clip(3 * np.where(placed, right_m, 0.0) // widths_m, 0, 2).astype(int)
    thirds = np.where(placed, np.array(THIRDS, dtype=object)[third], "")
    turn = np.full(len(halves), "", dtype=object)
    told = np.flatnonzero(known)
    for rows in rows_of(evenings[told]).values():
        reach = min(AT_EITHER_END, len(rows) // 2)
        turn[told[rows[:reach]]], turn[told[rows[len(rows) - reach :]]] = FIRST, LAST
    return {"served_from": thirds, "turn": turn}
