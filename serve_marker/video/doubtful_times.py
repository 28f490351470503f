"""Whether what a file says of its times contradicts itself.

An MP4 or MOV says more about its times than it needs. The gaps between frames add up to the lengths its headers name
(ISO/IEC 14496-12, 8.2.2, 8.3.2, 8.4.2, 8.6.6), three tables count the frames, and a frame that is shown later than it
is decoded is shown when another one is decoded: encoders make decode times of the shown ones, in order (common
practice, no source). What a spoilt byte changes in one place, another still says. Other containers give each frame no
more than its own time; there a single frame that stands askew in a film of even gaps is all that shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from serve_marker.video.edit_list import shift
from serve_marker.video.mp4_index import BrokenIndexError, TrackIndex, read_index

# Frames a second that cameras film and show at, in the dark and in slow motion (common practice, no source).
LEAST_FPS, MOST_FPS = 8, 1000
ROUNDING_S = 0.0005
GAP_SHARE = 0.01
EVEN_TICKS, EVEN_PERCENT, STANDS_OUT = 1.5, 95, 3
SLACK_GAPS = 1.5
MOST_DELAY = 16
SEEN_FOR_SHIFT = 5000
CUT_FRAMES = 4
MOST_MOVED = 3
"""Frames that spoilt bytes may move; where more are out of step it is the film's own rhythm."""


@dataclass(frozen=True, eq=False)
class Doubt:
    """Why times may be wrong; `stamps` (M,) int64 are the shown times in doubt [ticks], none where all are."""

    why: str
    stamps: NDArray[np.int64]


def doubt_of_file(path: Path, track_id: int) -> Doubt | None:
    """What is doubtful about the times of this track, None where nothing is or the file has no such index."""
    try:
        index = read_index(path, track_id)
        return doubt_of(index) if index is not None else None
    except BrokenIndexError as broken:
        return Doubt(str(broken), np.empty(0, dtype=np.int64))
    except OSError:
        return None


def doubt_of_stamps(stamps: NDArray[np.int64]) -> Doubt | None:
    """What is doubtful about shown times (N,) [ticks] in order: frames askew between two that are two usual gaps apart.

    Only a film that is even otherwise is judged: what stands out of a camera's jitter by chance is no fault.

    Examples
    --------
    >>> doubt_of_stamps(np.array([0, 33, 67, 100, 117, 167, 200, 233, 267, 300, 333, 367])).stamps
    array([117])
    >>> doubt_of_stamps(np.array([0, 33, 67, 100, 133, 200, 233, 267, 300, 333, 367])) is None
    True
    """
    if len(stamps) < 3:
        return None
    gaps = np.diff(stamps)
    usual = float(np.median(gaps))
    off, near = np.abs(gaps - usual), max(2.0, 5 * GAP_SHARE * usual)
    most_off = np.maximum(off[:-1], off[1:])
    askew = (most_off > near) & (np.abs(gaps[:-1] + gaps[1:] - 2 * usual) <= near)
    others = ~(np.append(askew, False) | np.append(False, askew))
    if not others.any():
        return None
    spread = float(np.percentile(off[others], EVEN_PERCENT))
    askew &= most_off > STANDS_OUT * spread
    if spread > max(EVEN_TICKS, GAP_SHARE * usual) or not 0 < askew.sum() <= np.clip(len(stamps) // 100, 1, MOST_MOVED):
        return None
    return Doubt("some frames are out of step with the others", stamps[1:-1][askew])


def doubt_of(index: TrackIndex) -> Doubt | None:
    """What is doubtful about the times this index holds; stamps are those of the file's own edit list."""
    everywhere = np.empty(0, dtype=np.int64)
    for table in (index.deltas, index.offsets):
        if table is not None and table.samples() != index.samples:
            return Doubt(f"it lists {index.samples} frames and times for {table.samples()}", everywhere)
    if index.samples < 2:
        return None
    if not index.ticks_s or not index.movie_ticks_s:
        return Doubt("its clock has no rate", everywhere)
    gaps = index.deltas.each()
    decoded = np.concatenate([[0], np.cumsum(gaps)])
    shown = np.sort(decoded[:-1] + index.offsets.each()) if index.offsets is not None else decoded[:-1]
    usual = max(float(np.median(gaps)), 1.0)
    said = _length_doubt(index, shown, gaps, usual)
    odd = _out_of_step(shown, decoded[:-1], usual) if index.offsets is not None else everywhere
    if not len(odd):
        return Doubt(said, everywhere) if said else None
    return Doubt(said or "some frames are out of step with the others", odd + shift(index))


def _length_doubt(index: TrackIndex, shown: NDArray[np.int64], gaps: NDArray[np.int64], usual: float) -> str | None:
    """The contradiction between the frames' gaps and the lengths named, in words.

    Headers often count one frame more or fewer, or from and to the frames shown instead of those decoded; how long
    the last frame lasts is not known where gaps are uneven and frames reordered. A film cut by its edit list is
    shorter than its frames; so is one whose clock is spoilt, but that one adds up with one bit of it turned back.
    """
    summed, end = int(gaps.sum()), float(shown[-1]) + usual
    ticks = np.array([summed, summed - gaps[-1], summed - usual, summed + usual, end, end - shown[0]])
    lengths_s = ticks / index.ticks_s
    uneven = min(int(np.ptp(np.diff(shown))), SLACK_GAPS * usual) if index.offsets is not None else 0.0

    def agrees(length_s: float, rounding_s: float) -> bool:
        return bool(np.abs(lengths_s - length_s).min() <= rounding_s + uneven / index.ticks_s)

    tick_s = 1 / index.movie_ticks_s
    real = [edit for edit in index.edits if edit.start >= 0]
    listed = [sum(edit.span for edit in edits) for edits in (index.edits, real)]
    skipped_s = (real[0].start - int(shown[0])) / index.ticks_s if len(real) == 1 else 0.0
    movie = [length * tick_s for length in (index.track_length, index.movie_length, *listed) if length]
    if any(agrees(length_s + skip_s, tick_s + ROUNDING_S) for length_s in movie for skip_s in (0.0, skipped_s)):
        return None
    media_s = index.media_length / index.ticks_s
    media_agrees = not index.media_length or agrees(media_s, ROUNDING_S)
    fps = index.ticks_s / usual
    left_over_s = lengths_s[0] - listed[1] * tick_s - skipped_s if real else 0.0
    cut_by_list = left_over_s > 0 or len(real) > 1 or any(edit.rate != 1 for edit in real)
    clock_is_sound = LEAST_FPS <= fps <= MOST_FPS and (
        0 < left_over_s <= CUT_FRAMES / fps or not _adds_up_but_for_a_bit(index.ticks_s, ticks[[0, -1]], movie, tick_s)
    )
    if media_agrees and (not movie or (cut_by_list and clock_is_sound)):
        return None
    named_s = movie[0] if media_agrees else media_s
    return f"its frames last {lengths_s[0]:.3f} s, its header says {named_s:.3f} s"


def _adds_up_but_for_a_bit(
    ticks_s: int, ticks: NDArray[np.float64], lengths_s: list[float], tolerance_s: float
) -> bool:
    """Whether so many ticks of a clock with one bit changed last as long as named."""
    clocks = ticks_s ^ (1 << np.arange(32))
    off_s = np.abs(ticks[:, None, None] / clocks[clocks > 0, None] - np.array(lengths_s))
    return bool((off_s <= tolerance_s).any())


def _out_of_step(shown: NDArray[np.int64], decoded: NDArray[np.int64], usual: float) -> NDArray[np.int64]:
    """Shown times that are no decode time of the file, moved alike, and those beside a decode time nothing has.

    A frame that is moved leaves two beside its empty place. Where more are odd, none is named: decode times are then
    not made of the shown ones.
    """
    gaps = np.diff(decoded)
    tolerance = max(1.0, GAP_SHARE * usual)
    steady = np.ptp(gaps) <= 2 * tolerance
    slots = decoded + _usual_lead(shown, decoded, tolerance)
    if not steady:
        tolerance = max(tolerance, float(np.gcd.reduce(gaps)))
    else:
        slots = np.append(slots, slots[-1] + round(usual) * np.arange(1, 1 + (slots < shown[0] - tolerance).sum()))
    inside = (shown >= slots[0]) & (shown <= slots[-1])
    odd = inside & (_distance(shown, slots) > tolerance)
    empty = slots[(slots >= shown[0]) & (_distance(slots, shown) > tolerance)]
    beside = np.searchsorted(shown, empty)
    odd[np.clip(np.concatenate([beside - 1, beside]), 0, len(shown) - 1)] = True
    if odd.sum() > 3 * MOST_MOVED:
        return np.empty(0, dtype=np.int64)
    doubtful: NDArray[np.int64] = shown[odd]
    return doubtful


def _usual_lead(shown: NDArray[np.int64], decoded: NDArray[np.int64], tolerance: float) -> int:
    """By how much shown times are later than the decode times they were made of: the delay most frames agree on."""
    shown, decoded = shown[:SEEN_FOR_SHIFT], decoded[:SEEN_FOR_SHIFT]
    leads = []
    for delay in range(min(MOST_DELAY, len(shown) // 2) + 1):
        ahead = shown[: len(shown) - delay] - decoded[delay:]
        lead = int(np.median(ahead))
        leads.append((float((np.abs(ahead - lead) <= tolerance).mean()), lead))
    return max(leads, key=lambda pair: pair[0])[1]


def _distance(values: NDArray[np.int64], places: NDArray[np.int64]) -> NDArray[np.int64]:
    """From each value to the nearest of the places, which are in order."""
    after = np.clip(np.searchsorted(places, values), 1, max(len(places) - 1, 1))
    before, behind = places[after - 1], places[np.minimum(after, len(places) - 1)]
    nearest: NDArray[np.int64] = np.minimum(np.abs(values - before), np.abs(values - behind))
    return nearest
