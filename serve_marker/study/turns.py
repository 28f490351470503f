"""From where on the end line a serve came, and whether early or late in its server's practice."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from serve_marker.court.dimensions import Court
from serve_marker.logbook.records import Serve

THIRDS = ("left third", "middle third", "right third")
"""Of the end line served from, as the server looks at the net."""
FIRST, LAST = "first 20", "last 20"
AT_EITHER_END = 20


def when_columns(
    serves: Sequence[Serve], practice_ids: Sequence[str], served_to: Sequence[str], courts: Sequence[Court]
) -> dict[str, Any]:
    """Return ``served_from`` (one of THIRDS, or "") and ``turn`` (FIRST, LAST or "") for serves in their order.

    A server with fewer than forty serves in a practice has her first and her last half told apart.
    """
    thirds = []
    for serve, half, court in zip(serves, served_to, courts, strict=True):
        if serve.contact_point is None or half not in ("a", "b"):
            thirds.append("")
            continue
        right_m = court.half_width_m + (1 if half == "b" else -1) * serve.contact_point.x_m
        thirds.append(THIRDS[min(max(int(3 * right_m / court.width_m), 0), 2)])
    rows_of: dict[tuple[str, str], list[int]] = {}
    for row, serve in enumerate(serves):
        if serve.player_id and practice_ids[row]:
            rows_of.setdefault((practice_ids[row], serve.player_id), []).append(row)
    turn = np.full(len(serves), "", dtype=object)
    for rows in rows_of.values():
        reach = min(AT_EITHER_END, len(rows) // 2)
        turn[rows[:reach]], turn[rows[len(rows) - reach :]] = FIRST, LAST
    return {"served_from": thirds, "turn": turn}
