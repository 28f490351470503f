"""Subtitles for a clip (WebVTT): server and verdict at each serve's time, in any player that shows subtitles.

Source: WebVTT, W3C Candidate Recommendation of 4 April 2019, sections 4.1 (cues) and 6.4 (escapes of cue text).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from serve_marker.errors import UserError
from serve_marker.logbook.file_name_order import by_name
from serve_marker.logbook.records import ClipEntry
from serve_marker.printable import printable, quoted_name
from serve_marker.report.write_files import free_name, write_whole
from serve_marker.study.serve_columns import serve_table
from serve_marker.video.progress import Progress

if TYPE_CHECKING:
    import pandas

    from serve_marker.logbook.store import Logbook

SHOWN_AFTER_S = 2.5
SHOWN_BEFORE_S = 1.0
"""How long before its landing a serve is shown whose contact was not seen."""
ESCAPES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;"})


@dataclass(frozen=True)
class Cue:
    """What is shown from one time to another [s] since the clip's first frame."""

    from_s: float
    to_s: float
    lines: tuple[str, ...]


def write_subtitles(logbook: Logbook, path: Path, clip_name: str = "") -> None:
    """Write the subtitles of the clip of a name, or where none is given of the only clip with serves.

    Raises
    ------
    UserError
        Naming the clips there are, where which one is meant cannot be told.
    """
    clips = _clips_with_serves(logbook)
    meant = [clip for clip in clips if not clip_name or Path(clip.path).name == Path(clip_name).name]
    if len(meant) != 1:
        known = ", ".join(quoted_name(Path(clip.path).name) for clip in clips) or "none with serves"
        raise UserError(f"Subtitles are of one clip; name it with --clip. Known: {known}.")
    table = serve_table(logbook, meant[0].practice_id)
    _write(table, meant[0], path)


def write_all_subtitles(
    logbook: Logbook,
    folder: Path,
    practice_id: str | None = None,
    player_id: str = "",
    progress: Progress | None = None,
) -> list[Path]:
    """Write the subtitles of each clip, of one practice or of all, called as the clip; return their paths."""
    table = serve_table(logbook, *filter(None, [practice_id]))
    if player_id:
        table = table[table["player_id"] == player_id]
    there = set(table["clip_id"])
    clips = [clip for clip in _clips_with_serves(logbook) if clip.id in there]
    taken: set[str] = set()
    paths = []
    for number, clip in enumerate(clips, start=1):
        paths.append(folder / f"{free_name(Path(clip.path).stem, taken)}.vtt")
        _write(table, clip, paths[-1])
        if progress is not None:
            progress(number, len(clips))
    return paths


def cues_of(rows: pandas.DataFrame) -> list[Cue]:
    """Return the cues of the serves of one clip, in their order; each ends where the next begins at the latest."""
    timed = sorted(_shown(row) for row in rows.to_dict("records") if _is_known(row["contact_s"], row["landing_s"]))
    ends = [following[0] for _, following in pairwise(timed)]
    return [
        Cue(from_s, min(to_s, next_s) if next_s > from_s else to_s, lines)
        for (from_s, to_s, lines), next_s in zip(timed, [*ends, float("inf")], strict=True)
    ]


def vtt_text(cues: list[Cue]) -> str:
    """Return cues as the text of a WebVTT file.

    Examples
    --------
    >>> print(vtt_text([Cue(61.5, 64.0, ("7 Marit", "in, deep 1 & sure"))]))
    WEBVTT
    <BLANKLINE>
    NOTE Made by Serve Marker
    <BLANKLINE>
    00:01:01.500 --> 00:01:04.000
    7 Marit
    in, deep 1 &amp; sure
    <BLANKLINE>
    """
    blocks = ["\n".join([f"{_stamp(cue.from_s)} --> {_stamp(cue.to_s)}", *map(_cue_text, cue.lines)]) for cue in cues]
    return "\n\n".join(["WEBVTT", "NOTE Made by Serve Marker", *blocks]) + "\n"


def subtitle_words(row: dict[str, Any]) -> str:
    """Return what became of a serve: verdict and area or miss, else how it ended, and whether its aim was hit.

    Examples
    --------
    >>> row = {"verdict": "in", "area": "deep 1", "missed": "", "outcome": "floor", "aim_hit": True}
    >>> subtitle_words(row), subtitle_words(row | {"verdict": "out", "missed": "long", "aim_hit": False})
    ('in, deep 1, on target', 'out, long')
    >>> subtitle_words(row | {"verdict": "", "area": "", "outcome": "net", "aim_hit": None})
    'net'
    """
    where = row["missed"] if row["verdict"] == "out" else row["area"] if row["verdict"] else ""
    hit = "on target" if row["aim_hit"] is True else ""
    return ", ".join(part for part in (row["verdict"] or row["outcome"], where, hit) if part)


def _write(table: pandas.DataFrame, clip: ClipEntry, path: Path) -> None:
    write_whole(vtt_text(cues_of(table[table["clip_id"] == clip.id])).encode(), path)


def _clips_with_serves(logbook: Logbook) -> list[ClipEntry]:
    served = {serve.clip_id for serve in logbook.serves()}
    return sorted((clip for clip in logbook.clips() if clip.id in served), key=lambda clip: by_name(clip.path))


def _is_known(*times_s: float) -> bool:
    return not all(map(math.isnan, times_s))


def _shown(row: dict[str, Any]) -> tuple[float, float, tuple[str, ...]]:
    """From when to when a serve is shown, and its lines."""
    contact_s, landing_s = row["contact_s"], row["landing_s"]
    ended_s = landing_s if _is_known(landing_s) else contact_s
    from_s = contact_s if _is_known(contact_s) else max(landing_s - SHOWN_BEFORE_S, 0.0)
    return from_s, ended_s + SHOWN_AFTER_S, (row["server"] or "server not known", subtitle_words(row))


def _cue_text(line: str) -> str:
    return printable(line).translate(ESCAPES)


def _stamp(time_s: float) -> str:
    minutes, ms = divmod(round(1000 * time_s), 60_000)
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{ms // 1000:02d}.{ms % 1000:03d}"
