"""Places for words among marks, so that they cover as little as can be."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from serve_marker.court.dimensions import Floats

Box = tuple[float, float, float, float]
"""Left, low, right and high."""
LATER = 0.02
"""How much covering, as a share of the words' own area, an earlier place may cost before a later one is taken."""


class FreePlaces:
    """Boxes (N, 4) that are taken; words are laid where they cover the least of them."""

    def __init__(self, taken: Floats) -> None:
        self._taken = np.asarray(taken, dtype=float).reshape(-1, 4)

    def take(self, candidates: Sequence[Box], most_covered: float = math.inf) -> Box | None:
        """Return the box that covers the least, the first where several do, and keep it taken.

        None where each covers more than a share ``most_covered`` of itself.

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
        best = int(np.argmin(covered + LATER * np.arange(len(boxes))))
        if covered[best] > most_covered:
            return None
        self._taken = np.vstack([self._taken, boxes[best]])
        return candidates[best]
