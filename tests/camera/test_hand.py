"""What residuals tell of a hand: much of them everything, few of them little, and the width says so."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from serve_marker.camera.fitting.hand import Hand


def held_and_wide(freedom, truth_px, click_sd_px=1.0, measured=False, sets=400):
    """Share of later clicks held, and the typical width over the right one, for residuals of a true hand."""
    rng = np.random.default_rng(4)
    hands = [
        Hand((truth_px / click_sd_px) ** 2 * rng.chisquare(freedom), freedom, click_sd_px, measured)
        for _ in range(sets)
    ]
    counted_px = np.array([hand.over_click * click_sd_px for hand in hands])
    held = stats.chi2.cdf(stats.chi2.ppf(0.95, 2) * (counted_px / truth_px) ** 2, 2).mean()
    return held, np.median(counted_px / truth_px)


@pytest.mark.parametrize("freedom", [1.0, 3.0, 5.0, 9.0, 30.0])
@pytest.mark.parametrize("truth_px", [1.0, 1.5, 2.5, 5.0])
def test_clicks_of_every_hand_are_held(freedom, truth_px):
    """At least 93 of 100 (chi-square residuals of a normal hand, simulated)."""
    held, wide = held_and_wide(freedom, truth_px)
    assert held >= 0.93
    assert wide <= {1.0: 5.0, 3.0: 2.5}.get(freedom, 1.8)


def test_a_measured_hand_needs_no_residuals():
    held, wide = held_and_wide(1.0, 2.0, click_sd_px=2.0, measured=True)
    assert held >= 0.93
    assert wide < 1.3


def test_many_residuals_overrule_a_measured_hand():
    """A bent lens or another court leaves more than the hand does, whatever was measured."""
    assert Hand(30 * 4.0**2, 30.0, 1.0, True).over_click == pytest.approx(4.0, rel=0.25)


def test_more_of_the_same_leaves_a_hand_as_it_is():
    """Of residuals that tell 3 clicks, as many again make the width no more than a little narrower."""
    hand = Hand(10 * 9.0, 10.0, 1.0)
    assert 0.8 < hand.with_more(10).over_click / hand.over_click < 1.0
