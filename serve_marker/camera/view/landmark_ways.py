"""Landmarks moved to the crossings of the painted lines: how sure they are, and what their ways tell of the hand.

The way from click to crossing is the click's own error, two values a landmark, whatever the camera; a landmark that
found no crossing was perhaps clicked too far off. A few crossings are those of other lines.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from serve_marker.camera.view.view import Marks
from serve_marker.court.dimensions import Floats

SNAP_PX = 8.0
"""How far from a click a crossing may lie that it moves to."""
CROSSING_SD_PX = 0.35
"""What a crossing itself is off, per axis (rendered clips: 0.15 to 0.5, `tests/benchmarks/snap.py`)."""
WRONG_SHARE = 0.02
"""Of landmarks that moved, so many moved to the crossing of other lines (the same clips: 1 %)."""
UNFOUND_SHARE = 0.15
"""Of crossings within reach, so many are not found (the same clips: 5 %; worn lines in halls are found less often)."""


@dataclass(frozen=True)
class Ways:
    """How far [px] clicks lay from the crossings they moved to, and how many landmarks found no crossing."""

    moved_px: tuple[float, ...] = ()
    stayed: int = 0

    def without(self, i: int) -> Ways:
        """The ways of all but the i-th that moved."""
        return replace(self, moved_px=self.moved_px[:i] + self.moved_px[i + 1 :])

    def log_chance(self, hands_px: Floats) -> Floats:
        """Log of how likely these ways are (N,) for hands of deviations (N,) [px].

        A way is that of a normal click of both axes, or to anywhere within reach. A landmark stays where its click was
        out of reach or its crossing not found; where none moved, the picture shows no lines and tells nothing.

        Examples
        --------
        >>> near, far = Ways((1.0, 1.5)), Ways((6.0, 7.0))
        >>> hands_px = np.array([1.0, 5.0])
        >>> near.log_chance(hands_px).argmax(), far.log_chance(hands_px).argmax()
        (np.int64(0), np.int64(1))
        """
        if not self.moved_px:
            return np.zeros(len(hands_px))
        right, wrong = self._densities(hands_px)
        beyond = np.exp(-(SNAP_PX**2) / (2 * hands_px**2))
        stays = beyond + UNFOUND_SHARE * (1 - beyond)
        return np.asarray(np.log(right + wrong).sum(axis=0) + self.stayed * np.log(stays))

    def wrong_chances(self, hands_px: Floats) -> Floats:
        """How likely each of the M that moved is at the crossing of other lines, (M, N) for hands (N,) [px]."""
        right, wrong = self._densities(hands_px)
        return wrong / (right + wrong)

    def _densities(self, hands_px: Floats) -> tuple[Floats, float]:
        way_px2 = np.square(self.moved_px)[:, None]
        spread_px2 = hands_px**2 + CROSSING_SD_PX**2
        right = (1 - WRONG_SHARE) * np.exp(-way_px2 / (2 * spread_px2)) / (2 * math.pi * spread_px2)
        return right, WRONG_SHARE / (math.pi * SNAP_PX**2)


def ways_of(names: Iterable[str], marks: Marks, clicked: Marks) -> Ways:
    """The ways of landmarks from where they were clicked to where they are marked; one that did not move found nothing.

    Examples
    --------
    >>> marks = {"end-a/left": (13.0, 4.0), "end-a/right": (90.0, 5.0), "end-b/left": (30.0, 2.0)}
    >>> ways_of(marks, marks, {"end-a/left": (10.0, 0.0), "end-a/right": (90.0, 5.0)})
    Ways(moved_px=(5.0,), stayed=1)
    """
    looked_for = [name for name in names if name in clicked]
    moved = [name for name in looked_for if is_crossing(name, marks, clicked)]
    ways_px = tuple(math.dist(marks[name], clicked[name]) for name in moved)
    return Ways(ways_px, len(looked_for) - len(moved))


def is_crossing(name: str, marks: Marks, clicked: Marks) -> bool:
    """Whether a landmark is marked where it moved to."""
    return name in clicked and tuple(clicked[name]) != tuple(marks[name])
