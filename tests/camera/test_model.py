"""The camera's derivatives and steps, and that every further fit expects the principal point where the first did."""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.camera.fitting.bundle_adjustment import Known, adjust
from serve_marker.camera.fitting.lens_choice import middle_of
from serve_marker.camera.fitting.observations import of_marks
from serve_marker.camera.fitting.usual_lenses import CENTRE_SHARE_SD
from serve_marker.camera.view.lens import Lens
from serve_marker.camera.view.model import CameraModel, turn
from serve_marker.court.dimensions import court_named, landmarks

SIZE = (1280, 720)
CAMERA = CameraModel(
    900.0,
    turn(np.array([np.pi / 2 + 0.25, 0.0, 0.0])).T,
    np.array([0.5, -16.0, 4.0]),
    Lens(-0.05, 0.005, (642.0, 356.0), 640.0),
)
PLACES = np.array(list(landmarks(court_named("indoor")).values()))
STEP = np.array([0.01, 0.002, -0.003, 0.001, 0.1, -0.2, 0.05, 1.0, -2.0, 0.01, -0.002])


def test_a_step_leads_to_the_other_camera():
    assert CAMERA.step_to(CAMERA.moved(STEP)) == pytest.approx(STEP, abs=1e-7)


def test_derivatives_are_those_of_small_steps():
    _, jacobian, _ = CAMERA.derivatives(PLACES)
    for k, size in enumerate([1e-6] * 4 + [1e-5] * 3 + [1e-3] * 2 + [1e-6] * 2):
        step = np.zeros(11)
        step[k] = size
        by_steps = (CAMERA.moved(step).shown(PLACES) - CAMERA.moved(-step).shown(PLACES)) / (2 * size)
        np.testing.assert_allclose(jacobian[:, :, k], by_steps, rtol=1e-4, atol=1e-3)


def test_the_middle_stays_expected_from_whatever_camera_a_fit_starts():
    """Fitted again from where it ended, a camera stays there; its principal point is not drawn further off."""
    seen = of_marks(PLACES, CAMERA.shown(PLACES), np.full(len(PLACES), 2.0))
    known = Known(middle_of(SIZE), CENTRE_SHARE_SD * max(SIZE), 0.06, 0.012, 0.0)
    first = adjust(CAMERA, seen, known).camera
    again = adjust(first, seen, known).camera
    assert again.lens.centre_px == pytest.approx(first.lens.centre_px, abs=0.01)
    assert np.hypot(*np.subtract(first.lens.centre_px, middle_of(SIZE))) < np.hypot(2.5, 3.5)
