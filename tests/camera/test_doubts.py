"""Which mark is named, and which court: slips and wrong edges simulated on cameras of our own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.court.dimensions import COURTS, landmarks, net_landmarks

INDOOR = COURTS["indoor"]
INNER = replace(INDOOR, length_m=17.9, width_m=8.9)
"""Lines are 5 cm wide (FIVB Official Volleyball Rules 2025-2028, 1.3.1), so that inner edges lie 5 cm further in."""


def clicked(camera, court, sd_px, seed):
    rng = np.random.default_rng(seed)
    return {name: tuple(rng.normal(pixel, sd_px)) for name, pixel in camera.marks(landmarks(court)).items()}


def test_the_mark_that_slipped_is_named_first(camera_named):
    """Ten marks, one of them 1.2 m off on the floor in any direction."""
    camera = camera_named("stand")
    rng, named, slips = np.random.default_rng(3), 0, 8
    for seed in range(slips):
        marks = clicked(camera, INDOOR, 1.0, seed)
        name, turn = str(rng.choice(list(marks))), rng.uniform(0, 2 * np.pi)
        place = np.array(landmarks(INDOOR)[name]) + 1.2 * np.array([np.cos(turn), np.sin(turn), 0.0])
        x, y = np.clip(camera.project([place])[0], 0, np.array(camera.size) - 1)
        named += name in fit_view({**marks, name: (x, y)}, INDOOR, camera.size, 2.24).warnings[0]
    assert named >= slips - 1


@pytest.mark.parametrize("name", ["corner", "side"])
def test_careful_hands_are_told_of_missed_lines_one_time_in_ten_at_most(name, camera_named):
    """One pixel in a picture 1280 wide, half as coarse again as the click counted with."""
    camera = camera_named(name)
    told = [fit_view(clicked(camera, INDOOR, 1.0, seed), INDOOR, camera.size, 2.24).warnings for seed in range(10)]
    assert sum(any("miss" in one or "click it again" in one for one in warnings) for warnings in told) <= 1


@pytest.mark.parametrize("name", ["stand", "low tripod", "corner"])
def test_inner_edges_and_a_court_of_other_proportions_are_tried(name, camera_named):
    """With a hand fine enough to tell them: 5 cm in 9 m, and an attack line 2.5 cm further out (NFHS rules)."""
    camera = camera_named(name)
    inner = fit_view(clicked(camera, INNER, 0.05, 1), INDOOR, camera.size, 2.24, own_click_sd_px=0.1)
    assert "inner edges" in inner.warnings[0]
    feet = fit_view(clicked(camera, COURTS["high-school"], 0.05, 1), INDOOR, camera.size, 2.24, own_click_sd_px=0.1)
    assert "60 × 30 ft" in feet.warnings[0]
    right = fit_view(clicked(camera, INDOOR, 0.05, 1), INDOOR, camera.size, 2.24, own_click_sd_px=0.1)
    assert not any("fit" in sentence for sentence in right.warnings)


def test_the_mark_that_nothing_checks_is_named(camera_named):
    """Of five marks one alone tells of the near half; of ten, each is checked by the others."""
    camera = camera_named("corner")
    marks = clicked(camera, INDOOR, 0.3, 2)
    alone = "Nothing else checks end-a/right"
    five = ("end-a/right", "centre/left", "centre/right", "attack-b/left", "attack-b/right")
    told = fit_view({name: marks[name] for name in five}, INDOOR, camera.size, 2.24).warnings
    assert any(sentence.startswith(alone) for sentence in told)
    assert not any(sentence.startswith("Nothing") for sentence in fit_view(marks, INDOOR, camera.size, 2.24).warnings)


def test_four_marks_and_a_trace_that_miss_name_a_mark(camera_named):
    """Of four marks none can be left out to solve for a view; the traces can still tell which is off."""
    camera = camera_named("stand")
    corners = ("end-a/left", "end-a/right", "end-b/left", "end-b/right")
    marks = {name: px for name, px in camera.marks(landmarks(INDOOR)).items() if name in corners}
    lines = {
        line: tuple(map(tuple, camera.project([(x, y, 0.0) for x in np.linspace(-4, 4, 6)]).tolist()))
        for line, y in (("end-a", -9.0), ("attack-a", -3.0), ("centre", 0.0), ("end-b", 9.0))
    }
    x_px, y_px = marks["end-b/left"]
    told = fit_view({**marks, "end-b/left": (x_px, y_px + 12)}, INDOOR, camera.size, 2.24, lines).warnings
    assert "end-b/left" in told[0]


def test_what_is_taken_for_granted_is_said(camera_named):
    """The beach's 16 x 8 m marked as 18 x 9 m looks the same in every proportion; the net alone tells them apart."""
    camera = camera_named("stand")
    beach = clicked(camera, COURTS["beach"], 0.3, 1)
    fit = fit_view(beach, INDOOR, camera.size, 2.24)
    assert not any("court" in sentence for sentence in fit.warnings)
    assert "Indoor 18 × 9 m" in fit.taken_for_granted
    assert "outer edges" in fit.taken_for_granted
    tops = camera.marks(net_landmarks(COURTS["beach"], 2.24))
    assert "Beach 16 × 8 m" in fit_view(beach | tops, INDOOR, camera.size, 2.24).warnings[0]
    ours = clicked(camera, INDOOR, 0.3, 1) | camera.marks(net_landmarks(INDOOR, 2.24))
    checked = fit_view(ours, INDOOR, camera.size, 2.24).taken_for_granted
    assert "size" not in checked
    assert "outer edges" in checked
