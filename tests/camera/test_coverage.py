"""Noisy clicks simulated 4,000 times: the 95 % ellipse holds the truth in 93-97 % of them."""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.camera import fit
from serve_marker.court.dimensions import court_named, landmarks

COURT = court_named("indoor")
SETS_PER_CASE = 800
CHI2_95 = 5.991465

FOUR = ("end-b/left", "end-b/right", "attack-a/left", "attack-a/right")
CASES = [
    ("stand", tuple(landmarks(COURT))),
    ("stand", FOUR),
    ("low tripod", ("end-b/left", "end-b/right", "attack-a/left", "attack-a/right", "end-a/right")),
    ("corner", tuple(landmarks(COURT))),
    ("side", ("end-a/right", "end-b/right", "centre/left", "attack-b/left", "attack-b/right", "attack-a/left")),
]


@pytest.mark.parametrize(("name", "chosen"), CASES)
def test_ellipse_holds_the_truth(name, chosen, camera_named, monkeypatch):
    monkeypatch.setattr(fit, "warnings_of", lambda *_: [])
    camera = camera_named(name)
    monkeypatch.setattr(fit, "camera_position", lambda *_: camera.place_m)
    sd_px = camera.size[0] / 1920
    exact = {mark: pixel for mark, pixel in camera.marks(landmarks(COURT)).items() if mark in chosen}
    rng = np.random.default_rng(11)
    truth_m = rng.uniform((-4.5, -9), (4.5, 9), (SETS_PER_CASE, 2))
    seen = camera.project(np.column_stack([truth_m, np.zeros(SETS_PER_CASE)]))
    held = []
    for point, pixel in zip(truth_m, seen, strict=True):
        marks = {mark: tuple(rng.normal(place, sd_px)) for mark, place in exact.items()}
        view = fit.fit_view(marks, COURT, camera.size, 2.24).view
        xy_m, cov_m2 = view.locate(rng.normal(pixel, sd_px)[None])
        away = xy_m[0] - point
        held.append(away @ np.linalg.solve(cov_m2[0], away) < CHI2_95)
    assert 0.93 <= np.mean(held) <= 0.97
