"""Stored views held against a clip, and whether what came of it is known already."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

import numpy as np

from serve_marker.camera.picture.feature_matching import Grey
from serve_marker.camera.picture.moved_in_clip import still_limit_px
from serve_marker.camera.picture.realign import court_pixels
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.logbook.records import StoredView
from serve_marker.marking.view_check import ClipCheck, check_clip, shift_at_once_px
from serve_marker.marking.view_reference import reference_of
from serve_marker.video.clip import Clip

S = TypeVar("S")
Found = tuple[StoredView, ClipCheck]
Stored = tuple[tuple[float, StoredView | None], ...]
"""When each segment of a clip begins [s], and the stored view that holds there."""
SAME_MOVE_S = 0.5
"""The camera is said to have been moved at one moment where two times of it lie nearer than this."""


def compared(
    candidates: list[StoredView], clip: Clip, made_here: bool, go_on: Callable[[int, int], None]
) -> Found | None:
    """The stored view whose place the clip shows with the least shift, and how it lies there.

    A view made on this very clip holds as it is where its lines lie on lines; only if they do not, for instance
    because it was made after a knock, is the beginning laid on the picture kept with it.
    """
    for stored, kept in (
        _nearest_first(candidates, clip, go_on) if len(candidates) > 1 else _alone(candidates, made_here)
    ):
        check = check_clip(view_from_text(stored.document), clip, kept, go_on)
        if check.same_place:
            return stored, check
    return None


def _alone(candidates: Sequence[StoredView], made_here: bool) -> list[tuple[StoredView, Grey | None]]:
    """The one view, and with which picture it is held against the clip: first with none where it was made there."""
    references = [(stored, reference_of(stored.document)) for stored in candidates]
    without = [(stored, None) for stored, reference in references if made_here and reference is not None]
    return [*without, *references]


def _nearest_first(
    candidates: Sequence[StoredView], clip: Clip, go_on: Callable[[int, int], None]
) -> list[tuple[StoredView, Grey | None]]:
    """The views of this place with their pictures, by how far the camera has moved since; none after one unmoved."""
    found: list[tuple[float, StoredView, Grey | None]] = []
    for number, stored in enumerate(candidates):
        go_on(number, len(candidates))
        reference = reference_of(stored.document)
        shift_px = shift_at_once_px(view_from_text(stored.document), clip, reference)
        if np.isfinite(shift_px):
            found.append((shift_px, stored, reference))
        if shift_px == 0.0:
            break
    return [(stored, reference) for _, stored, reference in sorted(found, key=lambda one: one[0])]


def known_already(check: ClipCheck, stored: Stored) -> bool:
    """Whether the clip has all that a check found: a border at each move, and the view that holds behind it.

    A view the coach made where the lines could not be re-aligned says more than the check, as does a border of hers
    that the check has not found.
    """
    if not any(segment.view for segment in check.segments):
        return False
    bare_s = [from_s + SAME_MOVE_S for from_s, kept in stored if kept is None]
    if any(_last_begun(check.segments, bare, lambda segment: segment.from_s).view for bare in bare_s):
        return False
    for segment in check.segments:
        if min(abs(segment.from_s - from_s) for from_s, _ in stored) > SAME_MOVE_S:
            return False
        _, kept = _last_begun(stored, (segment.from_s + segment.to_s) / 2, lambda one: one[0])
        if segment.view and not (kept and _same(segment.view, view_from_text(kept.document))):
            return False
    return True


def _last_begun(segments: Sequence[S], time_s: float, begins_s: Callable[[S], float]) -> S:
    return [segment for segment in segments if begins_s(segment) <= time_s][-1]


def _same(one: View, other: View) -> bool:
    """Whether two views show the court in one place, as far as a still picture tells."""
    seen_px = court_pixels(one)
    floor_m, _ = one.locate(seen_px)
    apart_px = float(np.nanmedian(np.hypot(*(other.project(floor_m) - seen_px).T)))
    return apart_px <= still_limit_px(one.image_size)
