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
    tried: list[tuple[float, int, Grey | None]] = []
    for number, stored in enumerate(candidates):
        reference = reference_of(stored.document)
        for kept in [None, reference] if made_here and reference is not None else [reference]:
            go_on(number, len(candidates))
            several = len(candidates) > 1
            shift_px = shift_at_once_px(view_from_text(stored.document), clip, kept) if several else 0.0
            tried.append((shift_px, number, kept))
    for shift_px, number, kept in sorted(tried, key=lambda one: one[0]):
        if np.isfinite(shift_px):
            check = check_clip(view_from_text(candidates[number].document), clip, kept, go_on)
            if check.same_place:
                return candidates[number], check
    return None


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
