"""Noisy clicks simulated: the 95 % ellipse holds 93 % or more of landings by hands of one to five pixels.

Every set has a camera of its own, drawn from what `camera.adjust` says that it expects of phones. Many residuals tell
the hand, and no more than 97 to 98 % are held; few do not, and the width that a coarse hand asks for stands in.
"""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.camera.fitting import view_from_marks
from serve_marker.camera.fitting.observations import line_ends
from serve_marker.camera.fitting.usual_lenses import CENTRE_SHARE_SD, K1_SD, K2_SD
from serve_marker.camera.view.lens import Lens
from serve_marker.court.dimensions import court_named, landmarks

COURT = court_named("indoor")
SETS_PER_CASE = 50
LANDINGS_PER_SET = 24
CHI2_95 = 5.991465

FOUR = ("end-b/left", "end-b/right", "attack-a/left", "attack-a/right")
ALL = tuple(landmarks(COURT))
SPREAD = ("end-a/left", "end-a/right", "end-b/left", "end-b/right", "centre/left")
SIX_SEEN = ("end-a/right", "end-b/right", "centre/left", "attack-b/left", "attack-b/right", "attack-a/left")
CASES = [
    ("stand", ALL, (), 1.0, 0.98),
    ("stand", FOUR, (), 1.0, 1.0),
    ("stand", FOUR, (), 2.5, 1.0),
    ("stand", FOUR, (), 5.0, 1.0),
    ("low tripod", (*FOUR, "end-a/right"), (), 1.5, 1.0),
    ("stand", SPREAD, (), 5.0, 1.0),
    ("corner", ALL, (), 1.5, 0.98),
    ("side", SIX_SEEN, (), 1.0, 1.0),
    ("stand", ALL, ("attack-b", "left"), 5.0, 0.98),
]


def phone_lens(size, rng):
    centre = (np.array(size) - 1) / 2 + rng.normal(0, CENTRE_SHARE_SD * max(size), 2)
    return Lens(rng.normal(0, K1_SD), rng.normal(0, K2_SD), tuple(centre), max(size) / 2)


@pytest.mark.parametrize(("name", "chosen", "lines", "coarseness", "most"), CASES)
def test_ellipse_holds_the_truth(name, chosen, lines, coarseness, most, camera_named, monkeypatch):
    monkeypatch.setattr(view_from_marks, "warnings_of", lambda *_: [])
    camera = camera_named(name)
    size = np.array(camera.size)
    sd_px = coarseness * camera.size[0] / 1920
    places = {mark: place for mark, place in landmarks(COURT).items() if mark in chosen}
    ends = line_ends(COURT)
    on_lines = [np.linspace(ends[line][0], ends[line][1], 5)[1:-1] for line in lines]
    rng = np.random.default_rng(11)
    held: list[np.bool_] = []
    while len(held) < SETS_PER_CASE * LANDINGS_PER_SET:
        lens = phone_lens(camera.size, rng)

        def shown(points, lens=lens):
            return lens.bend(camera.project(points) + lens.centre_px - (size - 1) / 2)

        clicks = dict(zip(places, rng.normal(shown(np.array(list(places.values()))), sd_px).tolist(), strict=True))
        marks = {mark: tuple(px) for mark, px in clicks.items() if (np.array(px) > 0).all() and (px < size - 1).all()}
        if len(marks) < 4:
            continue
        points = [rng.normal(shown(np.column_stack([line, np.zeros(3)])), sd_px) for line in on_lines]
        traces = {line: tuple(map(tuple, three.tolist())) for line, three in zip(lines, points, strict=True)}
        view = view_from_marks.fit_view(marks, COURT, camera.size, 2.24, traces).view
        truth_m = rng.uniform((-4.5, -9), (4.5, 9), (LANDINGS_PER_SET, 2))
        seen = shown(np.column_stack([truth_m, np.zeros(LANDINGS_PER_SET)]))
        xy_m, cov_m2 = view.locate(rng.normal(seen, sd_px))
        away = (xy_m - truth_m)[:, :, None]
        held.extend((away.transpose(0, 2, 1) @ np.linalg.solve(cov_m2, away)).ravel() < CHI2_95)
    assert 0.93 <= np.mean(held) <= most
