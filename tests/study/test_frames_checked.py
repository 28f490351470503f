"""Landings count as checked only where the film told the touch, and told it well enough."""

from dataclasses import replace

import numpy as np
import pytest

from serve_marker.logbook.records import Mark
from serve_marker.study.frames_checked import frames_checked
from tests.study.conftest import landed

FRAME_S = 1 / 30


@pytest.mark.parametrize(
    ("after_frames", "sd_frames", "told"),
    [(0.0, 0.1, (1, 1)), (0.4, 0.2, (0, 0)), (-0.4, 0.02, (1, 1)), (0.6, 0.02, (1, 0)), (-1.0, 0.2, (1, 0))],
)
def test_a_touch_near_the_middle_of_two_frames_tells_nothing(after_frames, sd_frames, told):
    touch = (after_frames * FRAME_S, sd_frames * FRAME_S, FRAME_S, FRAME_S)
    assert frames_checked([touch]) == told
    assert frames_checked([touch] * 3) == tuple(3 * count for count in told)


def test_no_touches_are_none_checked():
    assert frames_checked(np.empty((0, 4))) == (0, 0)


def test_only_what_the_film_told_is_a_check(logbook):
    """A coach's own marks on one side of the click look no further than half a frame, and would always agree."""
    touch = {"touch_after_s": 0.01, "touch_sd_s": 0.002}
    landing = Mark(5.0, (400.0, 300.0), FRAME_S, FRAME_S)
    ball = Mark(5.0 + FRAME_S, (401.0, 300.0), FRAME_S, FRAME_S)
    by_hand = replace(landed("by-hand", 1.0, 7.0), landing=landing, ball_marks=(ball,), **touch)
    by_film = replace(landed("by-film", 1.0, 7.0), landing=landing, film_marks=(ball,), **touch)
    of_contact = replace(landed("of-contact", 1.0, 7.0), landing=landing, contact_film_marks=(ball,), **touch)
    logbook.put(by_hand, by_film, of_contact)
    assert logbook.touches_on_film() == [(0.01, 0.002, FRAME_S, FRAME_S)]
