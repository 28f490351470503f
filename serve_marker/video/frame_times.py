"""When frames are shown: their times in seconds, the frame nearest to a moment, the gaps between them.

The stamps they are told from are read in packet_stamps.py.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

RATE_TOLERANCE = 0.02
DROPPED_SHARE = 1.5
"""A gap this many times the middle one has lost a frame."""


def seconds_of(ticks: NDArray[np.int64], time_base: Fraction) -> NDArray[np.float64]:
    """Return times (N,) [s], read-only, of stamps counted in ticks of ``time_base`` seconds.

    Examples
    --------
    >>> seconds_of(np.array([0, 3003, 6006]), Fraction(1, 90_000)).round(4).tolist()
    [0.0, 0.0334, 0.0667]
    """
    times_s = ticks * time_base.numerator / time_base.denominator
    times_s.flags.writeable = False
    return times_s


def nearest_frame(times_s: NDArray[np.float64], time_s: float) -> int:
    """Return the frame whose time (N,) is nearest to ``time_s``; the earlier one where two are as near.

    Examples
    --------
    >>> [nearest_frame(np.array([0.0, 1.0, 2.0]), time_s) for time_s in (-1.0, 0.5, 0.6, 9.0)]
    [0, 0, 1, 2]
    """
    if len(times_s) == 1:
        return 0
    after = int(np.clip(np.searchsorted(times_s, time_s), 1, len(times_s) - 1))
    before = after - 1
    return before if time_s - times_s[before] <= times_s[after] - time_s else after


def gaps_around(times_s: NDArray[np.float64], i: int) -> tuple[float, float]:
    """Return the time since the frame before ``i`` and until the one after it [s], NaN at the ends of ``times_s`` (N,).

    Examples
    --------
    >>> gaps_around(np.array([0.0, 1.0, 3.0]), 1)
    (1.0, 2.0)
    """
    before = times_s[i] - times_s[i - 1] if i > 0 else np.nan
    after = times_s[i + 1] - times_s[i] if i + 1 < len(times_s) else np.nan
    return float(before), float(after)


def usual_gap(gaps: NDArray[Any]) -> float:
    """The gap between frames that follow each other: the median of N >= 1, without those that lost a frame.

    Examples
    --------
    >>> usual_gap(np.array([32, 33, 34, 33, 33, 68, 100, 67]))
    33.0
    """
    middle = float(np.median(gaps))
    return float(np.median(gaps[gaps < DROPPED_SHARE * middle])) if middle > 0 else 0.0


def is_variable(ticks: NDArray[np.int64]) -> bool:
    """Whether a gap differs from the usual one by more than the rounding to whole ticks can explain."""
    if len(ticks) < 3:
        return False
    gaps = np.diff(ticks)
    usual = float(np.median(gaps))
    return bool(np.any(np.abs(gaps - usual) > max(1.5, RATE_TOLERANCE * usual)))


def clock(time_s: float) -> str:
    """Return a time [s] as minutes and seconds to a tenth.

    Examples
    --------
    >>> clock(97.25), clock(59.97)
    ('1:37.2', '1:00.0')
    """
    minutes, tenths = divmod(round(10 * time_s), 600)
    return f"{minutes}:{tenths / 10:04.1f}"
