"""In, out or too close: hand-worked margins of the contact disc."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import COURTS, court_named
from serve_marker.court.line_calls import CONTACT_RADIUS_M, CONTACT_RADIUS_SD_M, SURE_SD, area_sure, call_lines

INDOOR = court_named("indoor")
SCHEME = default_scheme(INDOOR)
EXACT = np.zeros((2, 2))
# With an exactly known touch point, room is 2.45 x 0.02 m = 0.049 m about the disc of 0.065 m.


def test_sure_is_the_ellipse_of_95_of_100():
    """Chi-square with two degrees of freedom: 2.4477, rounded outwards."""
    assert pytest.approx(np.sqrt(stats.chi2.ppf(0.95, 2)), abs=0.005) == SURE_SD


def call(point, cov=EXACT, court=INDOOR):
    calls = call_lines([point], [cov], court)
    return calls.verdict[0], calls.missed[0], calls.line_margin_m[0]


@pytest.mark.parametrize(
    ("point", "verdict", "missed", "margin_m"),
    [
        ((4.5, 5.0), "in", "", 4.065),
        ((4.5, 8.98), "in", "", 0.085),
        ((4.5, 9.01), "in", "", 0.055),
        ((4.5, 9.02), "too close", "", 0.045),
        ((4.5, 9.11), "too close", "", -0.045),
        ((4.5, 9.12), "out", "long", -0.055),
        ((-0.01, 5.0), "in", "", 0.055),
        ((-0.05, 5.0), "too close", "", 0.015),
        ((-0.12, 5.0), "out", "wide", -0.055),
        ((9.12, 5.0), "out", "wide", -0.055),
        ((9.05, 5.0), "too close", "", 0.015),
        ((9.5, 12.0), "out", "long", -2.935),
        ((10.0, 9.2), "out", "wide", -0.935),
        ((4.5, 0.0), "in", "", 4.565),
        ((4.5, -1.0), "out", "", -0.935),
    ],
)
def test_known_touch(point, verdict, missed, margin_m):
    found = call(point)
    assert found[:2] == (verdict, missed)
    assert found[2] == pytest.approx(margin_m)


@pytest.mark.parametrize("name", COURTS)
def test_each_outer_line_of_each_court(name):
    court = court_named(name)
    width_m, depth_m = court.width_m, court.half_length_m
    middle = (width_m / 2, depth_m / 2)
    for inside, outside, missed in (
        ((0.1, middle[1]), (-0.2, middle[1]), "wide"),
        ((width_m - 0.1, middle[1]), (width_m + 0.2, middle[1]), "wide"),
        ((middle[0], depth_m - 0.1), (middle[0], depth_m + 0.2), "long"),
    ):
        assert call(inside, court=court)[:2] == ("in", "")
        assert call(outside, court=court)[:2] == ("out", missed)


def test_only_the_error_along_the_lines_normal_counts():
    """0.3 m short of the end line: 2.45 x 0.2 m is too close, the same error along the line is not."""
    assert call((4.5, 8.7), np.diag([0.04, 0.0]))[0] == "in"
    assert call((4.5, 8.7), np.diag([0.0, 0.04]))[0] == "too close"


def test_unknown_landing():
    verdict, missed, margin_m = call((np.nan, np.nan), np.full((2, 2), np.nan))
    assert (verdict, missed) == ("", "")
    assert np.isnan(margin_m)


@given(st.floats(-2, 11), st.floats(0, 12), st.floats(0, 0.5), st.floats(0, 0.5))
def test_verdict_follows_from_the_margins(x_m, y_m, sd_x_m, sd_y_m):
    verdict = call((x_m, y_m), np.diag([sd_x_m**2, sd_y_m**2]))[0]
    surplus = [
        (margin_m + CONTACT_RADIUS_M) / np.hypot(sd_m, CONTACT_RADIUS_SD_M)
        for margin_m, sd_m in ((x_m, sd_x_m), (9 - x_m, sd_x_m), (9 - y_m, sd_y_m), (y_m, sd_y_m))
    ]
    expected = "out" if min(surplus) < -SURE_SD else "in" if min(surplus) > SURE_SD else "too close"
    assert verdict == expected


@pytest.mark.parametrize(
    ("point", "cov", "sure"),
    [
        ((1.5, 7.5), np.diag([0.04, 0.04]), True),
        ((2.6, 7.5), np.diag([0.04, 0.0]), False),
        ((2.6, 7.5), np.diag([0.0, 0.04]), True),
        ((1.5, 6.3), np.diag([0.0, 0.04]), False),
        ((9.5, 7.5), np.diag([0.04, 0.04]), True),
        ((np.nan, 7.5), np.diag([0.04, 0.04]), False),
    ],
)
def test_area_sure(point, cov, sure):
    assert area_sure([point], [cov], INDOOR, SCHEME).tolist() == [sure]


def test_shapes_are_named():
    with pytest.raises(ValueError, match=r"\(N, 2\)"):
        call_lines([1.0, 2.0], [EXACT], INDOOR)
    with pytest.raises(ValueError, match=r"\(1, 2, 2\)"):
        call_lines([(1.0, 2.0)], EXACT, INDOOR)


def test_a_landing_that_may_be_on_the_servers_own_side_is_too_close():
    """0.3 m short of the net, known to 0.16 m: 0.235 m of margin, 2.45 x sqrt(0.16^2 + 0.02^2) = 0.395 m room."""
    assert call((4.5, -0.3), np.eye(2) * 0.16**2)[0] == "too close"
    assert call((4.5, -0.5), np.eye(2) * 0.16**2)[0] == "out"
    assert call((4.5, 0.4), np.eye(2) * 0.16**2)[0] == "in"
