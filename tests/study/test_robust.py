"""The robust centre against other programs' results, and stray landings against scatters whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.spatial.distance import cdist
from sklearn.covariance import MinCovDet

from serve_marker.study.robust import CHI2_2_975, _foretold_squared, _half_to_whole, _smallest_half, robust_spread
from serve_marker.study.serve_columns import serve_table
from serve_marker.study.spread import GROUPS, spread_by

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


def smallest_half(points):
    return _smallest_half(points, (len(points) + 3) // 2, np.random.default_rng(0))


def practice(rng, count, strays=0, away=7.0):
    """A normal scatter of ``count``, the first ``strays`` of them in a clump ``away`` deviations off."""
    points = rng.normal(size=(count, 2))
    turn = rng.uniform(0, 2 * np.pi)
    points[:strays] = away * np.array([np.cos(turn), np.sin(turn)]) + rng.normal(0, 0.5, (strays, 2))
    return points


def test_the_stars_of_cygnus_ob1():
    """P. J. Rousseeuw and A. M. Leroy, Robust Regression and Outlier Detection (1987).

    Centre and the points left out are those of R's robustbase::covMcd and of scikit-learn 1.9.1 MinCovDet alike. The
    covariances are scikit-learn's, which has divisor n and makes up for the border at 0.975 (Croux, Haesbroeck 1999).
    """
    found = robust_spread(STARS)
    assert STARS.mean(axis=0) == pytest.approx([4.31, 5.0121277], abs=5e-8)
    assert found.centre_m == pytest.approx([4.40902439, 4.94902439], abs=5e-9)
    assert set(np.flatnonzero(found.left_out) + 1) == {7, 11, 14, 20, 30, 34}
    for_the_border = 0.975 / stats.chi2.cdf(stats.chi2.ppf(0.975, 2), 4)
    theirs = found.covariance_m2[np.triu_indices(2)] * 40 / 41 * for_the_border
    assert theirs == pytest.approx([0.0127030, 0.0379064, 0.2638536], abs=5e-8)


def test_a_fifteenth_of_all_is_a_tail():
    """The four giants of 47 stars are left out, but heavy tails may explain them: a centre without them, no names."""
    found = robust_spread(STARS)
    assert found.left_out[[10, 19, 29, 33]].all()
    assert not found.astray.any()


def test_the_borders_are_scipys_quantiles():
    assert pytest.approx(stats.chi2.ppf(0.975, 2), rel=1e-12) == CHI2_2_975
    for size, count in ((25, 47), (60, 100)):
        whole = size / count / stats.chi2.cdf(stats.chi2.ppf(size / count, 2), 4)
        few = 1 - np.exp(0.673292623522027) / count**0.691365864961895
        assert _half_to_whole(size, count) == pytest.approx(whole / few, rel=1e-12)


def test_the_smallest_half_is_no_larger_than_scikit_learns():
    """On twenty scatters of 12 to 120 with up to 30 of 100 astray."""
    rng = np.random.default_rng(1)
    for _ in range(20):
        count = int(rng.integers(12, 120))
        points = practice(rng, count, int(count * rng.uniform(0, 0.3))) @ rng.normal(size=(2, 2)) + rng.uniform(0, 9, 2)
        half, found = smallest_half(points), MinCovDet(random_state=0).fit(points)
        ours = np.linalg.det(np.cov(half, rowvar=False, ddof=0))
        assert ours <= np.linalg.det(found.raw_covariance_) * (1 + 1e-9)


def test_the_half_of_few_points_stands_for_all():
    """Pison, Van Aelst and Willems (2002) choose it so that sqrt(det) is 1 on average for a unit scatter."""
    rng = np.random.default_rng(12)
    roots = []
    for _ in range(150):
        half = smallest_half(rng.normal(size=(12, 2)))
        roots.append(np.sqrt(np.linalg.det(np.cov(half, rowvar=False))) * _half_to_whole(len(half), 12))
    assert np.mean(roots) == pytest.approx(1.0, abs=0.08)


@pytest.mark.parametrize("seed", range(8))
def test_what_is_left_out_lies_outside_the_ellipse_of_the_half(seed):
    """Distances by scipy, from the half's covariance with divisor h - 1 made to stand for all."""
    points = practice(np.random.default_rng(seed), 14, seed % 3)
    half = smallest_half(points)
    whole = np.cov(half, rowvar=False, ddof=1) * _half_to_whole(len(half), len(points))
    away = cdist(points, half.mean(axis=0)[None], "mahalanobis", VI=np.linalg.inv(whole)).ravel()
    assert robust_spread(points).left_out.tolist() == (away**2 > stats.chi2.ppf(0.975, 2)).tolist()


def test_clean_scatter_is_left_nearly_whole():
    """A 0.975 border lets 2.5 of 100 go, a little more with the half's own error."""
    points = np.random.default_rng(2).multivariate_normal([1.5, 7.5], [[0.5, 0.2], [0.2, 0.9]], 2000)
    found = robust_spread(points)
    assert 0.01 < found.left_out.mean() < 0.05
    assert found.centre_m == pytest.approx([1.5, 7.5], abs=0.06)


@pytest.mark.parametrize("count", [8, 20])
def test_a_clean_practice_has_hardly_ever_a_serve_astray(count):
    """The half's border alone would name one or more in 8 to 9 of 10 clean practices (benchmarks/stray.py: more)."""
    rng = np.random.default_rng(count)
    named = [robust_spread(practice(rng, count)).astray.any() for _ in range(100)]
    assert np.mean(named) <= 0.2


@pytest.mark.parametrize("freedom", [3, 4])
def test_heavy_tails_name_nobody_in_nine_of_ten_practices(freedom):
    """Student's t in the plane, 20 serves: the normal's border names one or more in half of such practices."""
    rng = np.random.default_rng(freedom)
    scale = np.sqrt(rng.chisquare(freedom, (150, 20, 1)) / freedom)
    practices = rng.normal(size=(150, 20, 2)) / scale
    assert np.mean([robust_spread(points).astray.any() for points in practices]) <= 0.1


def test_the_border_is_students():
    """Squared distances over 2 are F with (2, 4); nine of ten foretell by the ratio of both 95 % ellipses."""
    few = 2 * 10 / 9 * 8 / 7 * stats.f.ppf(0.95, 2, 7) / stats.chi2.ppf(0.95, 2)
    assert _foretold_squared(9, 10) == pytest.approx(few * 2 * stats.f.ppf(1 - 0.008, 2, 4))


@pytest.mark.parametrize(("count", "strays"), [(12, 1), (20, 3)])
def test_serves_far_off_are_named(count, strays):
    """One of twelve, or three of twenty in a clump, fourteen deviations off: on the next court."""
    rng = np.random.default_rng(count)
    found = [robust_spread(practice(rng, count, strays, 14.0)).astray for _ in range(40)]
    assert np.mean([one[:strays].all() for one in found]) >= 0.85
    assert np.mean([one[strays:].any() for one in found]) <= 0.1


def test_of_seven_none_is_astray_and_of_eight_the_one_far_off():
    """Five of seven are the smallest half: few lie close by chance. Of eight, one 60 m off a ring of 2 m is astray."""
    turns = np.linspace(0, 2 * np.pi, 8)[:-1]
    ring = np.column_stack([np.cos(turns), np.sin(turns)])
    far = np.array([[60.0, 0.0]])
    assert not robust_spread(np.vstack([ring[:6], far])).astray.any()
    assert robust_spread(np.vstack([ring, far])).astray.tolist() == [*[False] * 7, True]


@pytest.mark.parametrize(
    "points", [np.zeros((0, 2)), np.ones((1, 2)), np.ones((30, 2)), np.arange(40.0).repeat(2).reshape(-1, 2)]
)
def test_too_few_or_on_one_line(points):
    assert not robust_spread(points).astray.any()


def test_spread_by_each_group(logbook):
    table = serve_table(logbook)
    by_aim = {name: (found.n, lean.n) for name, found, lean in spread_by(table, "aim")}
    assert by_aim == {"deep 1": (3, 3), "seam 5-6": (1, 1)}
    for column in GROUPS.values():
        spread_by(table, column)
    with pytest.raises(ValueError, match="not by 'note'"):
        spread_by(table, "note")
