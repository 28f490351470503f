"""Effort: a serve's pace over the best its server has shown."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.study.groups import looked_up, rows_of
from serve_marker.study.pace_limits import impossible_mask

if TYPE_CHECKING:
    import pandas

BEST_QUANTILE = 0.9
FEWEST_FOR_BEST = 5
YEAR_DAYS = 365
FROM_SERIES = "a full-pace series"
FROM_YEAR = "the last year"


EFFORT_BY = ("player_id", "date", "pace_mps", "pace_high_mps", "full_pace")


def effort_columns(table: pandas.DataFrame, before: pandas.DataFrame | None = None) -> dict[str, NDArray[Any]]:
    """Return ``effort`` (N,), its range ``effort_low`` and ``effort_high``, and what it is measured by, ``effort_of``.

    A server's best is the fastest of the full-pace series she was asked for within the last year before the serve (its
    own day included), else the 90th percentile of her paces of that year, if there are five or more. Paces no serve
    can have are left out. NaN and "" where there is neither. The range holds the pace's own and, of a series, that of
    its fastest serve; that one is the fastest of noisy numbers and likely a little high, and efforts a little low.
    ``before`` are serves of earlier days, EFFORT_BY, which count for a server's best alone.
    """
    if before is not None and len(before):
        import pandas as pd

        joined = pd.concat([before, table[list(EFFORT_BY)]], ignore_index=True)
        return {name: cells[len(before) :] for name, cells in effort_columns(joined).items()}
    count = len(table)
    (effort, off), words = np.full((2, count), np.nan), np.full(count, "", dtype=object)
    pace = table["pace_mps"].to_numpy(dtype=float)
    spread = np.log(table["pace_high_mps"].to_numpy(dtype=float) / pace)
    usable = np.isfinite(pace) & ~impossible_mask(pace)
    days = looked_up(table["date"].to_numpy(dtype=object), _day, int)
    full = table["full_pace"].to_numpy(dtype=bool)
    for player_id, rows in rows_of(table["player_id"].to_numpy(dtype=object)).items():
        if not player_id:
            continue
        own = rows[usable[rows]]
        own = own[np.argsort(days[own], kind="stable")]
        on = days[own]
        days_served, starts = np.unique(on, return_index=True)
        year_begins = np.searchsorted(on, days_served - YEAR_DAYS, side="right")
        for year_begin, start, end in zip(year_begins, starts, np.r_[starts, len(own)][1:], strict=True):
            known, recent = own[start:end], own[year_begin:end]
            series = recent[full[recent]]
            if len(series):
                first = series[np.argmax(pace[series])]
                best, best_off, what = float(pace[first]), float(spread[first]), FROM_SERIES
            elif len(recent) >= FEWEST_FOR_BEST:
                best, best_off, what = _best_tenth(pace[recent]), 0.0, FROM_YEAR
            else:
                continue
            effort[known], words[known] = pace[known] / best, what
            off[known] = np.hypot(spread[known], best_off)
    return {
        "effort": effort,
        "effort_low": effort * np.exp(-off),
        "effort_high": effort * np.exp(off),
        "effort_of": words,
    }


def _best_tenth(pace_mps: NDArray[np.float64]) -> float:
    """The 90th percentile, between neighbours as numpy's own, which takes five times as long for so few."""
    place = BEST_QUANTILE * (len(pace_mps) - 1)
    below = int(place)
    above = min(below + 1, len(pace_mps) - 1)
    part = np.partition(pace_mps, (below, above))
    return float(part[below] + (place - below) * (part[above] - part[below]))


def _day(date: str) -> int:
    """The date as a whole number of days, 0 where it cannot be read."""
    try:
        return datetime.date.fromisoformat(date).toordinal()
    except ValueError:
        return 0
