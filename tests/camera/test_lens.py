"""The lens's bend against OpenCV, its inverse everywhere, its derivatives, and its way through a view."""

from __future__ import annotations

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.lens import Lens
from serve_marker.camera.view.viewfile import VERSION, view_from_text, view_to_text
from serve_marker.court.dimensions import court_named, landmarks
from serve_marker.logbook.health import VIEW_DOCUMENT_VERSIONS

COURT = court_named("indoor")
CENTRE = (640.0, 360.0)
BARREL = Lens(-0.11, 0.02, CENTRE, 900.0)
PIXELS = np.random.default_rng(4).uniform((0, 0), (1280, 720), (60, 2))


@pytest.mark.parametrize("lens", [BARREL, Lens(0.05, 0.0, CENTRE, 640.0), Lens(-0.09, 0.01, CENTRE, 640.0)])
def test_bend_is_opencv_s(lens):
    K = np.array([[lens.scale_px, 0, CENTRE[0]], [0, lens.scale_px, CENTRE[1]], [0, 0, 1.0]])
    rays = np.column_stack([(PIXELS - CENTRE) / lens.scale_px, np.ones(len(PIXELS))])
    theirs, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), K, np.array([lens.k1, lens.k2, 0, 0]))
    np.testing.assert_allclose(lens.bend(PIXELS), theirs.reshape(-1, 2), atol=1e-9)


@example(0.244140625, -0.0042941238410384094, -1952.0, -1953.0)
@given(st.floats(-0.3, 0.3), st.floats(-0.05, 0.05), st.floats(-5000, 5000), st.floats(-5000, 5000))
def test_straighten_undoes_bend_everywhere(k1, k2, x_px, y_px):
    lens = Lens(k1, k2, CENTRE, 640.0)
    point = np.array([(x_px, y_px)])
    np.testing.assert_allclose(lens.straighten(lens.bend(point)), point, atol=1e-5)


def test_points_far_outside_do_not_fold_back():
    along = np.column_stack([np.linspace(0, 20000, 400), np.full(400, 100.0)])
    assert (np.diff(Lens(-0.2, 0.0, CENTRE, 640.0).bend(along)[:, 0]) > 0).all()


def test_derivatives_match_differences():
    step = 1e-4
    differences = [(BARREL.bend(PIXELS + d) - BARREL.bend(PIXELS - d)) / (2 * step) for d in step * np.eye(2)]
    np.testing.assert_allclose(BARREL.bend_jacobian(PIXELS), np.stack(differences, axis=2), atol=1e-6)
    values = np.array([BARREL.k1, BARREL.k2, *BARREL.centre_px])
    by_parameter = []
    for k, small in enumerate((1e-6, 1e-6, 1e-3, 1e-3)):
        lenses = [Lens(v[0], v[1], (v[2], v[3]), 900.0) for v in (values + small * s * np.eye(4)[k] for s in (1, -1))]
        by_parameter.append((lenses[0].bend(PIXELS) - lenses[1].bend(PIXELS)) / (2 * small))
    np.testing.assert_allclose(BARREL.parameter_jacobian(PIXELS), np.stack(by_parameter, axis=2), atol=1e-4)


@pytest.fixture
def bent(camera_named):
    camera = camera_named("stand")
    view = fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view
    return replace(view, lens=Lens(-0.08, 0.01, (959.5, 539.5), 960.0), rest_cov=np.diag(np.arange(16.0))[9:] * 1e-12)


def test_a_bent_view_goes_there_and_back(bent):
    floor = np.random.default_rng(1).uniform((-4.5, -9), (4.5, 9), (40, 2))
    xy_m, _ = bent.locate(bent.project(floor))
    np.testing.assert_allclose(xy_m, floor, atol=1e-6)
    straight = replace(bent, lens=Lens())
    assert np.hypot(*(bent.project(floor) - straight.project(floor)).T).max() > 5


def test_covariance_goes_through_the_lens(bent):
    """Against differences of the located point by the pixel."""
    pixel, step, sd_px = bent.project([(2.0, 4.0)]), 1e-3, 0.7
    sure = replace(bent, homography_cov=np.zeros((9, 9)), rest_cov=np.zeros((7, 16)))
    columns = [(sure.locate(pixel + d)[0] - sure.locate(pixel - d)[0])[0] / (2 * step) for d in step * np.eye(2)]
    J = np.column_stack(columns)
    np.testing.assert_allclose(sure.locate(pixel, sd_px)[1][0], sd_px**2 * J @ J.T, rtol=1e-5)


def test_a_bent_view_survives_its_file(bent):
    again = view_from_text(view_to_text(bent))
    assert again.lens == bent.lens
    np.testing.assert_array_equal(again.parameter_cov, bent.parameter_cov)
    assert view_to_text(again) == view_to_text(bent)


def test_views_of_version_1_are_read_as_straight(bent):
    plain = json.loads(view_to_text(bent))
    for later in ("lens", "rest_cov", "focal_px"):
        del plain[later]
    old = view_from_text(json.dumps(plain | {"version": 1}))
    assert not old.lens.bends
    np.testing.assert_array_equal(old.homography, bent.homography)


def test_the_logbook_accepts_what_is_read_here():
    assert tuple(range(1, VERSION + 1)) == VIEW_DOCUMENT_VERSIONS


def test_a_raised_plane_is_the_camera_s_view_of_it(camera_named):
    """Height 0.105 m: each point (x, y, 0.105) is seen where the raised view has (x, y)."""
    camera = camera_named("low tripod")
    view = fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view
    floor = np.random.default_rng(1).uniform((-4.5, -6), (4.5, 9), (20, 2))
    seen = camera.project(np.column_stack([floor, np.full(20, 0.105)]))
    np.testing.assert_allclose(view.raised(0.105).locate(seen)[0], floor, atol=0.01)
    with pytest.raises(ValueError, match="above"):
        view.raised(5.0)
