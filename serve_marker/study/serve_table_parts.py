"""The table of all serves in parts that fit into memory, whole days at a time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, timedelta
from itertools import groupby
from typing import TYPE_CHECKING

from serve_marker.logbook.serve_counts import serves_per_clip
from serve_marker.logbook.store import Logbook
from serve_marker.study.effort import EFFORT_BY, YEAR_DAYS
from serve_marker.study.serve_columns import table_without_flights

if TYPE_CHECKING:
    import pandas

SERVES_AT_ONCE = 30_000


def serve_table_parts(logbook: Logbook, serves_at_once: int = SERVES_AT_ONCE) -> Iterator[pandas.DataFrame]:
    """Yield the rows of `serve_table` in its order, in parts of about so many serves. Each numbers evenings anew.

    What a serve is compared with, her server's best of the year before, goes on from part to part.
    """
    import pandas as pd

    before = pd.DataFrame(columns=list(EFFORT_BY))
    for practice_ids in _days_at_once(logbook, serves_at_once):
        pending = table_without_flights(logbook, *practice_ids, before=before)
        yield pending.with_flights()
        paces = pending.table.loc[pending.table["pace_mps"].notna(), list(EFFORT_BY)]
        begins = _year_before(max(pending.table["date"], default=""))
        known = before[before["date"] > begins]
        before = pd.concat([known, paces], ignore_index=True) if len(known) else paces


def _days_at_once(logbook: Logbook, serves_at_once: int) -> Iterator[list[str]]:
    """The ids of practices in the order of their days: those of one day together, and as many days as are read."""
    serves: Counter[str] = Counter()
    per_clip = serves_per_clip(logbook)
    for clip in logbook.clips():
        serves[clip.practice_id] += per_clip.get(clip.id, 0)
    chosen: list[str] = []
    count = 0
    for _, practices in groupby(sorted(logbook.practices(), key=lambda one: one.date), key=lambda one: one.date):
        of_day = [practice.id for practice in practices if serves[practice.id]]
        chosen += of_day
        count += sum(serves[key] for key in of_day)
        if count >= serves_at_once:
            yield chosen
            chosen, count = [], 0
    if chosen:
        yield chosen


def _year_before(day: str) -> str:
    """The last day whose serves no longer count on the days after this one; "" where the day cannot be read."""
    try:
        return (date.fromisoformat(day) - timedelta(days=YEAR_DAYS - 1)).isoformat()
    except ValueError:
        return ""
