"""What an MP4's edit list (ISO/IEC 14496-12, 8.6.6, number from memory) does to the frames of a track."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from serve_marker.video.mp4_index import MOST_FRAMES, BrokenIndexError, TrackIndex, read_index


def frames_shown(path: Path, track_id: int) -> int:
    """How many frames of the track its edit list shows, at least; as many as there can be where that is not known."""
    try:
        index = read_index(path, track_id)
    except (BrokenIndexError, OSError):
        return MOST_FRAMES
    real = [edit for edit in index.edits if edit.start >= 0 and edit.span > 0] if index is not None else []
    if index is None or not real or not index.movie_ticks_s or index.deltas.samples() != index.samples:
        return MOST_FRAMES
    shown = np.cumsum(index.deltas.each()) - index.deltas.each()
    if index.offsets is not None and index.offsets.samples() == index.samples:
        shown += index.offsets.each()
    shown.sort()
    starts = np.array([edit.start for edit in real])
    spans = np.array([(edit.span - 1) * index.ticks_s // index.movie_ticks_s for edit in real])
    return int((np.searchsorted(shown, starts + spans) - np.searchsorted(shown, starts)).sum())


def shift(index: TrackIndex) -> int:
    """From media time to the times of the film as shown, by the first edit that shows something."""
    before = 0
    for edit in index.edits:
        if edit.start >= 0:
            return round(before * index.ticks_s / index.movie_ticks_s) - edit.start
        before += edit.span
    return 0
