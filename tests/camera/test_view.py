"""The floor to the picture and back: horizon, the pose's agreement with the floor, errors that grow with distance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.view import View, default_click_sd_px, longer_half_axis_m
from serve_marker.court.dimensions import court_named, landmarks

COURT = court_named("indoor")


@pytest.fixture
def view(camera):
    return fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view


def test_default_click_is_one_pixel_in_1920():
    assert default_click_sd_px((1920, 1080)) == 1
    assert default_click_sd_px((1280, 720)) == pytest.approx(2 / 3)


def test_points_on_the_floor_agree_with_points_at_height_zero(view):
    floor = np.random.default_rng(2).uniform(-4, 8, (50, 2))
    np.testing.assert_allclose(
        view.project(floor), view.project(np.column_stack([floor, np.zeros(50)])), rtol=1e-12, equal_nan=True
    )


def test_pixels_above_the_horizon_tell_nothing(view):
    width, _ = view.image_size
    xy_m, cov_m2 = view.locate([(width / 2, -300.0)])
    assert np.isnan(xy_m).all()
    assert np.isnan(cov_m2).all()


def test_points_behind_the_camera_have_no_pixel(view):
    x_m, y_m, z_m = view.camera_position_m
    assert np.isnan(view.project([(3 * x_m, 3 * y_m)])).all()
    assert np.isnan(view.project([(3 * x_m, 3 * y_m, z_m)])).all()


def test_error_grows_with_distance(camera_named):
    camera = camera_named("stand")
    view = fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view
    errors = view.floor_error_m([(0.0, y) for y in (-9.0, -3.0, 3.0, 9.0)])
    assert (np.diff(errors) > 0).all()
    told = view.expected_error_m()
    assert told["end_a"] == pytest.approx(errors[0])
    assert told["end_b"] == pytest.approx(errors[3])
    assert told["worst"] >= told["end_b"]


def test_a_careless_click_has_the_larger_error(view):
    pixels = view.project([(1.0, 5.0)])
    careful, careless = (longer_half_axis_m(view.locate(pixels, sd)[1])[0] for sd in (0.5, 3.0))
    assert careless > 2 * careful


@given(st.floats(0.001, 4), st.floats(0.001, 4), st.floats(-0.99, 0.99))
def test_half_axis_is_the_largest_eigenvalue(var_x, var_y, correlation):
    cov = np.array([[var_x, 0], [0, var_y]])
    cov[0, 1] = cov[1, 0] = correlation * np.sqrt(var_x * var_y)
    # 2.4477 standard deviations hold 95 % of a normal distribution in the plane (CEP of a circular normal).
    expected = 2.447747 * np.sqrt(np.linalg.eigvalsh(cov)[1])
    assert longer_half_axis_m(cov[None])[0] == pytest.approx(expected, rel=1e-6)


def test_low_tripod_depth_error_per_pixel(camera_named):
    """Depth error per pixel is Z^2 / (f H) for a level camera: facts on low tripods; here Z 12 m, H 2 m."""
    camera = camera_named("low tripod")
    view = fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view
    (near, far), _ = view.locate(np.add(view.project([(1.0, -3.0)]), [(0.0, 0.5), (0.0, -0.5)]))
    assert far[1] - near[1] == pytest.approx(12**2 / (1300 * 2), rel=0.05)


def test_shapes_are_named(view):
    with pytest.raises(ValueError, match=r"\(N, 2\)"):
        view.locate([1.0, 2.0])
    with pytest.raises(ValueError, match=r"\(N, 3\)"):
        view.project(np.zeros((2, 4)))
    with pytest.raises(ValueError, match=r"\(9, 9\)"):
        View(COURT, (100, 100), 2.24, np.eye(3), np.eye(8), {}, 0.0, 0.0, None)


def test_a_pixel_no_surer_below_the_horizon_than_its_click_tells_nothing(camera_named):
    """A floor point 100 km away is seen a hundredth of a pixel below the horizon."""
    camera = camera_named("stand")
    view = fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view
    assert np.isnan(view.locate(view.project([(0.0, 1e5)]))[0]).all()
    assert np.isfinite(view.locate(view.project([(0.0, 30.0)]))[0]).all()


def test_the_marks_misfit_counts_as_a_coarser_click(view):
    """Independent deviations add by their squares: 0.9 and 1.2 px make 1.5 px."""
    pixels = view.project([(1.0, 5.0)])
    with_misfit = replace(view, misfit_sd_px=1.2).locate(pixels, 0.9)[1]
    assert with_misfit == pytest.approx(replace(view, misfit_sd_px=0.0).locate(pixels, 1.5)[1], rel=1e-9)
