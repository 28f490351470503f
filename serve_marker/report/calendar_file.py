"""The planned practices as a calendar file (iCalendar, RFC 5545), for any calendar on a phone."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from serve_marker.errors import UserError
from serve_marker.logbook.records import PlanBlock, PracticePlan
from serve_marker.logbook.store import Logbook
from serve_marker.printable import printable
from serve_marker.report.plan_page import block_words
from serve_marker.report.write_files import write_whole
from serve_marker.study.serve_columns import server_words

LONGEST_LINE_BYTES = 75
"""RFC 5545, section 3.1: longer lines are folded."""
ESCAPES = str.maketrans({"\\": "\\\\", ";": "\\;", ",": "\\,"})


def write_calendar(logbook: Logbook, path: Path) -> None:
    """Write the plans of a logbook as a calendar, one day each.

    Raises
    ------
    UserError
        Where no practice is planned.
    """
    plans = logbook.plans()
    if not plans:
        raise UserError("No practice is planned; Practice > Plan of a practice makes one.")
    names = {player.id: server_words(player) for player in logbook.players()}
    write_whole(calendar_text(logbook.team, plans, names, datetime.now(UTC)).encode(), path)


def calendar_text(team: str, plans: list[PracticePlan], names: Mapping[str, str], made: datetime) -> str:
    """Return plans as the text of a calendar file; ``names`` are the players' by id, ``made`` is when it is written."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Serve Marker//Serve Marker//EN"]
    for plan in plans:
        day = date.fromisoformat(plan.date)
        told = [_block(number, names, block) for number, block in enumerate(plan.blocks, start=1)]
        absent = ", ".join(names[key] for key in plan.absent if key in names)
        lines += [
            "BEGIN:VEVENT",
            f"UID:{_text(plan.id)}@serve-marker",
            f"DTSTAMP:{made:%Y%m%dT%H%M%SZ}",
            f"DTSTART;VALUE=DATE:{day:%Y%m%d}",
            f"DTEND;VALUE=DATE:{day + timedelta(days=1):%Y%m%d}",
            f"SUMMARY:{_text(f'Serving practice {team}'.rstrip())}",
            f"DESCRIPTION:{_text(*told, *([f'Absent: {absent}.'] if absent else []))}",
            "END:VEVENT",
        ]
    return "".join(f"{_folded(line)}\r\n" for line in [*lines, "END:VCALENDAR"])


def _block(number: int, names: Mapping[str, str], block: PlanBlock) -> str:
    who = ", ".join(names[key] for key in block.player_ids if key in names)
    return f"{number}. {block_words(block)}: {who}"


def _text(*lines: str) -> str:
    """Lines as one text value (RFC 5545, section 3.3.11)."""
    return "\\n".join(printable(line).translate(ESCAPES) for line in lines)


def _folded(line: str) -> str:
    """A line in parts of so many bytes, each part after the first behind a blank, no character cut apart."""
    parts, part = [], ""
    for character in line:
        if len((part + character).encode()) > LONGEST_LINE_BYTES:
            parts.append(part)
            part = " "
        part += character
    return "\r\n".join([*parts, part])
