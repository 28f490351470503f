"""The serves of a clip as a table of marks (MARKS.csv), as ``marks import`` reads it."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from serve_marker.errors import UserError
from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.records import Mark, Player, Serve
from serve_marker.logbook.seasons import players_at
from serve_marker.logbook.store import Logbook
from serve_marker.marking.marks_csv import MARKS_COLUMNS
from serve_marker.report.export_columns import without_formula
from serve_marker.report.write_files import write_whole

if TYPE_CHECKING:
    from serve_marker.video.clip import Clip

MORE = ("ball_marks", "full_pace", "formation_id", "wind_end", "rally", "landing_height_m")
"""What a serve may hold that a table of marks has no column for."""


def write_marks(logbook: Logbook, clip: Clip, path: Path) -> tuple[int, int]:
    """Write the serves of a clip; return how many, and how many hold more than such a table can.

    Raises
    ------
    UserError
        Where the logbook has no serves of this clip.
    """
    found = fingerprint(Path(clip.path))
    entries = [one for one in logbook.clips() if (one.size_bytes, one.fingerprint) == found]
    serves = [serve for entry in entries for serve in logbook.serves(clip_id=entry.id)]
    if not serves:
        raise UserError(f"{logbook.path.name} has no serves of {Path(clip.path).name}; choose another clip.")
    days = {practice.id: practice.date for practice in logbook.practices()}
    players = players_at(logbook.players(), logbook.seasons(), days[entries[0].practice_id])
    named = {player.id: player for player in players}
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(MARKS_COLUMNS)
    writer.writerows([without_formula(cell) for cell in _cells(serve, clip, named)] for serve in serves)
    write_whole(text.getvalue().encode("utf-8-sig"), path)
    return len(serves), sum(map(_holds_more, serves))


def _cells(serve: Serve, clip: Clip, named: Mapping[str, Player]) -> list[str]:
    rating = "" if serve.pass_rating is None else str(serve.pass_rating)
    ends = [cell for mark in (serve.contact, serve.landing) for cell in _mark_cells(mark, clip)]
    return [
        *(_player(serve.player_id, named), serve.serve_type, serve.aim, serve.outcome, *ends),
        *(rating, _player(serve.passer_id, named), serve.reception, serve.target_kind, serve.note),
    ]


def _mark_cells(mark: Mark | None, clip: Clip) -> tuple[str, str, str]:
    """Frame and pixel; a pixel on the ball is no point of the floor, and left out."""
    if mark is None:
        return "", "", ""
    x_px, y_px = ("", "") if mark.pixel is None or mark.on_ball else map(repr, mark.pixel)
    return str(clip.frame_at(mark.time_s)), x_px, y_px


def _player(player_id: str | None, named: Mapping[str, Player]) -> str:
    """A player's shirt number, or else her name."""
    player = named.get(player_id or "")
    if player is None:
        return ""
    return player.name if player.number is None else str(player.number)


def _holds_more(serve: Serve) -> bool:
    on_ball = any(mark is not None and mark.on_ball for mark in (serve.contact, serve.landing))
    return on_ball or any(getattr(serve, name) not in (None, "", (), False) for name in MORE)
