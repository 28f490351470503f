"""How many serves there are, counted in the file: records of a million would fill the memory."""

from __future__ import annotations

from serve_marker.logbook.store import Logbook

_ORPHANED = "landing_x_m IS NOT NULL OR contact_x_m IS NOT NULL"
_UNPLACED = "landing_x_m IS NULL AND landing_x_px IS NOT NULL"


def serves_per_clip(logbook: Logbook) -> dict[str, int]:
    """Return how many serves each clip has, of those that have any."""
    return {str(clip_id): int(str(count)) for clip_id, count in logbook.rows("serve GROUP BY 1", "clip_id, count(*)")}


def serves_without_view(logbook: Logbook) -> dict[str, tuple[int, int]]:
    """Return for each clip how many serves without a view have a place from a lost one, and how many need one."""
    counted = f"clip_id, sum({_ORPHANED}), sum({_UNPLACED})"
    rows = logbook.rows("serve WHERE view_id IS NULL GROUP BY 1", counted)
    return {str(clip_id): (int(str(orphaned)), int(str(unplaced))) for clip_id, orphaned, unplaced in rows}
