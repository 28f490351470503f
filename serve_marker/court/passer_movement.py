"""How fast and how far passers get to a ball, and at what heights they play it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.court.dimensions import Floats


@dataclass(frozen=True)
class Movement:
    """How passers get to a ball. Settings, as no measured values for serve reception were found.

    ``reaction_s``: choice reactions take about 0.2-0.3 s (common practice, no source). ``speed_mps``: the mean over
    the first metres, standing start included (own choice). ``reach_m``: of the arms (own choice). ``lowest_m`` and
    ``highest_m``: between these heights of the ball's centre it is played with the forearms (own choice); overhand up
    to about 2 m.
    """

    reaction_s: float = 0.25
    speed_mps: float = 3.0
    reach_m: float = 0.5
    lowest_m: float = 0.3
    highest_m: float = 1.2

    def radius_m(self, flight_s: ArrayLike) -> Floats:
        """How far from her place a passer gets to a ball in the air for ``flight_s``.

        Examples
        --------
        >>> Movement().radius_m([0.2, 1.25]).tolist()
        [0.5, 3.5]
        """
        moving_s = np.maximum(np.asarray(flight_s, dtype=float) - self.reaction_s, 0.0)
        return np.asarray(self.reach_m + self.speed_mps * moving_s, dtype=float)
