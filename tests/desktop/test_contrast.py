"""Marks stand out 3 to 1 from every ground and text 4.5 to 1, as WCAG 2.2 asks (1.4.11 and 1.4.3)."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.contrast import MACHADO, contrast, everything, rgb_of, seen_as, stands_out

pytestmark = pytest.mark.usefixtures("dressed")


def test_everything_stands_out_from_every_ground():
    found = everything()
    assert [one for one in found if one.contrast < one.asked] == []
    assert len(found) > 300


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [("#000000", "#FFFFFF", 21.0), ("#767676", "#FFFFFF", 4.54), ("#0000FF", "#FFFFFF", 8.59)],
)
def test_contrast_is_that_of_the_standard(one: str, other: str, ratio: float):
    """21 is the standard's own figure; #767676 is known as the lightest grey for text on white.

    Pure blue has the luminance 0.0722, and 1.05 / 0.1222 = 8.59.
    """
    assert contrast(rgb_of(one), rgb_of(other)) == pytest.approx(ratio, abs=0.01)


def test_a_mark_without_a_rim_would_be_found():
    """Orange on white: luminance 0.791 x 0.2126 + 0.347 x 0.7152 = 0.416, and 1.05 / 0.466 = 2.25."""
    picture = np.full((20, 20, 3), 255, np.uint8)
    picture[5:15, 5:15] = (230, 159, 0)
    assert stands_out(picture, "#FFFFFF") == pytest.approx(2.25, abs=0.01)
    picture[4:16, 4] = picture[4:16, 15] = picture[4, 4:16] = picture[15, 4:16] = 0
    assert stands_out(picture, "#FFFFFF") == pytest.approx(21.0)


@pytest.mark.parametrize("eyes", [*MACHADO, "grey"])
def test_greys_stay_greys_for_all_eyes(eyes: str):
    """The rows of each matrix add up to 1 (Machado, Oliveira and Fernandes 2009)."""
    greys = np.repeat(np.arange(256, dtype=np.uint8)[:, None, None], 3, axis=2)
    assert np.abs(seen_as(greys, eyes).astype(int) - greys).max() <= 1


def test_vermillion_and_a_dark_yellow_are_much_alike_without_green_cones():
    pair = np.array([[[213, 94, 0], [160, 125, 0]]], dtype=np.uint8)
    apart, seen_apart = (np.abs(np.diff(one.astype(int), axis=1)).sum() for one in (pair, seen_as(pair, "green-blind")))
    assert seen_apart < 0.5 * apart
