"""What was found on a clip so far, kept in a file, so that work broken off goes on from there."""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_from_text, view_to_text
from serve_marker.errors import UserError
from serve_marker.logbook.tables import SERVES, ball_cells, with_balls
from serve_marker.plain_json import read_json
from serve_marker.spotting.confidence import Doubt
from serve_marker.spotting.proposals import Proposal
from serve_marker.video.clip import Clip

ARRAYS = ("xy_m", "cov_m2", "flight_m")
METHOD = 2
"""Goes up with each change of what is found: an older file does not count."""


@dataclass(frozen=True)
class FoundSoFar:
    """Proposals of a clip before they are held against each other, and where the work goes on.

    That is the segment of the clip that is worked on, and in it the first frame of the next block, 0 its beginning.
    """

    segment: int = 0
    from_frame: int = 0
    proposals: tuple[Proposal, ...] = ()
    is_all: bool = False


class ProgressFile:
    """The file that keeps what was found so far on one clip through one view."""

    def __init__(self, path: Path, clip: Clip, view: View) -> None:
        self._path = path
        told = (METHOD, clip.path.stat().st_size, clip.capture_rate, clip.times_s.tolist(), view_to_text(view))
        self._of = hashlib.sha256(json.dumps(told).encode()).hexdigest()

    def read(self) -> FoundSoFar:
        """What the file holds; nothing where it is not there, or tells of another clip, view or method."""
        with suppress(OSError, ValueError, KeyError, TypeError):
            told = read_json(self._path.read_text(encoding="utf-8"))
            if told["of"] == self._of:
                proposals = tuple(_proposal(row) for row in told["proposals"])
                return FoundSoFar(told["segment"], told["from_frame"], proposals, told["is_all"])
        return FoundSoFar()

    def write(self, so_far: FoundSoFar) -> None:
        """Replace what the file holds, at once.

        Raises
        ------
        UserError
            Where it cannot be written.
        """
        told = {"of": self._of, **vars(so_far), "proposals": [_row(one) for one in so_far.proposals]}
        unfinished = self._path.with_name(f".{self._path.name}.{os.getpid()}")
        try:
            unfinished.write_text(json.dumps(told), encoding="utf-8")
            unfinished.replace(self._path)
        except OSError as error:
            raise UserError(f"{self._path} cannot be written ({error.strerror}); choose another folder.") from error
        finally:
            with suppress(OSError):
                unfinished.unlink(missing_ok=True)


def _row(one: Proposal) -> dict[str, Any]:
    """A proposal as plain values; the serve as the cells that a logbook keeps of it."""
    arrays = {name: getattr(one, name).tolist() for name in ARRAYS}
    marked = {"cells": SERVES.row(one.marked), "balls": ball_cells(one.marked)}
    plain = {name: None if value != value else value for name, value in vars(one).items() if isinstance(value, float)}
    doubts = [vars(doubt) for doubt in one.doubts]
    return {**vars(one), **plain, **arrays, "doubts": doubts, "view": view_to_text(one.view), "marked": marked}


def _proposal(row: dict[str, Any]) -> Proposal:
    doubts = tuple(Doubt(**doubt) for doubt in row["doubts"])
    arrays = {name: np.array(row[name]) for name in ARRAYS}
    marked = with_balls(SERVES.record(row["marked"]["cells"]), row["marked"]["balls"])
    told: dict[str, Any] = {name: np.nan if value is None else value for name, value in row.items()}
    return Proposal(**(told | arrays | {"doubts": doubts, "view": view_from_text(row["view"]), "marked": marked}))
