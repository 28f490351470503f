"""Areas, zones, depth bands and seams, border by border."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import unary_union

from serve_marker.court.areas import (
    AREAS,
    DEPTH_BANDS,
    SEAMS,
    AreaScheme,
    area_polygon,
    classify,
    default_scheme,
    seam_polygon,
    zone_polygon,
)
from serve_marker.court.dimensions import COURTS, court_named, to_half
from serve_marker.errors import UserError

INDOOR = court_named("indoor")
SCHEME = default_scheme(INDOOR)

# Columns at thirds of the width, rows at the attack line and 2/3 of the depth: common practice, no source.
BORDERS = {
    "indoor": ((3.0, 6.0), (3.0, 6.0)),
    "high-school": ((3.048, 6.096), (3.0734, 6.096)),
    "beach": ((8 / 3, 16 / 3), (8 / 3, 16 / 3)),
    "sitting": ((2.0, 4.0), (2.0, 10 / 3)),
    "youth-14": ((7 / 3, 14 / 3), (7 / 3, 14 / 3)),
    "youth-13": ((2.0, 4.0), (2.0, 4.0)),
    "youth-12": ((1.5, 3.0), (1.5, 3.0)),
}


def told(name, point):
    court = court_named(name)
    return classify([point], court, default_scheme(court))


@pytest.mark.parametrize("name", COURTS)
def test_default_borders(name):
    scheme = default_scheme(court_named(name))
    columns, rows = BORDERS[name]
    assert scheme.column_borders_m == pytest.approx(columns)
    assert scheme.row_borders_m == pytest.approx(rows)
    assert scheme.depth_borders_m == pytest.approx(rows)


def test_habits_of_the_trade():
    """Common practice, no source: nine areas, deep 1 and seam 5-6 first."""
    assert len(AREAS) == 9
    assert AREAS[0] == "deep 1"
    assert SEAMS[0] == "seam 5-6"
    assert DEPTH_BANDS == ("short", "between", "deep")


# From the server's left to right and from the net outward; zones of the receivers by FIVB 7.4.1.
GRID = [
    ("short 2", "short 3", "short 4"),
    ("between 1-2", "between 6-3", "between 5-4"),
    ("deep 1", "deep 6", "deep 5"),
]
BEACH = [tuple(f"{band} {column}" for column in ("cross", "middle", "line")) for band in DEPTH_BANDS]
ZONES = [("2", "3", "4"), ("1", "6", "5"), ("1", "6", "5")]


@pytest.mark.parametrize("name", COURTS)
def test_every_area_and_each_of_its_borders(name):
    """Just inside each of its four borders a point belongs to its area, with that distance as margin."""
    court = court_named(name)
    columns, rows = BORDERS[name]
    x_m, y_m = (0.0, *columns, court.width_m), (0.0, *rows, court.half_length_m)
    step_m = 0.001
    for row in range(3):
        for column in range(3):
            middle = ((x_m[column] + x_m[column + 1]) / 2, (y_m[row] + y_m[row + 1]) / 2)
            for point, inner in (
                ((x_m[column] + step_m, middle[1]), column > 0),
                ((x_m[column + 1] - step_m, middle[1]), column < 2),
                ((middle[0], y_m[row] + step_m), row > 0),
                ((middle[0], y_m[row + 1] - step_m), row < 2),
            ):
                found = told(name, point)
                assert found.area[0] == (BEACH if name == "beach" else GRID)[row][column]
                assert found.zone[0] == ZONES[row][column]
                assert found.depth_band[0] == DEPTH_BANDS[row]
                assert (found.area_margin_m[0] == pytest.approx(step_m)) == inner


@pytest.mark.parametrize("name", COURTS)
def test_zone_1_is_the_servers_deep_left_at_both_ends(name):
    court = court_named(name)
    near_m = 0.3
    deep_left: dict[Literal["a", "b"], tuple[float, float]] = {
        "b": (-court.half_width_m + near_m, court.half_length_m - near_m),
        "a": (court.half_width_m - near_m, -court.half_length_m + near_m),
    }
    for end, point in deep_left.items():
        found = classify(to_half([point], end, court), court, default_scheme(court))
        assert (found.zone[0], found.area[0]) == ("1", "deep cross" if name == "beach" else "deep 1")
        deep_right = (-point[0], point[1])
        assert classify(to_half([deep_right], end, court), court, default_scheme(court)).zone[0] == "5"


@pytest.mark.parametrize(
    ("point", "seam"),
    [
        ((3.0, 8.0), "seam 6-1"),
        ((2.51, 3.01), "seam 6-1"),
        ((3.49, 9.0), "seam 6-1"),
        ((2.49, 8.0), ""),
        ((3.0, 2.99), ""),
        ((6.0, 5.0), "seam 5-6"),
        ((5.51, 5.0), "seam 5-6"),
        ((6.51, 5.0), ""),
        ((4.5, 5.0), ""),
    ],
)
def test_seams(point, seam):
    assert told("indoor", point).seam[0] == seam


def test_seam_outlines():
    assert seam_polygon("seam 6-1", INDOOR, SCHEME).bounds == (2.5, 3.0, 3.5, 9.0)
    assert seam_polygon("seam 5-6", INDOOR, SCHEME).bounds == (5.5, 3.0, 6.5, 9.0)


@pytest.mark.parametrize(
    ("point", "area"),
    [((-0.05, 8.0), "deep 1"), ((4.5, 9.06), "deep 6"), ((9.4, 4.0), "between 5-4"), ((4.5, -1.0), "short 3")],
)
def test_a_ball_on_or_over_a_line_belongs_to_the_area_inside(point, area):
    assert told("indoor", point).area[0] == area


def test_depth_bands_may_differ_from_rows():
    scheme = AreaScheme((3.0, 6.0), (3.0, 6.0), (2.0, 8.0))
    found = classify([(4.5, 7.0), (4.5, 2.5), (4.5, 8.2)], INDOOR, scheme)
    assert found.depth_band.tolist() == ["between", "between", "deep"]
    assert found.area.tolist() == ["deep 6", "short 3", "deep 6"]


def test_unknown_points_have_no_words():
    found = classify([(np.nan, 4.0), (1.0, 8.0)], INDOOR, SCHEME)
    assert [found.area[0], found.zone[0], found.depth_band[0], found.seam[0]] == [""] * 4
    assert np.isnan(found.area_margin_m[0])
    assert found.area[1] == "deep 1"
    assert len(classify(np.empty((0, 2)), INDOOR, SCHEME).area) == 0


@given(st.sampled_from(sorted(COURTS)), st.floats(0.001, 0.999), st.floats(0.001, 0.999))
def test_words_agree_with_outlines(name, share_x, share_y):
    court = court_named(name)
    scheme = default_scheme(court)
    x_m, y_m = share_x * court.width_m, share_y * court.half_length_m
    found = classify([(x_m, y_m)], court, scheme)
    outline = area_polygon(found.area[0], court, scheme)
    from shapely import Point

    assert outline.distance(Point(x_m, y_m)) < 1e-9
    assert zone_polygon(found.zone[0], court, scheme).distance(Point(x_m, y_m)) < 1e-9


@pytest.mark.parametrize("name", COURTS)
def test_areas_and_zones_tile_the_half_court(name):
    court = court_named(name)
    scheme = default_scheme(court)
    whole_m2 = court.width_m * court.half_length_m
    for outlines in (
        [area_polygon(area, court, scheme) for area in AREAS],
        [zone_polygon(zone, court, scheme) for zone in range(1, 7)],
    ):
        assert sum(outline.area for outline in outlines) == pytest.approx(whole_m2)
        assert unary_union(outlines).area == pytest.approx(whole_m2)


def test_scheme_survives_and_wrong_ones_are_told():
    scheme = AreaScheme((2.5, 6.5), (3.0, 6.5), (2.0, 7.0), 1.2)
    assert AreaScheme.from_dict(scheme.to_dict()) == scheme
    for change, words in (
        ({"column_borders_m": [6, 3]}, "column_borders_m"),
        ({"row_borders_m": [3]}, "row_borders_m"),
        ({"depth_borders_m": ["a", 2]}, "depth_borders_m"),
        ({"seam_width_m": 0}, "seam width"),
    ):
        with pytest.raises(UserError, match=words):
            AreaScheme.from_dict(scheme.to_dict() | change)
    with pytest.raises(UserError, match="area borders"):
        AreaScheme.from_dict(None)


def test_names_that_are_none():
    for outline, name in ((area_polygon, "deep 7"), (zone_polygon, "7"), (seam_polygon, "seam 1-2")):
        with pytest.raises(ValueError, match="called"):
            outline(name, INDOOR, SCHEME)
