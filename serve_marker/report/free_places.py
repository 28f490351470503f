"""Places for words among marks, so that they cover as little as can be."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from serve_marker.court.dimensions import Floats

LATER = 0.02
"""How much covering, as a share of the words' own area, an earlier place may cost before a later one is taken."""


class FreePlaces:
    """Boxes that are taken, (left, low, right, high) each; words are laid where they cover the least of them."""

    def __init__(self, taken: Floats) -> None:
        self._taken = np.asarray(taken, dtype=float).reshape(-1, 4)

    def take(self, candidates: Sequence[tuple[float, float, float, float]]) -> int:
        """Return which of the boxes covers the least, the first where several do, and keep it taken.

        Examples
        --------
        >>> places = FreePlaces(np.array([[0, 0, 2, 2]]))
        >>> places.take([(1, 1, 3, 3), (2, 2, 4, 4)]), places.take([(2, 2, 4, 4), (5, 5, 6, 6)])
        (1, 1)
        """
        boxes = np.asarray(candidates, dtype=float)
        low = np.maximum(boxes[:, None, :2], self._taken[None, :, :2])
        high = np.minimum(boxes[:, None, 2:], self._taken[None, :, 2:])
        covered = np.clip(high - low, 0.0, None).prod(axis=2).sum(axis=1)
        own = (boxes[:, 2:] - boxes[:, :2]).prod(axis=1)
        best = int(np.argmin(covered / own + LATER * np.arange(len(boxes))))
        self._taken = np.vstack([self._taken, boxes[best]])
        return best
