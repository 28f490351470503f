"""The balls of the rule books: what a flight needs to know of them."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Ball:
    """A ball's middle mass [kg] and radius [m] by a rule."""

    mass_kg: float
    radius_m: float
    source: str

    @property
    def area_per_mass_m2_kg(self) -> float:
        """Cross-section over mass [m2/kg]: what drag and lift of one coefficient grow with."""
        return math.pi * self.radius_m**2 / self.mass_kg


INDOOR_BALL = Ball(0.270, 0.105, "FIVB Official Volleyball Rules 2025-2028, 3.1: 65-67 cm around, 260-280 g")
BEACH_BALL = Ball(0.270, 0.1066, "FIVB Official Beach Volleyball Rules, 3.1: 66-68 cm around, 260-280 g")
LIGHT_BALL = Ball(
    0.2125,
    0.105,
    "no rule text read: balls for 12 and under, 198-227 g, 65-67 cm",
)
_BALLS = {"beach": BEACH_BALL, "youth-13": LIGHT_BALL, "youth-12": LIGHT_BALL}


def ball_on(court_name: str) -> Ball:
    """Return the ball that is played on a court, by the court's name; the indoor one where nothing else is said.

    Examples
    --------
    >>> ball_on("beach").radius_m, ball_on("youth-12").mass_kg, ball_on("indoor") == ball_on("own")
    (0.1066, 0.2125, True)
    """
    return _BALLS.get(court_name, INDOOR_BALL)
