"""A clip and its view in, proposed serves out: decoded once for candidates, and again around the serves found."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.picture.feature_matching import Grey
from serve_marker.camera.view.view import View
from serve_marker.errors import UserError
from serve_marker.marking.view_check import ClipSegment, check_clip
from serve_marker.marking.view_reference import refuse_other_shape
from serve_marker.spotting.candidates import NEAREST_M, Look, frames_looked_at, looks, radius_range_px
from serve_marker.spotting.found_so_far import FoundSoFar, ProgressFile
from serve_marker.spotting.frames_around import FramesAround
from serve_marker.spotting.free_flights import FEWEST_LOOKS, free_flights
from serve_marker.spotting.proposals import Proposal, proposed, with_serving_end
from serve_marker.spotting.serves import SHARED_TIME, found_serves, shared_time
from serve_marker.spotting.tracks import picture_tracks
from serve_marker.video.clip import Clip
from serve_marker.video.progress import IsCancelled, Progress, ProgressReporter

OnProposal = Callable[[Proposal], object]

BLOCK_S, OVERLAP_S, BORDER_S = 30.0, 5.0, 2.0
"""Looks are worked on in blocks, so that memory does not grow with the clip. What ends near the border of one is told
by the next, in which it lies whole: flights and what follows last 3 s and 0.4 s at most."""
KNOCK_S = 0.15
"""The camera still swings so long after it was found to have moved; no flight spans that (own choice)."""
CHECK_SHARE = 0.1
"""Of the work, the part that holds the view against the clip."""


def spot(
    clip: Clip,
    view: View,
    reference: Grey | None = None,
    progress: Progress | None = None,
    cancelled: IsCancelled | None = None,
    on_proposal: OnProposal = lambda one: None,
    kept_in: Path | None = None,
) -> list[Proposal]:
    """Return the serves proposed on a clip, in order of time; slow motion is worked on in true time.

    Parameters
    ----------
    reference : the picture kept with the view, by which its place is known again.
    progress : is told how far the work is.
    on_proposal : is told each proposal as it is found; some of them are doubted or left out at the end.
    kept_in : a file that keeps what was found so far, every half minute of film; the work goes on from what it holds.

    Raises
    ------
    UserError
        Where the view does not know the camera's place, or does not hold for the clip, or a file cannot be used.
    Cancelled
        Where ``cancelled`` says so.
    """
    refuse_other_shape(view, clip)
    if view.camera_position_m is None or view.camera_height_m < NEAREST_M / 2:
        raise UserError(
            "The view does not tell where the camera stood. Mark more of the court's corners, or the net's tops."
        )
    scale = clip.time_scale(clip.capture_rate)
    reporter = ProgressReporter(progress, cancelled)
    kept = ProgressFile(kept_in, clip, view) if kept_in is not None else None
    so_far = kept.read() if kept is not None else FoundSoFar()
    for one in so_far.proposals:
        on_proposal(one.shown_slower(scale))
    if not so_far.is_all:
        true = replace(clip, times_s=clip.times_s * scale, duration_s=clip.duration_s * scale)
        blocks = _found_on(true, view, reference, reporter, so_far, lambda one: on_proposal(one.shown_slower(scale)))
        for after_block in blocks:
            so_far = after_block
            if kept is not None:
                kept.write(so_far)
    reporter.reach(1, 1)
    return [one.shown_slower(scale) for one in with_serving_end(so_far.proposals)]


def _found_on(
    clip: Clip,
    view: View,
    reference: Grey | None,
    reporter: ProgressReporter,
    so_far: FoundSoFar,
    on_proposal: OnProposal,
) -> Iterator[FoundSoFar]:
    """What was found so far on a clip, its times true, after each block."""
    checked = check_clip(view, clip, reference, lambda done, total: reporter.reach(CHECK_SHARE * done, total))
    segments = [segment for segment in checked.segments if segment.view is not None]
    if not segments:
        raise UserError(" ".join(checked.warnings))
    with FramesAround(clip) as reader:
        for number in range(so_far.segment, len(segments)):
            from_frame = so_far.from_frame if number == so_far.segment else 0
            begun = replace(so_far, segment=number, from_frame=from_frame)
            for after_block in spotted_in(clip, segments[number], reader, reporter, begun, on_proposal):
                so_far = after_block
                yield so_far
    yield replace(so_far, is_all=True)


def spotted_in(
    clip: Clip,
    segment: ClipSegment,
    reader: FramesAround,
    reporter: ProgressReporter,
    so_far: FoundSoFar,
    on_proposal: OnProposal = lambda one: None,
) -> Iterator[FoundSoFar]:
    """What was found so far after each block of a part of a clip, its times true, in which the camera stood still."""
    view = segment.view
    assert view is not None
    frames = _frames_of(clip, segment, so_far.from_frame)
    smallest_px, largest_px = radius_range_px(view)
    for block, told_until_s in blocks_of(_told(looks(clip, view, frames), clip.duration_s, reporter)):
        times_s = np.array([look.time_s for look in block])
        tracks = picture_tracks(block, largest_px)
        new: list[Proposal] = []
        for serve in found_serves(free_flights(block, tracks, view, smallest_px), tracks, block, view):
            reporter.reach(0.0, 1.0)
            span = serve.fit.contact_s, serve.fit.end_s
            known = any(shared_time(span, (one.contact_s, one.landing_s)) > SHARED_TIME for one in so_far.proposals)
            one = None if known or span[1] > told_until_s else proposed(serve, times_s, view, reader)
            if one is not None:
                new.append(one)
                on_proposal(one)
        following = int(np.searchsorted(times_s, times_s[-1] - OVERLAP_S))
        so_far = replace(so_far, from_frame=block[following].index, proposals=(*so_far.proposals, *new))
        yield so_far


def _frames_of(clip: Clip, segment: ClipSegment, from_frame: int) -> NDArray[np.int_]:
    """The frames looked at in a part of a clip, from the one before a frame on."""
    from_s = segment.from_s + (KNOCK_S if segment.from_s > 0 else 0.0)
    to_s = segment.to_s - (KNOCK_S if segment.to_s < clip.duration_s else 0.0)
    inside = np.flatnonzero((clip.times_s >= from_s) & (clip.times_s <= to_s))
    if not len(inside):
        return inside
    frames = frames_looked_at(clip.times_s, int(inside[0]), int(inside[-1]))
    return frames[max(int(np.searchsorted(frames, from_frame)) - 1, 0) :]


def _told(every: Iterator[Look], duration_s: float, reporter: ProgressReporter) -> Iterator[Look]:
    """The same looks, telling how far they are."""
    for look in every:
        reporter.reach(CHECK_SHARE * duration_s + (1 - CHECK_SHARE) * look.time_s, duration_s)
        yield look


def blocks_of(every: Iterable[Look]) -> Iterator[tuple[list[Look], float]]:
    """Yield looks in blocks that overlap, and until when [s] each is to be believed."""
    block: list[Look] = []
    for look in every:
        block.append(look)
        if look.time_s - block[0].time_s >= BLOCK_S:
            yield block, look.time_s - BORDER_S
            block = [one for one in block if one.time_s >= look.time_s - OVERLAP_S]
    if len(block) >= FEWEST_LOOKS:
        yield block, np.inf
