"""Places for words among marks, so that they cover as little as can be."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from serve_marker.court.dimensions import Floats

Box = tuple[float, float, float, float]
"""Left, low, right and high."""
LATER = 0.02


class FreePlaces:
    """Boxes (N, 4) that are taken; words are laid where they cover the least of them."""

    def __init__(self, taken: Floats) -> None:
        self._taken = np.asarray(taken, dtype=float).reshape(-1, 4)

    def take(self, candidates: Sequence[Box], most_covered: float = math.inf, later: float = LATER) -> Box | None:
        """Return the box that covers the least, the first where several do, and keep it taken.

        None where each covers more than a share ``most_covered`` of itself. ``later`` is how much more of itself, as a
        share, a place may cover for each place it comes before another.

        Examples
        --------
        >>> places = FreePlaces(np.array([[0, 0, 2, 2]]))
        >>> places.take([(1, 1, 3, 3), (2, 2, 4, 4)]), places.take([(2, 2, 4, 4)], most_covered=0.5)
        ((2, 2, 4, 4), None)
        """
        boxes = np.asarray(candidates, dtype=float)
        low = np.maximum(boxes[:, None, :2], self._taken[None, :, :2])
        high = np.minimum(boxes[:, None, 2:], self._taken[None, :, 2:])
        covered = np.clip(high - low, 0.0, None).prod(axis=2).sum(axis=1) / (boxes[:, 2:] - boxes[:, :2]).prod(axis=1)
        best = int(np.argmin(covered + later * np.arange(len(boxes))))
        if covered[best] > most_covered:
            return None
        self._taken = np.vstack([self._taken, boxes[best]])
        return candidates[best]
