"""Effort: a serve's pace over the best its server has shown."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.study.pace_limits import impossible_mask

if TYPE_CHECKING:
    import pandas

BEST_QUANTILE = 0.9
FEWEST_FOR_BEST = 5
YEAR_DAYS = 365
FROM_SERIES = "a full-pace series"
FROM_YEAR = "the last year"


def effort_columns(table: pandas.DataFrame) -> dict[str, NDArray[Any]]:
    """Return ``effort`` (N,), its range ``effort_low`` and ``effort_high``, and what it is measured by, ``effort_of``.

    A server's best is the fastest of the full-pace series she was asked for within the last year before the serve (its
    own day included), else the 90th percentile of her paces of that year, if there are five or more. Paces no serve
    can have are left out. NaN and "" where there is neither. The range holds the pace's own and, of a series, that of
    its fastest serve; that one is the fastest of noisy numbers and likely a little high, and efforts a little low.
    """
    count = len(table)
    (effort, off), words = np.full((2, count), np.nan), np.full(count, "", dtype=object)
    pace = table["pace_mps"].to_numpy(dtype=float)
    spread = np.log(table["pace_high_mps"].to_numpy(dtype=float) / pace)
    usable = np.isfinite(pace) & ~impossible_mask(pace)
    days = _days(table["date"].tolist())
    full = table["full_pace"].to_numpy(dtype=bool)
    players = table["player_id"].to_numpy(dtype=object)
    order = np.argsort(players.astype(str), kind="stable")
    starts = (
        np.flatnonzero(np.r_[True, players[order][1:] != players[order][:-1]]) if count else np.array([], dtype=int)
    )
    for rows in np.split(order, starts[1:]):
        if not len(rows) or players[rows[0]] == "":
            continue
        own = rows[usable[rows]]
        for day in np.unique(days[rows]):
            here = rows[days[rows] == day]
            recent = own[(days[own] <= day) & (days[own] > day - YEAR_DAYS)] if day else own[days[own] == 0]
            series = recent[full[recent]]
            if len(series):
                first = series[np.argmax(pace[series])]
                best, best_off, what = float(pace[first]), float(spread[first]), FROM_SERIES
            elif len(recent) >= FEWEST_FOR_BEST:
                best, best_off, what = _best_tenth(pace[recent]), 0.0, FROM_YEAR
            else:
                continue
            known = here[usable[here]]
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


def _days(dates: list[str]) -> NDArray[np.int64]:
    """Days as whole numbers, 0 where a date cannot be read."""

    def number(date: str) -> int:
        try:
            return datetime.date.fromisoformat(date).toordinal()
        except ValueError:
            return 0

    by_date = {date: number(date) for date in set(dates)}
    return np.array([by_date[date] for date in dates], dtype=np.int64)
