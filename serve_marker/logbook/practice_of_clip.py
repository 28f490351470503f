"""To which practice a clip belongs: that of the day on which its file was last written."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from serve_marker.logbook.records import Practice, new_id

UNNAMED_PRACTICE = "Practice"


def filmed_day(path: Path) -> str:
    """Return the day (YYYY-MM-DD) on which a clip's file was last written."""
    return datetime.fromtimestamp(path.stat().st_mtime).date().isoformat()


def practice_of_day(day: str, open_now: Practice | None, practices: Sequence[Practice]) -> Practice:
    """Return the practice of a day: the open one, else the first among those known, else a new one.

    Examples
    --------
    >>> known = [Practice(id="1", date="2026-03-02", name="Monday"), Practice(id="2", date="2026-03-02", name="Cup")]
    >>> practice_of_day("2026-03-02", known[1], known).name, practice_of_day("2026-03-02", None, known).name
    ('Cup', 'Monday')
    >>> practice_of_day("2026-03-04", known[1], known).name
    'Practice'
    """
    if open_now is not None and open_now.date == day:
        return open_now
    same_day = [practice for practice in practices if practice.date == day]
    return same_day[0] if same_day else Practice(id=new_id(), date=day, name=UNNAMED_PRACTICE)
