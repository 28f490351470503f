"""What was found on a clip so far, kept in a file, so that work broken off goes on from there."""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_to_text
from serve_marker.errors import UserError
from serve_marker.spotting.confidence import Doubt
from serve_marker.spotting.proposals import Proposal
from serve_marker.video.clip import Clip

METHOD = 1
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
            told = json.loads(self._path.read_text(encoding="utf-8"))
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
        rows = [asdict(one) | {"xy_m": one.xy_m.tolist(), "cov_m2": one.cov_m2.tolist()} for one in so_far.proposals]
        told = {"of": self._of, **vars(so_far), "proposals": rows}
        unfinished = self._path.with_name(f".{self._path.name}.{os.getpid()}")
        try:
            unfinished.write_text(json.dumps(told), encoding="utf-8")
            unfinished.replace(self._path)
        except OSError as error:
            raise UserError(f"{self._path} cannot be written ({error.strerror}); choose another folder.") from error
        finally:
            with suppress(OSError):
                unfinished.unlink(missing_ok=True)


def _proposal(row: dict[str, Any]) -> Proposal:
    doubts = tuple(Doubt(**doubt) for doubt in row["doubts"])
    arrays = {name: np.array(row[name]) for name in ("xy_m", "cov_m2")}
    return Proposal(**{**row, **arrays, "doubts": doubts})
