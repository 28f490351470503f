"""What a landing may have hit, against hand-worked places and against the whole of its ellipse."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from serve_marker.court.aims import aim_bounds, aim_hit, parse_aim
from serve_marker.court.areas import AREAS, SEAMS, default_scheme
from serve_marker.court.dimensions import court_named
from serve_marker.court.line_calls import SURE_SD, area_sure, possible_places

COURT = court_named("indoor")
SCHEME = default_scheme(COURT)
AIMS = ("deep 1", "between 6-3", "zone 5", "seam 5-6", "2,8,0.5", "outline 1,7 2,7 2,8 1,8.5")


def named(names, bits):
    return [name for place, name in enumerate(names) if bits >> place & 1]


@pytest.mark.parametrize(
    ("x_m", "y_m", "sd_m", "areas"),
    [
        (1.5, 7.5, 0.1, ["deep 1"]),
        (3.0, 7.5, 0.1, ["deep 1", "deep 6"]),
        (3.2, 7.5, 0.1, ["deep 1", "deep 6"]),  # 2.45 x 0.1 = 0.245 m reaches back to 2.955 m
        (3.25, 7.5, 0.1, ["deep 6"]),
        (3.0, 6.0, 0.1, ["deep 1", "deep 6", "between 1-2", "between 6-3"]),
        (1.5, 9.05, 0.1, ["deep 1"]),  # touches the end line: the area inside it
        (4.5, 1.0, 0.0, ["short 3"]),
        (np.nan, 1.0, 0.1, []),
    ],
)
def test_areas_within_reach_of_the_error(x_m, y_m, sd_m, areas):
    found = possible_places([(x_m, y_m)], [np.eye(2) * sd_m**2], COURT, SCHEME)
    assert named(AREAS, int(found.areas[0])) == areas


@pytest.mark.parametrize(
    ("x_m", "y_m", "seams", "sure"),
    [
        (6.0, 7.0, ["seam 5-6"], True),
        (5.55, 7.0, ["seam 5-6"], False),  # 0.05 m inside the strip of 5.5 to 6.5 m
        (5.4, 7.0, ["seam 5-6"], False),
        (3.0, 3.1, ["seam 6-1"], False),  # 0.1 m beyond the attack line
        (3.0, 2.0, [], False),
        (4.5, 7.0, [], False),
    ],
)
def test_seams_within_reach_of_the_error(x_m, y_m, seams, sure):
    found = possible_places([(x_m, y_m)], [np.eye(2) * 0.1**2], COURT, SCHEME)
    assert (named(SEAMS, int(found.seams[0])), bool(found.seam_sure[0])) == (seams, sure)


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=20)
def test_one_area_is_possible_exactly_where_it_is_sure(seed):
    chance = np.random.default_rng(seed)
    points = chance.uniform((-0.5, 0.0), (9.5, 9.5), (200, 2))
    cov = np.stack([np.diag(chance.uniform(0, 0.2, 2) ** 2) for _ in points])
    single = np.array(
        [bin(bits).count("1") == 1 for bits in possible_places(points, cov, COURT, SCHEME).areas.tolist()]
    )
    assert (single == area_sure(points, cov, COURT, SCHEME)).all()


@pytest.mark.parametrize("text", AIMS)
@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=10)
def test_an_aim_is_sure_where_the_whole_ellipse_is_on_one_side(text, seed):
    """Against 720 points round each ellipse of 2.45 deviations, within the court, where the call decides nothing."""
    chance = np.random.default_rng(seed)
    aim = parse_aim(text, COURT, SCHEME)
    points = chance.uniform((0.5, 0.5), (8.5, 8.5), (60, 2))
    roots = chance.normal(0, 0.06, (60, 2, 2))
    cov = roots @ roots.transpose(0, 2, 1) + np.eye(2) * 1e-6
    angle = np.linspace(0, 2 * np.pi, 720)
    circle = SURE_SD * np.stack([np.cos(angle), np.sin(angle)])
    assert aim is not None
    sure, may = aim_bounds(points, cov, aim, COURT)
    for i in range(len(points)):
        rim = points[i] + (np.linalg.cholesky(cov[i]) @ circle).T
        inside = aim_hit(np.clip(rim, 0.01, 8.99), aim, COURT)
        if sure[i]:
            assert inside.all()
        if not may[i]:
            assert not inside.any()
        if inside.any() and not inside.all():
            assert may[i]
            assert not sure[i]
