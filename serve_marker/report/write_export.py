"""A logbook as one file for other programs; the ending of its name chooses which."""

from __future__ import annotations

from pathlib import Path

from serve_marker.errors import UserError
from serve_marker.logbook.store import Logbook

ENDINGS = (".csv", ".xlsx", ".parquet", ".json", ".vtt", ".ics")


def write_export(logbook: Logbook, path: Path, clip: str = "") -> None:
    """Write a table (.csv, .xlsx, .parquet), everything (.json), subtitles of a clip (.vtt) or the plans (.ics).

    Parameters
    ----------
    clip : the name of the clip the subtitles are of; not needed where only one has serves.

    Raises
    ------
    UserError
        Where no ending is known, and where there is nothing of the kind.
    """
    ending = path.suffix.lower()
    if ending == ".json":
        from serve_marker.report.write_json import write_json

        write_json(logbook, path)
    elif ending == ".vtt":
        from serve_marker.report.subtitles import write_subtitles

        write_subtitles(logbook, path, clip)
    elif ending == ".ics":
        from serve_marker.report.calendar_file import write_calendar

        write_calendar(logbook, path)
    elif ending in ENDINGS:
        from serve_marker.report.write_tables import write_table
        from serve_marker.study.serve_table_parts import serve_table_parts

        write_table(serve_table_parts(logbook), path)
    else:
        raise UserError(f"{path.name} has no ending that is known; choose one of {', '.join(ENDINGS)}.")
