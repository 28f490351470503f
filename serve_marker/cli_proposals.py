"""What `serve-marker spot` writes and prints: proposals, the file of each clip, and what is kept until it is whole."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from serve_marker.cli_printout import JsonAnswer, without_nan
from serve_marker.errors import UserError
from serve_marker.report.write_files import write_whole
from serve_marker.video.frame_times import clock


def proposal_files(clips: Sequence[Path], out: Path | None) -> list[Path | None]:
    """Return where the proposals of each clip go: one clip's to the file named, several's into the folder named.

    Examples
    --------
    >>> [path.as_posix() for path in proposal_files([Path("a.mp4")], Path("found.json"))]
    ['found.json']
    >>> proposal_files([Path("a.mp4"), Path("b.mov")], None)
    [None, None]
    """
    if out is None:
        return [None for _ in clips]
    if len(clips) == 1:
        return [out]
    targets: list[Path | None] = [out / f"{clip.stem}.proposals.json" for clip in clips]
    if len(set(targets)) < len(clips):
        raise UserError("Two of these clips have the same name. Look at one by itself.")
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(f"{out} cannot be made a folder ({error.strerror}); choose another one.") from error
    return targets


def part_file(target: Path) -> Path:
    """Return the file that keeps what was found so far, until the target is written.

    Examples
    --------
    >>> part_file(Path("found.json")).name
    'found.json.part'
    """
    return target.with_name(f"{target.name}.part")


def write_proposals(answer: JsonAnswer, target: Path) -> None:
    """Write one clip's PROPOSALS.json, whole or not at all."""
    write_whole(json.dumps(without_nan(answer), indent=1, allow_nan=False).encode("utf-8"), target)


def proposal_lines(answer: JsonAnswer) -> list[str]:
    """Lines about the serves proposed on a clip, or on several.

    Examples
    --------
    >>> serve = {"contact_s": 62.1, "landing_s": 63.4, "x_m": 3.08, "y_m": -7.8, "served_to": "a", "outcome": "floor",
    ...          "confidence": 0.83, "why": "the toss is not seen"}
    >>> print(*proposal_lines({"serves": [serve]}), sep=chr(10))
    1:02.1 to 1:03.4, to end a: floor. x 3.08 m, y -7.80 m. Sure to 0.83, the toss is not seen.
    >>> proposal_lines({"serves": []})
    ['No serve was found.']
    >>> proposal_lines({"clips": [{"clip": "a.mp4", "serves": []}]})
    ['a.mp4:', 'No serve was found.']
    """
    if "clips" in answer:
        return [line for one in answer["clips"] for line in (f"{one['clip']}:", *proposal_lines(one))]
    return [_proposal(row) for row in answer["serves"]] or ["No serve was found."]


def _proposal(row: JsonAnswer) -> str:
    why = f", {row['why']}" if row["why"] else ""
    return (
        f"{clock(row['contact_s'])} to {clock(row['landing_s'])}, to end {row['served_to']}: {row['outcome']}. "
        f"x {row['x_m']:.2f} m, y {row['y_m']:.2f} m. Sure to {row['confidence']:.2f}{why}."
    )
