"""On which day a container says its film was made."""

from __future__ import annotations

import os
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from serve_marker.video.opening import opened

WITH_ZONE, IN_UTC = "com.apple.quicktime.creationdate", "creation_time"
FIRST_YEAR = 1990
"""Clocks that were never set say 1904, 1970 or 1980."""


def creation_day(path: str | os.PathLike[str]) -> str | None:
    """Return the day (YYYY-MM-DD) that a clip's container names; None where it names none.

    Raises
    ------
    UserError
        If there is no such file, or no film in it.
    """
    with opened(Path(path)) as (container, stream):
        return day_in(container.metadata) or day_in(stream.metadata)


def day_in(metadata: Mapping[str, str]) -> str | None:
    """Return the day that a container's metadata name: as the camera's own clock had it, else this computer's.

    Examples
    --------
    >>> day_in({"com.apple.quicktime.creationdate": "2026-11-03T23:30:00+0100", "creation_time": "2026-11-04T01:00Z"})
    '2026-11-03'
    >>> day_in({"creation_time": "1970-01-01T00:00:00.000000Z"}) is None, day_in({"creation_time": "soon"}) is None
    (True, True)
    """
    for key in (WITH_ZONE, IN_UTC):
        try:
            made = datetime.fromisoformat(metadata.get(key, ""))
        except ValueError:
            continue
        if made.year >= FIRST_YEAR:
            return (made if key == WITH_ZONE else made.astimezone()).date().isoformat()
    return None
