"""The lens chosen keeps the doubt about the lenses not chosen."""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.camera.fitting.bundle_adjustment import adjust
from serve_marker.camera.fitting.hand import Hand
from serve_marker.camera.fitting.lens_choice import choose_camera, known_of, middle_of
from serve_marker.camera.fitting.observations import of_marks
from serve_marker.camera.view.homography import solve_homography
from serve_marker.camera.view.lens import Lens
from serve_marker.camera.view.model import from_homography
from serve_marker.court.dimensions import court_named, landmarks


@pytest.mark.parametrize("seed", [18, 20])
def test_the_richest_lens_lies_within_the_doubt_of_the_simpler_one_chosen(camera_named, seed):
    """Of a bent picture without its bend: a second moment C + d d' about the chosen has d' (C + d d')^-1 d below 1.

    (J. Sherman and W. J. Morrison, Ann. Math. Stat. 21:124, 1950: it is q / (1 + q) where q = d' C^-1 d.)
    """
    camera = camera_named("low tripod")
    rng = np.random.default_rng(seed)
    lens = Lens(rng.choice([-0.12, -0.06, 0.06]), 0.0, middle_of(camera.size), max(camera.size) / 2)
    places_m = np.array(list(landmarks(court_named("indoor")).values()))
    pixels = rng.normal(lens.bend(camera.project(places_m)), 1.0)
    shown = ((pixels > 0) & (pixels < np.array(camera.size) - 1)).all(axis=1)
    places_m, pixels = places_m[shown], pixels[shown]
    seen = of_marks(places_m, pixels, np.ones(len(pixels)))
    straight = Lens(0.0, 0.0, lens.centre_px, lens.scale_px)
    start = from_homography(solve_homography(places_m[:, :2], pixels), camera.focal_px, straight)
    assert start is not None
    choice = choose_camera(start, seen, camera.size, Hand(0.0, 0.0, 1.0))
    assert choice.lens_model == "none"
    away = choice.camera.step_to(adjust(choice.camera, choice.seen, known_of(camera.size)).camera)
    assert away @ np.linalg.solve(choice.cov, away) < 1
