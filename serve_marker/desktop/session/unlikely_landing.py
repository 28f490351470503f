"""What is asked about a landing where no serve lands."""

from __future__ import annotations

import math

from serve_marker.court.dimensions import Court
from serve_marker.logbook.records import FloorPoint

FREE_ZONE_M = (5.0, 6.5)
"""Beside the sidelines and behind the end lines [m], as world competitions need it (FIVB rules 2025-2028, 1.1)."""


def question_about(point: FloorPoint | None, court: Court) -> str:
    r"""Return what to ask about a landing off the floor or beyond the free zone; "" for any other.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> question_about(FloorPoint(0.0, 33.5, 0.1, 0.0, 0.1), court_named("indoor"))
    'This is 24.5\xa0m outside the court. Is it a landing?'
    """
    if point is None:
        return "This is not on the floor. Is it a landing?"
    beside_m = max(abs(point.x_m) - court.half_width_m, 0.0)
    behind_m = max(abs(point.y_m) - court.half_length_m, 0.0)
    if beside_m <= FREE_ZONE_M[0] and behind_m <= FREE_ZONE_M[1]:
        return ""
    return f"This is {math.hypot(beside_m, behind_m):.1f} m outside the court. Is it a landing?"
