import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import stats

from serve_marker.study.spread import bias, circle_radius, spread

EBDON = np.array([(1, 2), (2, 3), (2, 2), (2, 1), (3, 4), (3, 3), (3, 1), (4, 4)], dtype=float)
TWELVE = np.array(
    [
        *[(66.22, 32.54), (22.52, 22.39), (31.01, 81.21), (9.47, 31.02), (30.78, 60.10), (75.21, 58.93)],
        *[(79.26, 7.68), (8.23, 39.93), (98.73, 77.17), (89.78, 42.53), (65.19, 92.08), (54.46, 8.48)],
    ]
)
HARTER = {
    0.50: [0.67449, 0.68199, 0.70585, 0.74994, 0.80785, 0.87042, 0.93365, 0.99621, 1.05769, 1.11807, 1.17741],
    0.95: [1.95996, 1.96253, 1.97041, 1.98420, 2.00514, 2.03586, 2.08130, 2.14598, 2.23029, 2.33180, 2.44775],
}
POINTS = arrays(float, st.tuples(st.integers(2, 30), st.just(2)), elements=st.floats(-20, 20, allow_subnormal=False))


@pytest.mark.parametrize(
    ("share", "tenth", "factor"),
    [(share, tenth, factor) for share, row in HARTER.items() for tenth, factor in enumerate(row)],
)
def test_the_circle_that_holds_a_share_gives_harters_table(share, tenth, factor):
    """H. L. Harter, JASA 55:723 (1960), recomputed by quadrature."""
    assert circle_radius(share, 1.0, tenth / 10) == pytest.approx(factor, abs=1e-4)


def test_ebdons_teaching_set():
    """D. Ebdon, Statistics in Geography (1985), as shipped with the tests of pointpats."""
    found = spread(EBDON)
    assert found.centre_m == pytest.approx([2.5, 2.5])
    assert found.bivariate_error_m == pytest.approx(1.4142136, abs=1e-6)
    assert found.covariance_m2 == pytest.approx(np.array([[0.857143, 0.571429], [0.571429, 1.428571]]), abs=1e-6)
    assert found.half_radius_m == pytest.approx(1.188756, abs=1e-5)
    assert np.array(found.half_axes_m) / math.sqrt(2 * math.log(2)) == pytest.approx([1.334816, 0.709916], abs=1e-6)


def test_twelve_points_of_pointpats():
    """The documentation set of pointpats 2.5.5."""
    found = spread(TWELVE)
    assert found.centre_m == pytest.approx([52.571667, 46.171667], abs=1e-6)
    assert found.bivariate_error_m == pytest.approx(40.149806489, abs=1e-8)
    assert found.half_radius_m == pytest.approx(34.709066, abs=1e-4)


def test_radial_errors_of_a_worked_example():
    """Radii 4.2426, 3.1623, 3.1623, 2.8284 about the target: mean 3.348906 (worked by hand)."""
    points = np.array([(3, 3), (3, 1), (1, 3), (2, 2)], dtype=float)
    found = bias(points, np.zeros((4, 2)))
    assert found.mean_radial_error_m == pytest.approx(3.348906, abs=1e-6)
    assert found.distance_m == pytest.approx(3.181981, abs=1e-6)


def test_radial_errors_of_the_twelve_points():
    found = bias(TWELVE, np.full((12, 2), 50.0))
    assert found.mean_radial_error_m == pytest.approx(39.142667, abs=1e-5)
    assert found.distance_m == pytest.approx(4.611898, abs=1e-5)


@given(POINTS)
def test_mean_square_is_bias_square_plus_scatter_square(points_m):
    """Hancock, Butler and Fischman, J. Motor Behav. 27:241 (1995)."""
    about_aim = bias(points_m, np.full_like(points_m, 3.0))
    mean_square = float(((points_m - 3.0) ** 2).sum(axis=1).mean())
    assert about_aim.distance_m**2 + spread(points_m).bivariate_error_m ** 2 == pytest.approx(mean_square, abs=1e-6)


def test_the_interval_of_the_bias_is_students():
    misses = EBDON - 3.0
    found = bias(EBDON, np.full_like(EBDON, 3.0))
    low, high = stats.ttest_1samp(misses[:, 1], 0.0).confidence_interval(0.95)
    assert (found.long_low_m, found.long_high_m) == pytest.approx((low, high))


def test_signs_are_the_servers_right_and_long():
    found = bias(np.array([[2.0, 7.0], [2.2, 7.2]]), np.array([[1.5, 7.5], [1.5, 7.5]]))
    assert found.right_m == pytest.approx(0.6)
    assert found.long_m == pytest.approx(-0.4)


def test_half_of_a_normal_scatter_lies_in_the_ellipse_and_in_the_circle():
    points = np.random.default_rng(7).multivariate_normal([4, 6], [[1.5, 0.4], [0.4, 0.3]], 20_000)
    found = spread(points)
    out = points - found.centre_m
    squared = np.einsum("ni,ij,nj->n", out, np.linalg.inv(found.covariance_m2), out)
    assert (squared < 2 * math.log(2)).mean() == pytest.approx(0.5, abs=0.01)
    assert (np.hypot(*out.T) < found.half_radius_m).mean() == pytest.approx(0.5, abs=0.01)


def test_unknown_places_are_left_out_and_nothing_is_told_of_nothing():
    gone = np.full((3, 2), np.nan)
    assert spread(np.vstack([EBDON, gone])).n == 8
    assert spread(gone).n == 0
    assert math.isnan(bias(gone, gone).distance_m)
    assert math.isnan(bias(np.array([[1.0, 2.0]]), np.array([[1.0, 1.0]])).long_low_m)


def test_serves_on_one_spot_have_no_spread():
    assert spread(np.tile([3.0, 8.0], (6, 1))).half_radius_m == 0.0
