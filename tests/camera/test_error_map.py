"""The error over the court, and that what advice promises comes true."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from serve_marker.camera.fitting.error_map import error_map
from serve_marker.camera.fitting.error_reduction import advice, with_higher_camera, with_mark, with_trace
from serve_marker.camera.fitting.observations import line_ends
from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.court.dimensions import court_named, landmarks

COURT = court_named("indoor")
SOME = ("end-a/right", "attack-a/left", "attack-a/right", "centre/left", "centre/right")
DRAWS = 9
HAND = 1.5
"""In careful clicks: between those that the program thinks likely before it sees any."""


def noisy(camera, names, rng):
    exact = camera.marks(landmarks(COURT))
    return {name: tuple(rng.normal(exact[name], HAND * camera.size[0] / 1920)) for name in names}


def noisy_trace(camera, line, rng):
    start, stop = line_ends(COURT)[line]
    share = np.linspace(1 / 7, 6 / 7, 6)[:, None]
    points = (1 - share) * start + share * stop
    pixels = camera.project(np.column_stack([points, np.zeros(6)]))
    return {line: tuple((float(x), float(y)) for x, y in rng.normal(pixels, HAND * camera.size[0] / 1920))}


def test_the_map_is_the_view_s_own_error(camera_named):
    camera = camera_named("corner")
    view = fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view
    found = error_map(view)
    assert found.error_m.shape == (len(found.y_m), len(found.x_m))
    assert (found.x_m[0], found.x_m[-1], found.y_m[0], found.y_m[-1]) == (-4.5, 4.5, -9, 9)
    assert np.diff(found.y_m).max() <= 0.5
    row, column = 20, 7
    expected = view.floor_error_m([(found.x_m[column], found.y_m[row])])[0]
    assert found.error_m[row, column] == pytest.approx(expected)
    assert (found.end_a_m, found.end_b_m) == (view.expected_error_m()["end_a"], view.expected_error_m()["end_b"])


def test_outside_the_picture_there_is_no_error_to_tell(camera_named):
    camera = camera_named("side")
    view = fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view
    found = error_map(view)
    grid = np.stack(np.meshgrid(found.x_m, found.y_m), axis=2).reshape(-1, 2)
    pixels = camera.project(np.column_stack([grid, np.zeros(len(grid))]))
    outside = ~((pixels > 0) & (pixels < np.array(camera.size) - 1)).all(axis=1)
    assert outside.any()
    assert np.isnan(found.error_m.ravel()[outside]).all()


@pytest.mark.parametrize("name", ["stand", "corner"])
@pytest.mark.parametrize("kind", ["mark", "trace", "raise"])
def test_promises_come_true_within_a_third(name, kind, camera_named):
    """Against what noisy clicks on the true picture then give, in the middle of the draws.

    Five marks leave open how coarse their hand is; what comes after shows it.
    """
    camera = camera_named(name)
    rng = np.random.default_rng(12)
    ratios = []
    for _ in range(DRAWS):
        marks = noisy(camera, SOME, rng)
        view = fit_view(marks, COURT, camera.size, 2.24).view
        if kind == "mark":
            promised = with_mark(view, "end-b/right")
            marks |= noisy(camera, ["end-b/right"], rng)
            really = fit_view(marks, COURT, camera.size, 2.24)
        elif kind == "trace":
            promised = with_trace(view, "end-b")
            really = fit_view(marks, COURT, camera.size, 2.24, noisy_trace(camera, "end-b", rng))
        else:
            promised = with_higher_camera(view)
            x_m, y_m, z_m = camera.place_m
            higher = replace(camera, place_m=(x_m, y_m, z_m + 1))
            really = fit_view(noisy(higher, SOME, rng), COURT, camera.size, 2.24)
        ratios.append(really.view.expected_error_m()["end_b"] / promised.expected_error_m()["end_b"])
    assert np.median(ratios) == pytest.approx(1, abs=0.33)


def test_advice_says_what_and_how_much(camera_named):
    camera = camera_named("stand")
    given = advice(fit_view(noisy(camera, SOME, np.random.default_rng(1)), COURT, camera.size, 2.24).view)
    assert 1 <= len(given) <= 3
    assert [one.then_m for one in given] == sorted(one.then_m for one in given)
    assert all(one.then_m < 0.9 * one.now_m and one.end == "b" for one in given)
    assert all(one.name not in SOME for one in given)


def test_nothing_marked_twice_is_advised(camera_named):
    camera = camera_named("stand")
    view = fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view
    assert all(one.kind != "mark" for one in advice(view))


def test_too_little_of_a_line_is_not_worth_tracing(camera_named):
    camera = camera_named("side")
    view = fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view
    shown = {line for line in line_ends(COURT) if with_trace(view, line) is not None}
    assert "left" not in shown or "right" in shown
