"""How coarse the hand is that made the marks: what is expected of hands, put right by how far the marks miss.

A hand's deviation is taken as anything between half a careful click and ten pixels, each doubling a little likelier
than the one before; a measured hand lies within a quarter of its measure (own assumptions). What the marks' residuals
leave, and how far their clicks lay from the crossings they moved to, turns that into what is likely now.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from serve_marker.camera.view.landmark_ways import CROSSING_SD_PX, Ways
from serve_marker.confidence_level import ELLIPSE_95
from serve_marker.court.dimensions import Floats

FINEST, COARSEST_PX = 0.5, 10.0
"""The finest hand in careful clicks, the coarsest in pixels (own assumption)."""
COARSER_POWER = 0.4
"""A doubling of the deviation is ``2**0.4`` times as likely: chosen so that four to eight marks of hands of 1 to 5 px
hold what is stated (`tests/benchmarks/truth.py`)."""
MEASURED_LOG_SD = 0.25
"""Ten points clicked twice tell a hand to within 16 %, ``1 / sqrt(2 n)``; it also differs from day to day."""
HANDS_TRIED = 80


@dataclass(frozen=True)
class Hand:
    """What the marks show of the hand that made them.

    Parameters
    ----------
    squares : sum of squared residuals, in deviations of the click.
    freedom : number of residuals less those that the camera takes up.
    click_sd_px : deviation of a careful click, or of the coach's own measured one.
    measured : whether it is the coach's own.
    ways : how far clicks lay from the crossings they moved to.
    """

    squares: float
    freedom: float
    click_sd_px: float
    measured: bool = False
    ways: Ways = field(default_factory=Ways)

    @property
    def over_click(self) -> float:
        """The deviation to count with over the click's, never below 1.

        It is the one whose 95 % ellipse holds 95 % under all likely hands together: with many residuals the
        residuals' own, with few the width that a coarse hand asks for (as Hotelling's T^2 without expectation).

        Examples
        --------
        >>> round(Hand(squares=900.0, freedom=100.0, click_sd_px=1.0).over_click, 1)
        3.1
        >>> Hand(squares=0.0, freedom=1.0, click_sd_px=1.0).over_click > 3
        True
        """
        hands, chance = self._likely_hands()
        low, high = 0.0, float(hands[-1])
        for _ in range(40):
            middle = (low + high) / 2
            missed = float(chance @ np.exp(-((ELLIPSE_95 * middle / hands) ** 2) / 2))
            low, high = (middle, high) if missed > 0.05 else (low, middle)
        return max(1.0, high)

    @property
    def shown(self) -> float:
        """The deviation that residuals and ways themselves show over the click's, never below 1.

        It is enough for a question.

        Examples
        --------
        >>> Hand(squares=18.0, freedom=2.0, click_sd_px=1.0).shown
        3.0
        >>> Hand(squares=0.0, freedom=0.0, click_sd_px=0.5, ways=Ways((2.0, 1.0))).shown
        2.23606797749979
        """
        squares = self.squares + sum(way_px**2 for way_px in self.ways.moved_px) / self.click_sd_px**2
        return max(1.0, float(np.sqrt(squares / max(self.freedom + 2 * len(self.ways.moved_px), 1.0))))

    @property
    def usual(self) -> float:
        """The deviation over the click's that is as likely too small as too large.

        Examples
        --------
        >>> round(Hand(squares=0.0, freedom=0.0, click_sd_px=1.0, ways=Ways((3.0, 4.0) * 50)).usual, 1)
        2.5
        """
        hands, chance = self._likely_hands()
        return float(hands[np.searchsorted(np.cumsum(chance), 0.5)])

    def crossing_sd_px(self) -> Floats:
        """Deviation (M,) [px] of each landmark that moved, with the chance that it stands at other lines' crossing.

        From there the true one lies the way back and a click off.
        """
        hands, chance = self._likely_hands()
        hands_px = hands * self.click_sd_px
        wrong = self.ways.wrong_chances(hands_px) * chance
        back_px2 = np.square(self.ways.moved_px) / 2
        off_px2 = wrong.sum(axis=1) * back_px2 + wrong @ hands_px**2
        return np.asarray(np.sqrt((1 - wrong.sum(axis=1)) * CROSSING_SD_PX**2 + off_px2))

    def chance_of(self, sd_px: float) -> float:
        """The chance that a hand of that deviation leaves residuals as large.

        Examples
        --------
        >>> round(Hand(squares=50.0, freedom=10.0, click_sd_px=0.5).chance_of(1.0), 2)
        0.25
        """
        from scipy.special import chdtrc

        squares = self.squares * (self.click_sd_px / sd_px) ** 2
        return float(chdtrc(self.freedom, squares)) if self.freedom > 0.5 else 1.0

    def with_more(self, values: int) -> Hand:
        """The same hand after ``values`` more observed numbers, off as is likely by what the marks show so far."""
        return replace(self, squares=self.squares + values * self.usual**2, freedom=self.freedom + values)

    def log_evidence(self) -> float:
        """Log of how likely residuals of such squares are under all hands together, up to a constant of the freedom."""
        log_chance = self._log_chance(self._hands())
        return float(np.logaddexp.reduce(log_chance))

    def _likely_hands(self) -> tuple[Floats, Floats]:
        """Deviations (HANDS_TRIED,) over the click's and how likely each is."""
        hands = self._hands()
        log_chance = self._log_chance(hands)
        chance = np.exp(log_chance - log_chance.max())
        return hands, chance / chance.sum()

    def _hands(self) -> Floats:
        return np.geomspace(FINEST, max(COARSEST_PX / self.click_sd_px, COARSEST_PX), HANDS_TRIED)

    def _log_chance(self, hands: Floats) -> Floats:
        log_chance = -max(self.freedom, 0.0) * np.log(hands) - self.squares / (2 * hands**2)
        log_chance = log_chance + self.ways.log_chance(hands * self.click_sd_px)
        if self.measured:
            return np.asarray(log_chance - (np.log(hands) / MEASURED_LOG_SD) ** 2 / 2)
        return np.asarray(log_chance + COARSER_POWER * np.log(hands))
