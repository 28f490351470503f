"""The aims a coach steps through: no aim, the nine areas, the seams, the zones."""

from __future__ import annotations

from serve_marker.court.areas import AREAS, SEAMS

AIMS = ("", *AREAS, *SEAMS, *(f"zone {zone}" for zone in range(1, 7)))
