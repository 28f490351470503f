"""Sudden sounds, which hits and bounces make: spikes of the level over what was just before."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

WINDOW_S = 0.005
BACKGROUND_S = 0.1
ABOVE_BACKGROUND_DB = 6.0
APART_S = 0.045


@dataclass(frozen=True, eq=False)
class Spikes:
    """Sudden sounds.

    times_s: (S,) onsets; level_db: (S,) of the loudest window, 0 dB being full scale; rise_s: (S,) from onset to it.
    """

    times_s: NDArray[np.float64]
    level_db: NDArray[np.float64]
    rise_s: NDArray[np.float64]


def find_spikes(times_s: NDArray[np.float64], level_db: NDArray[np.float64]) -> Spikes:
    """Return where the level (N,) jumps above what it was in the tenth of a second before.

    A spike stands `ABOVE_BACKGROUND_DB` over the median before it and is the loudest within `APART_S` on either
    side; its onset is the first window on the way up.

    Examples
    --------
    >>> level = np.full(200, -50.0)
    >>> level[100:104] = [-30.0, -20.0, -25.0, -40.0]
    >>> found = find_spikes(np.arange(200) * 0.005, level)
    >>> found.times_s.tolist(), found.level_db.tolist(), found.rise_s.round(3).tolist()
    ([0.5], [-20.0], [0.005])
    """
    background, apart = round(BACKGROUND_S / WINDOW_S), round(APART_S / WINDOW_S)
    if not len(level_db):
        return Spikes(np.zeros(0), np.zeros(0), np.zeros(0))
    padded = np.concatenate([np.full(background, level_db[: background + 1].min()), level_db])
    before = np.median(np.lib.stride_tricks.sliding_window_view(padded, background), axis=1)[: len(level_db)]
    surround = np.pad(level_db, apart, constant_values=-np.inf)
    loudest = np.lib.stride_tricks.sliding_window_view(surround, 2 * apart + 1).max(axis=1)
    peaks = np.flatnonzero((level_db > before + ABOVE_BACKGROUND_DB) & (level_db == loudest))
    peak_of: dict[int, int] = {}
    for peak in peaks.tolist():
        half_way = (level_db[peak] + before[peak]) / 2
        start = peak
        while start > max(peak - apart, 0) and level_db[start - 1] > half_way:
            start -= 1
        peak_of.setdefault(start, peak)
    starts, tops = np.array(list(peak_of), dtype=int), np.array(list(peak_of.values()), dtype=int)
    return Spikes(times_s[starts], level_db[tops], times_s[tops] - times_s[starts])
