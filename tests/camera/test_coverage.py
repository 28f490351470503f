"""Noisy clicks simulated: the 95 % ellipse holds 93-97 % of 4,000 landings, eight through each set of clicks."""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.camera import fit
from serve_marker.court.dimensions import court_named, landmarks

COURT = court_named("indoor")
SETS_PER_CASE = 100
LANDINGS_PER_SET = 8
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
    sd_px = camera.size[0] / 1920
    exact = {mark: pixel for mark, pixel in camera.marks(landmarks(COURT)).items() if mark in chosen}
    rng = np.random.default_rng(11)
    held = []
    for _ in range(SETS_PER_CASE):
        marks = {mark: tuple(rng.normal(place, sd_px)) for mark, place in exact.items()}
        view = fit.fit_view(marks, COURT, camera.size, 2.24).view
        truth_m = rng.uniform((-4.5, -9), (4.5, 9), (LANDINGS_PER_SET, 2))
        seen = camera.project(np.column_stack([truth_m, np.zeros(LANDINGS_PER_SET)]))
        xy_m, cov_m2 = view.locate(rng.normal(seen, sd_px))
        away = (xy_m - truth_m)[:, :, None]
        held.extend((away.transpose(0, 2, 1) @ np.linalg.solve(cov_m2, away)).ravel() < CHI2_95)
    assert 0.93 <= np.mean(held) <= 0.97
