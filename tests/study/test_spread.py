"""Spread and bias against published point sets, tables, scipy and statsmodels on the same points."""

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import stats
from scipy.spatial.distance import cdist
from statsmodels.stats.multivariate import test_mvmean as mean_test
from statsmodels.stats.weightstats import DescrStatsW

from serve_marker.study.pull import bias
from serve_marker.study.spread import circle_radius, prediction_factor, prediction_radius, spread

EBDON = np.array([(1, 2), (2, 3), (2, 2), (2, 1), (3, 4), (3, 3), (3, 1), (4, 4)], dtype=float)
TWELVE = np.array(
    [
        *[(66.22, 32.54), (22.52, 22.39), (31.01, 81.21), (9.47, 31.02), (30.78, 60.10), (75.21, 58.93)],
        *[(79.26, 7.68), (8.23, 39.93), (98.73, 77.17), (89.78, 42.53), (65.19, 92.08), (54.46, 8.48)],
    ]
)
WORKED = np.array([(3, 3), (3, 1), (1, 3), (2, 2)], dtype=float)
HARTER = {
    0.50: [0.67449, 0.68199, 0.70585, 0.74994, 0.80785, 0.87042, 0.93365, 0.99621, 1.05769, 1.11807, 1.17741],
    0.90: [1.64485, 1.64791, 1.65731, 1.67383, 1.69918, 1.73708, 1.79152, 1.86253, 1.94716, 2.04236, 2.14597],
    0.95: [1.95996, 1.96253, 1.97041, 1.98420, 2.00514, 2.03586, 2.08130, 2.14598, 2.23029, 2.33180, 2.44775],
    0.99: [2.57583, 2.57778, 2.58377, 2.59421, 2.60995, 2.63257, 2.66533, 2.71505, 2.79069, 2.89743, 3.03485],
}
# n, prediction circle of 50 and of 95 of 100, prediction ellipse and ellipse of the mean of 95 of 100, each in
# deviations: computed with scipy's F quantiles; simulation of 100,000 sets gives 95.0 to 95.1 of 100 for the circle.
FEW = [
    (5, 1.34773, 3.27132, 5.52872, 2.25709),
    (10, 1.25904, 2.79643, 3.32204, 1.00163),
    (20, 1.21757, 2.61039, 2.80700, 0.61254),
    (50, 1.19334, 2.51037, 2.57773, 0.36095),
]
DIGITS = 5e-6
POINTS = arrays(float, st.tuples(st.integers(2, 30), st.just(2)), elements=st.floats(-20, 20, allow_subnormal=False))


def scatter(seed, count=None):
    """Points (N, 2) of a normal scatter with unequal, turned axes."""
    rng = np.random.default_rng(seed)
    return rng.normal(size=(count or int(rng.integers(3, 40)), 2)) @ rng.normal(size=(2, 2)) + rng.uniform(-9, 9, 2)


def unit_scatter(count):
    """Points (count, 2) whose covariance is exactly 1 along either axis."""
    points = np.random.default_rng(count).normal(size=(count, 2))
    points -= points.mean(axis=0)
    return points @ np.linalg.inv(np.linalg.cholesky(np.cov(points, rowvar=False))).T


def held_by_circle(radius, longer, shorter):
    """Share of a normal scatter inside a circle, by Marcum's Q as scipy's non-central chi-square has it."""
    far, near = radius / 2 * (1 / shorter + 1 / longer), radius / 2 * (1 / shorter - 1 / longer)
    return stats.ncx2.sf(near**2, 2, far**2) - stats.ncx2.sf(far**2, 2, near**2)


@pytest.mark.parametrize(
    ("share", "tenth", "factor"),
    [(share, tenth, factor) for share, row in HARTER.items() for tenth, factor in enumerate(row)],
)
def test_the_circle_that_holds_a_share_gives_harters_table(share, tenth, factor):
    """H. L. Harter, JASA 55:723 (1960), recomputed by quadrature."""
    assert circle_radius(share, 1.0, tenth / 10) == pytest.approx(factor, abs=DIGITS)


@pytest.mark.parametrize(("share", "factor"), [(0.5, 1.177410), (0.9, 2.145966), (0.95, 2.447747), (0.99, 3.034854)])
def test_a_scatter_equal_to_all_sides_is_rayleighs(share, factor):
    assert circle_radius(share, 1.0, 1.0) == pytest.approx(factor, abs=5e-7)
    assert circle_radius(share, 1.0, 1.0) == pytest.approx(stats.rayleigh.ppf(share), rel=1e-12)


@settings(max_examples=40)
@example(0.5, 0.0002, 1.0)
@example(0.5, 0.003, 1.0)
@example(0.5, 0.03, 1.0)
@example(0.95, 0.11, 1.0)
@given(st.floats(0.05, 0.999), st.floats(0.001, 0.999), st.floats(0.01, 30.0))
def test_the_circle_holds_its_share_by_scipy(share, ratio, longer):
    """Below 1 : 500 the scatter is taken as a line, which is off by 2 in a million."""
    held = held_by_circle(circle_radius(share, longer, ratio * longer), longer, ratio * longer)
    assert held == pytest.approx(share, abs=1e-10 if ratio >= 0.002 else 1e-5)


def test_ebdons_teaching_set():
    """D. Ebdon, Statistics in Geography (1985), as shipped with the tests of pointpats; the rest computed from it."""
    found = spread(EBDON)
    sds = np.array(found.half_axes_m) / math.sqrt(2 * math.log(2))
    assert found.centre_m == pytest.approx([2.5, 2.5])
    assert found.bivariate_error_m == pytest.approx(1.4142136, abs=5e-8)
    assert found.covariance_m2 == pytest.approx(np.array([[0.857143, 0.571429], [0.571429, 1.428571]]), abs=5e-7)
    assert found.half_radius_m == pytest.approx(1.188756, abs=5e-7)
    assert circle_radius(0.95, *sds) == pytest.approx(2.734315, abs=5e-7)
    assert sds == pytest.approx([1.334816, 0.709916], abs=5e-7)
    assert found.mean_half_axes_m == pytest.approx((1.634872, 0.869499), abs=5e-7)


def test_twelve_points_of_pointpats():
    """The documentation set of pointpats 2.5.5, whose ellipse has sqrt(2 (n - 1) / (n - 2)) times the deviations."""
    found = spread(TWELVE)
    sds = np.array(found.half_axes_m) / math.sqrt(2 * math.log(2))
    assert found.centre_m == pytest.approx([52.571667, 46.171667], abs=5e-7)
    assert found.bivariate_error_m == pytest.approx(40.149806489, abs=5e-10)
    assert sds * math.sqrt(2 * 11 / 10) == pytest.approx([47.945446, 39.623868], abs=5e-7)
    assert found.half_radius_m == pytest.approx(34.709066, abs=5e-7)
    assert circle_radius(0.95, *sds) == pytest.approx(72.910899, abs=5e-7)


def test_radial_errors_of_a_worked_example():
    """Radii 4.2426, 3.1623, 3.1623, 2.8284 about the target: mean 3.348906 (worked by hand)."""
    found = bias(WORKED, np.zeros((4, 2)))
    assert found.mean_radial_error_m == pytest.approx(3.348906, abs=5e-7)
    assert found.distance_m == pytest.approx(3.181981, abs=5e-7)
    assert spread(WORKED).bivariate_error_m == pytest.approx(1.172604, abs=5e-7)
    assert math.hypot(found.distance_m, spread(WORKED).bivariate_error_m) == pytest.approx(3.391165, abs=5e-7)


def test_radial_errors_of_the_twelve_points():
    found = bias(TWELVE, np.full((12, 2), 50.0))
    assert found.mean_radial_error_m == pytest.approx(39.142667, abs=5e-7)
    assert found.distance_m == pytest.approx(4.611898, abs=5e-7)
    assert found.distance_m**2 + spread(TWELVE).bivariate_error_m ** 2 == pytest.approx(1633.276567, abs=5e-7)


@given(POINTS)
def test_mean_square_is_bias_square_plus_scatter_square(points_m):
    """Hancock, Butler and Fischman, J. Motor Behav. 27:241 (1995)."""
    about_aim = bias(points_m, np.full_like(points_m, 3.0))
    mean_square = float(((points_m - 3.0) ** 2).sum(axis=1).mean())
    assert about_aim.distance_m**2 + spread(points_m).bivariate_error_m ** 2 == pytest.approx(mean_square, abs=1e-6)


@given(POINTS)
def test_centre_scatter_and_distances_are_scipys_and_statsmodels(points_m):
    found, lean = spread(points_m), bias(points_m, np.full_like(points_m, 3.0))
    theirs = DescrStatsW(points_m, ddof=1)
    assert found.centre_m == pytest.approx(theirs.mean, abs=1e-9)
    assert found.covariance_m2 == pytest.approx(theirs.cov, abs=1e-9)
    about_centre_m = cdist(points_m, points_m.mean(axis=0)[None])
    assert found.bivariate_error_m == pytest.approx(np.sqrt(np.mean(about_centre_m**2)), abs=1e-9)
    assert lean.mean_radial_error_m == pytest.approx(cdist(points_m, [[3.0, 3.0]]).mean(), abs=1e-9)
    assert lean.distance_m == pytest.approx(cdist([theirs.mean], [[3.0, 3.0]]).item(), abs=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_the_intervals_of_the_bias_are_students(seed):
    """scipy's one-sample t interval, for either axis."""
    points = scatter(seed)
    found = bias(points, np.full_like(points, 3.0))
    theirs = stats.ttest_1samp(points - 3.0, 0.0).confidence_interval(0.95)
    assert (found.right_low_m, found.long_low_m) == pytest.approx(theirs.low)
    assert (found.right_high_m, found.long_high_m) == pytest.approx(theirs.high)


@pytest.mark.parametrize(("count", "half", "most", "next_95", "mean_95"), FEW)
def test_few_landings_reach_further(count, half, most, next_95, mean_95):
    found = spread(unit_scatter(count))
    assert (found.next_half_m, found.next_most_m) == pytest.approx((half, most), abs=DIGITS)
    assert prediction_radius(0.5, np.eye(2), count) == pytest.approx(half, abs=DIGITS)
    assert prediction_factor(0.95, count) == pytest.approx(next_95, abs=DIGITS)
    assert found.mean_half_axes_m == pytest.approx((mean_95, mean_95), abs=DIGITS)


@pytest.mark.parametrize("seed", range(5))
def test_the_circle_of_the_next_serve_is_of_the_mean_square_deviation(seed):
    """s^2 is half the trace: the mean of both axes' variances, with 2 (n - 1) degrees of freedom."""
    points = scatter(seed)
    s, count = math.sqrt(points.var(axis=0, ddof=1).mean()), len(points)
    for share, radius in ((0.5, spread(points).next_half_m), (0.95, spread(points).next_most_m)):
        quantile = stats.f.ppf(share, 2, 2 * (count - 1))
        assert radius == pytest.approx(s * math.sqrt(2 * (1 + 1 / count) * quantile))


@pytest.mark.parametrize("count", [5, 20])
def test_the_next_serve_lands_inside_as_often_as_said(count):
    """20,000 practices: chance alone is off by less than 0.005 in 997 of 1000 cases."""
    rng = np.random.default_rng(count)
    before, following = rng.normal(0, 1.3, (20_000, count, 2)), rng.normal(0, 1.3, (20_000, 2))
    off = following - before.mean(axis=1)
    radius = np.sqrt(before.var(axis=1, ddof=1).mean(axis=1)) * prediction_radius(0.95, np.eye(2), count)
    assert np.mean(np.hypot(*off.T) <= radius) == pytest.approx(0.95, abs=0.005)
    from_mean = before - before.mean(axis=1, keepdims=True)
    covariances = from_mean.transpose(0, 2, 1) @ from_mean / (count - 1)
    within = np.einsum("ni,nij,nj->n", off, np.linalg.inv(covariances), off)
    assert np.mean(within <= prediction_factor(0.95, count) ** 2) == pytest.approx(0.95, abs=0.005)


@pytest.mark.parametrize("seed", range(10))
def test_the_ellipse_of_the_mean_is_hotellings(seed):
    """A mean on the border of the ellipse has p = 0.05 by statsmodels' own test, on either axis."""
    points = scatter(seed)
    found = spread(points)
    shorter, longer = np.linalg.eigh(found.covariance_m2)[1].T
    for half_axis_m, along in zip(found.mean_half_axes_m, (longer, shorter), strict=True):
        assert mean_test(points, found.centre_m + half_axis_m * along).pvalue == pytest.approx(0.05)


def test_two_landings_predict_nothing():
    found = spread(np.array([[1.0, 2.0], [2.0, 3.0]]))
    assert np.isnan([found.next_most_m, *found.mean_half_axes_m, prediction_factor(0.95, 2)]).all()


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
