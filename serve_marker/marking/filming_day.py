"""On which day a clip was filmed."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from serve_marker.logbook.practice_of_clip import date_of_clip
from serve_marker.video.creation_day import creation_day


def filming_day(path: Path) -> str:
    """Return the day (YYYY-MM-DD) a clip was filmed on: as its container, else its name, else its file tells it.

    Raises
    ------
    UserError
        If there is no such file, or no film in it.
    OSError
        If the file could not be read.
    """
    created = creation_day(path)
    return date_of_clip(path.name, created, date.fromtimestamp(path.stat().st_mtime).isoformat())
