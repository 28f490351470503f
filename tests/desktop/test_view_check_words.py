"""What was found out about the camera's place, in words."""

from __future__ import annotations

import math

import numpy as np
import pytest

from serve_marker.desktop.setup.view_sentences import camera_check_question
from serve_marker.marking.view_check import ClipCheck, ClipSegment

GREY = np.zeros((2, 2), dtype=np.uint8)
VIEW = object()
PLACE = ("Harbour hall / Stand", "2026-11-10")
CHECK = "Do the drawn lines match the floor?"


def segment(from_s, turned_deg=0.0, shifted_px=0.0, view=VIEW):
    return ClipSegment(from_s, from_s + 10.0, turned_deg, shifted_px, view, GREY)


@pytest.mark.parametrize(
    ("segments", "own", "words"),
    [
        (
            [segment(0.0)],
            False,
            f"Same place as Harbour hall / Stand on 2026-11-10, nothing moved. {CHECK}",
        ),
        (
            [segment(0.0, 1.44, 30.6)],
            False,
            f"Same place as Harbour hall / Stand on 2026-11-10, turned a little. {CHECK}",
        ),
        (
            [segment(0.0), segment(97.25, 12.1, 240.0)],
            True,
            f"The camera was moved at 1:37.2, turned 12 degrees. The lines moved with it. {CHECK}",
        ),
        (
            [segment(0.0), segment(97.25, math.nan, math.nan, None)],
            True,
            "The camera was moved at 1:37.2. From there on, the lines do not fit: mark that part's own landmarks. "
            f"{CHECK}",
        ),
        (
            [segment(0.0, math.nan, math.nan, None), segment(12.3, 1.44, 30.6)],
            False,
            "From 0:12.3 on: same place as Harbour hall / Stand on 2026-11-10, turned a little. Before that, the lines "
            f"do not fit: mark that part's own landmarks. {CHECK}",
        ),
        (
            [segment(0.0)],
            True,
            f"Same place as Harbour hall / Stand on 2026-11-10, nothing moved. {CHECK}",
        ),
    ],
    ids=["still", "turned since", "knocked", "knocked far away", "elsewhere at first", "still, where a part was bare"],
)
def test_words_of_a_check(segments, own, words):
    assert camera_check_question(*PLACE, ClipCheck(True, tuple(segments), ()), own) == words


def test_a_swaying_camera_is_told_as_it_was_found():
    sway = ClipCheck(True, (segment(0.0, math.nan, math.nan, None),), ("The camera sways throughout.",))
    assert camera_check_question(*PLACE, sway, True) == "The camera sways throughout."


def test_slow_motion_tells_the_time_that_the_time_bar_shows():
    moved = ClipCheck(True, (segment(0.0), segment(80.0, 1.0, 9.0)), ())
    assert "at 0:10.0," in camera_check_question(*PLACE, moved, True, time_scale=1 / 8)


def test_a_minute_is_never_told_as_sixty_seconds():
    moved = ClipCheck(True, (segment(0.0), segment(59.97, 1.0, 9.0)), ())
    assert "at 1:00.0," in camera_check_question(*PLACE, moved, True)
