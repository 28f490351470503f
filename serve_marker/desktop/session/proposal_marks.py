"""A proposal as the logbook keeps it: pixels on frames, which outlive a change of the view."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from serve_marker.logbook.records import Mark, StoredProposal, new_id
from serve_marker.spotting.proposals import Proposal
from serve_marker.video.clip import Clip


def stored_proposal(found: Proposal, clip: Clip, clip_id: str) -> StoredProposal:
    """Return a proposal of a clip as marks a click could have left: a ball in the net has a moment and no place."""
    marked = found.marked
    serve = replace(
        marked,
        id=new_id(),
        clip_id=clip_id,
        outcome=found.outcome,
        contact=_seen(marked.contact, clip),
        landing=_seen(marked.landing, clip, has_place=found.outcome != "net"),
        landing_height_m=float(found.flight_m[-1, 2]) if found.outcome == "received" else None,
    )
    times_s = np.linspace(found.contact_s, found.landing_s, len(found.flight_m)).tolist()
    flight = [
        Mark(time_s, (x_px, y_px), on_ball=True)
        for time_s, (x_px, y_px) in zip(times_s, found.view.project(found.flight_m).tolist(), strict=True)
        if np.isfinite([x_px, y_px]).all()
    ]
    weightiest_first = sorted(found.doubts, key=lambda doubt: -doubt.weight)
    return StoredProposal(serve, tuple(flight), found.confidence, "; ".join(doubt.why for doubt in weightiest_first))


def _seen(mark: Mark | None, clip: Clip, has_place: bool = True) -> Mark | None:
    """The mark, of its moment alone where it has no place in the picture."""
    if mark is None or mark.pixel is None:
        return mark
    x_px, y_px = mark.pixel
    inside = has_place and 0 <= x_px < clip.width and 0 <= y_px < clip.height
    return mark if inside else replace(mark, pixel=None, on_ball=False)
