"""Views of the rendered clips, lens bend and all, held against their true cameras.

The benchmark of views measures the same over thousands of draws; the bounds here leave room for fewer.
"""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.camera.fitting import lens_choice
from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.court.dimensions import court_named, landmarks, net_landmarks

COURT = court_named("indoor")
DRAWS = 6


def landings(clip):
    shown = [s for s in clip.truth["serves"] if s["outcome"] == "floor" and s.get("landing_in_frame")]
    return np.array([s["landing_xy"] for s in shown]) * clip.turn


def test_landings_from_exact_marks_and_traces(clip):
    view = clip.fitted(clip.marks, clip.traces).view
    floor = landings(clip)
    away_m = np.hypot(*(view.locate(clip.project(floor))[0] - floor).T)
    assert np.median(away_m) < 0.02


def test_marks_alone_leave_a_few_centimetres(clip):
    view = clip.fitted(clip.marks, {}).view
    floor = landings(clip)
    assert np.median(np.hypot(*(view.locate(clip.project(floor))[0] - floor).T)) < 0.04


def test_pose_from_exact_marks_and_traces(clip):
    view = clip.fitted(clip.marks, clip.traces).view
    assert view.focal_px == pytest.approx(clip.camera["fx"], rel=0.03)
    assert view.camera_height_m == pytest.approx(clip.place_m[2], rel=0.03)
    away_m = float(np.hypot(*clip.place_m[:2]))
    assert np.hypot(*view.camera_position_m[:2]) == pytest.approx(away_m, rel=0.03)
    tops = list(net_landmarks(COURT, clip.net_height_m).values())
    true_px = clip.project(tops)
    shown = clip.inside(true_px)
    assert np.hypot(*(view.project(tops) - true_px)[shown].T).max() < 3


def test_pose_from_noisy_marks_and_traces(clip):
    rng = np.random.default_rng(6)
    tops = list(net_landmarks(COURT, clip.net_height_m).values())
    true_px = clip.project(tops)
    shown = clip.inside(true_px)
    heights, misses = [], []
    for _ in range(5):
        view = clip.fitted(*clip.noisy(rng, traced=True)).view
        heights.append(view.camera_height_m / clip.place_m[2] - 1)
        misses.append(np.hypot(*(view.project(tops) - true_px)[shown].T).max())
    assert np.sqrt(np.mean(np.square(heights))) < 0.03
    assert np.median(misses) < 3


def test_net_tops_sharpen_the_pose(clip):
    if len(clip.net) < 2:
        pytest.skip("the net's tops are not in this picture")
    rng = np.random.default_rng(8)
    marks, _ = clip.noisy(rng, traced=False)
    noisy_net = {name: tuple(rng.normal(pixel, 0.5)) for name, pixel in clip.net.items()}
    plain = clip.fitted(marks, {})
    with_net = clip.fitted({**marks, **noisy_net}, {})
    assert not with_net.net.at_odds
    assert abs(with_net.net.height_m - clip.net_height_m) < max(0.05, 3 * with_net.net.sd_m)
    height_sd = [np.sqrt(fit.view.parameter_cov[15, 15]) for fit in (plain, with_net)]
    assert height_sd[1] < 1.001 * height_sd[0]


def test_errors_and_ellipses_with_noisy_marks_and_traces(clip, measures):
    """With 1 px of noise, against the camera of the same clicks whose bend and principal point are known."""
    found = measures["measured"](clip, DRAWS, traced=True, landings=60)
    held = np.mean([end.held for end in found.values()])
    assert 0.88 <= held <= 0.99
    for end in found.values():
        assert np.median(end.errors_m) < 1.7 * np.median(end.known_m)


def test_calls_near_the_lines(clip, measures):
    calls = measures["called"](clip, 240, per_view=60)
    assert calls.wrong <= 0.01
    assert calls.too_close <= 1.15 * calls.too_close_known


@pytest.mark.parametrize("bent", [True, False])
def test_four_clicks_are_not_bent_to_their_errors(clip, bent, monkeypatch):
    """With the lens that four marks choose, landings are no further off than with none at all, and as far as told."""
    rng = np.random.default_rng(5)
    names = ("end-a/left", "end-a/right", "attack-b/left", "attack-b/right")
    floor = np.array([(x, y) for x in (-4.0, 0.0, 4.0) for y in (-8.0, -3.0, 3.0)])
    places, grid = (clip.project(points) for points in ([landmarks(COURT)[name] for name in names], floor))
    if not bent:
        places, grid = clip.lens.straighten(places), clip.lens.straighten(grid)
    ours_m, plain_m, held = [], [], []
    for _ in range(12):
        four = dict(zip(names, map(tuple, rng.normal(places, clip.size[0] / 1920)), strict=True))
        view = fit_view(four, COURT, clip.size, clip.net_height_m).view
        with monkeypatch.context() as patch:
            patch.setattr(lens_choice, "LENSES", ("none",))
            plain = fit_view(four, COURT, clip.size, clip.net_height_m).view
        located, cov = view.locate(grid, click_sd_px=0.0)
        away = (located - floor)[:, :, None]
        held.append((away.transpose(0, 2, 1) @ np.linalg.solve(cov, away)).ravel() < 5.991465)
        ours_m.append(np.hypot(*(located - floor).T))
        plain_m.append(np.hypot(*(plain.locate(grid)[0] - floor).T))
    assert np.median(ours_m) < 1.15 * np.median(plain_m)
    assert np.mean(held) > 0.9
