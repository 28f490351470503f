"""To which practice a clip belongs: that of the day on which it was filmed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from serve_marker.logbook.records import Practice, new_id

UNNAMED_PRACTICE = "Practice"
DAY_IN_A_NAME = re.compile(r"(?<!\d)(20\d\d)([-_.]?)(\d\d)\2(\d\d)(?=\D|$|\d{6})")
"""Year, month and day as cameras write them into a file's name, whether or not the time of day follows."""


def date_of_clip(name: str, created: str | None, written: str) -> str:
    """Return the day (YYYY-MM-DD) a clip was filmed on: the container's own, else its name's, else the file's.

    Parameters
    ----------
    name : the file's name.
    created : the day the container names, None where it names none.
    written : the day on which the file was last written.

    Examples
    --------
    >>> date_of_clip("VID_20261103_190512.mp4", None, "2026-12-24")
    '2026-11-03'
    >>> date_of_clip("IMG_4711.MOV", None, "2026-12-24")
    '2026-12-24'
    """
    if created is not None:
        return created
    for found in DAY_IN_A_NAME.finditer(name):
        try:
            return date(int(found[1]), int(found[3]), int(found[4])).isoformat()
        except ValueError:
            continue
    return written


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
