"""Robust centre and stray landings against other programs' results, and small-sample radii against tables."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from serve_marker.study.robust import robust_spread
from serve_marker.study.spread import GROUPS, prediction_radius, spread, spread_by
from serve_marker.study.table import serve_table

TEMPERATURE = (
    *(4.37, 4.56, 4.26, 4.56, 4.30, 4.46, 3.84, 4.57, 4.26, 4.37, 3.49, 4.43, 4.48, 4.01, 4.29, 4.42, 4.23, 4.42),
    *(4.23, 3.49, 4.29, 4.29, 4.42, 4.49, 4.38, 4.42, 4.29, 4.38, 4.22, 3.48, 4.38, 4.56, 4.45, 3.49, 4.23, 4.62),
    *(4.53, 4.45, 4.53, 4.43, 4.38, 4.45, 4.50, 4.45, 4.55, 4.45, 4.42),
)
LIGHT = (
    *(5.23, 5.74, 4.93, 5.74, 5.19, 5.46, 4.65, 5.27, 5.57, 5.12, 5.73, 5.45, 5.42, 4.05, 4.26, 4.58, 3.94, 4.18),
    *(4.18, 5.89, 4.38, 4.22, 4.42, 4.85, 5.02, 4.66, 4.66, 4.90, 4.39, 6.05, 4.42, 5.10, 5.22, 6.29, 4.34, 5.62),
    *(5.10, 5.22, 5.18, 5.57, 4.62, 5.06, 5.34, 5.34, 5.54, 4.98, 4.50),
)
STARS = np.column_stack([TEMPERATURE, LIGHT])


def test_the_stars_of_cygnus_ob1():
    """P. J. Rousseeuw and A. M. Leroy (1987); robustbase::covMcd and sklearn MinCovDet agree on centre and outliers."""
    found = robust_spread(STARS)
    assert STARS.mean(axis=0) == pytest.approx([4.31, 5.0121277], abs=1e-6)
    assert found.centre_m == pytest.approx([4.40902439, 4.94902439], abs=1e-8)
    assert set(np.flatnonzero(found.astray) + 1) == {7, 11, 14, 20, 30, 34}


def test_clean_scatter_is_left_nearly_whole():
    """A 0.975 border lets 2.5 of 100 go, a little more with the half's own error."""
    points = np.random.default_rng(2).multivariate_normal([1.5, 7.5], [[0.5, 0.2], [0.2, 0.9]], 2000)
    found = robust_spread(points)
    assert found.astray.mean() < 0.05
    assert found.centre_m == pytest.approx([1.5, 7.5], abs=0.06)


@pytest.mark.parametrize(
    "points", [np.zeros((0, 2)), np.ones((1, 2)), np.ones((30, 2)), np.arange(40.0).repeat(2).reshape(-1, 2)]
)
def test_too_few_or_on_one_line(points):
    assert not robust_spread(points).astray.any()


@pytest.mark.parametrize(
    ("count", "half", "most"),
    [(5, 1.34773, 3.27132), (10, 1.25904, 2.79643), (20, 1.21757, 2.61039), (50, 1.19334, 2.51037)],
)
def test_prediction_circles(count, half, most):
    """r / s computed with scipy's F quantiles, and by simulation below."""
    assert prediction_radius(0.5, np.eye(2), count) == pytest.approx(half, abs=1e-5)
    assert prediction_radius(0.95, np.eye(2), count) == pytest.approx(most, abs=1e-5)
    expected = np.sqrt(2 * (1 + 1 / count) * stats.f.ppf(0.95, 2, 2 * count - 2))
    assert prediction_radius(0.95, np.eye(2), count) == pytest.approx(expected)


@pytest.mark.parametrize("count", [5, 20])
def test_the_next_serve_lands_inside_as_often_as_said(count):
    rng = np.random.default_rng(count)
    inside = []
    for _ in range(4000):
        points = rng.normal(0, 1.3, (count + 1, 2))
        radius = prediction_radius(0.95, np.cov(points[:-1], rowvar=False), count)
        inside.append(np.hypot(*(points[-1] - points[:-1].mean(axis=0))) <= radius)
    assert np.mean(inside) == pytest.approx(0.95, abs=0.012)


def test_the_ellipse_of_the_mean_is_hotellings():
    """Ebdon's set: half-axes 1.634872 and 0.869499; and the border of statsmodels' own test of a mean."""
    from statsmodels.stats.multivariate import test_mvmean as mean_test

    ebdon = np.array([(1, 2), (2, 3), (2, 2), (2, 1), (3, 4), (3, 3), (3, 1), (4, 4)], dtype=float)
    found = spread(ebdon)
    assert found.mean_half_axes_m == pytest.approx((1.634872, 0.869499), abs=1e-6)
    longer = np.linalg.eigh(found.covariance_m2)[1][:, 1]
    assert mean_test(ebdon, found.centre_m + found.mean_half_axes_m[0] * longer).pvalue == pytest.approx(0.05)


def test_two_landings_predict_nothing():
    found = spread(np.array([[1.0, 2.0], [2.0, 3.0]]))
    assert np.isnan([found.next_most_m, *found.mean_half_axes_m]).all()


def test_spread_by_each_group(logbook):
    table = serve_table(logbook)
    by_aim = {name: (found.n, lean.n) for name, found, lean in spread_by(table, "aim")}
    assert by_aim == {"deep 1": (3, 3), "seam 5-6": (1, 1)}
    for column in GROUPS.values():
        spread_by(table, column)
    with pytest.raises(ValueError, match="not by 'note'"):
        spread_by(table, "note")
