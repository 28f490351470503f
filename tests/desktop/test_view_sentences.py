"""What Set up says of a view speaks of near and far, as the coach does, and never of the names in files."""

from __future__ import annotations

import re

import numpy as np
import pytest

from sample_clips.lens import looking
from serve_marker.camera.fitting.error_reduction import Advice
from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.fitting.view_warnings import FIVE_WORDS
from serve_marker.court.dimensions import COURTS, landmarks
from serve_marker.desktop.session.court_words import in_coach_words
from serve_marker.desktop.setup.view_sentences import better_words
from serve_marker.errors import UserError

COURT = COURTS["indoor"]
FILE_NAMES = re.compile(r"\bend [ab]\b|(end|attack)-[ab]|centre/")


def test_a_camera_level_with_the_net_is_told_of_the_near_end():
    """It stands beside the left sideline and looks across the court, so that end a lies on the picture's right."""
    camera = looking((-14.0, 0.0, 5.0), 90.0, 18.0, 800.0)
    places = landmarks(COURT)
    pixels = dict(zip(places, camera.project(np.array(list(places.values()))), strict=True))
    marks = {name: (float(at[0]), float(at[1])) for name, at in pixels.items() if camera.inside(at)}
    assert len(marks) >= 6
    fit = fit_view(marks, COURT, camera.size, 2.24)
    assert "level with the net" in fit.warnings[0]
    words = better_words(fit.view, fit, [])
    assert "Then the near end should be on the picture's left." in words
    assert not FILE_NAMES.search(words)


def test_what_would_help_is_said_before_the_rule_of_five_marks():
    """Five marks hide a slip; a sixth that is named with its gain tells a coach more."""
    camera = looking((0.5, -19.0, 6.0), 0.0, 16.0, 1000.0)
    places = landmarks(COURT)
    chosen = ("end-a/left", "end-a/right", "attack-b/left", "end-b/left", "end-b/right")
    pixels = camera.project(np.array([places[name] for name in chosen]))
    marks = {name: (float(x), float(y)) for name, (x, y) in zip(chosen, pixels, strict=True)}
    fit = fit_view(marks, COURT, camera.size, 2.24)
    assert fit.warnings == [FIVE_WORDS]
    assert better_words(fit.view, fit, []).endswith(FIVE_WORDS)
    one_more = Advice("mark", "attack-b/right", "b", 0.14, 0.08)
    assert better_words(fit.view, fit, [one_more]).startswith("Mark also the far attack line at right sideline: ")


@pytest.mark.parametrize(
    ("marks", "said"),
    [
        (
            {"end-a/left": (100, 500), "end-a/right": (600, 500), "end-b/left": (400, 100), "end-b/right": (200, 100)},
            "No camera can see the court so: the marks far end line at left sideline, far end line at right sideline, "
            "near end line at left sideline and near end line at right sideline cross or are mirrored. "
            "Check left and right, and the near end and the far end.",
        ),
        (
            {
                "end-a/left": (100, 100),
                "end-a/right": (300, 100),
                "attack-a/left": (500, 100),
                "end-b/left": (620, 101),
            },
            "The marks far end line at left sideline, near end line at left sideline, near end line at right sideline "
            "and near attack line at left sideline lie nearly in line. "
            "Mark another landmark well away from that line.",
        ),
        (
            {"end-b/left": (600, 300), "end-b/right": (40, 300), "end-a/left": (450, 100), "end-a/right": (200, 100)},
            "The near and far end look exchanged. Start the view over: the near end is nearer the camera.",
        ),
    ],
    ids=["crossed", "in line", "turned round"],
)
def test_a_refused_view_is_told_in_the_coachs_names(marks, said):
    with pytest.raises(UserError) as refused:
        fit_view(marks, COURT, (700, 600), 2.24)
    assert FILE_NAMES.search(str(refused.value))
    assert in_coach_words(str(refused.value)) == said
