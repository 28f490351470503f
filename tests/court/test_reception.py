"""Formations, cells, seams, gaps and floor out of reach: tables worked by hand and a brute-force grid."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPoint, contains_xy, union_all, voronoi_polygons
from shapely.geometry import box

from serve_marker.court.dimensions import COURTS, court_named
from serve_marker.court.formations import DEPTHS, Formation, Passer, preset
from serve_marker.court.passer_movement import Movement
from serve_marker.court.reception import Playable, floor_in_reach, out_of_reach, receive
from serve_marker.court.seams import cells, seam_polygons
from serve_marker.errors import UserError

INDOOR = court_named("indoor")
NOOR, INES, ZOFIA = Passer(1.5, 6.0, "Noor", "libero"), Passer(4.5, 6.0, "Ines"), Passer(7.5, 6.0, "Zofia")
THREE = Formation("three", (NOOR, INES, ZOFIA))


def flights(before_m, at_s, course, count=1):
    """The same flight so many times over."""
    return Playable(*(np.tile(np.array([part], dtype=float), (count, 1)) for part in (before_m, at_s, course)))


def met_at_landing(at_s=1.0, count=1):
    """Balls that drop straight down: they can be met where they land."""
    return flights((0, 0), (at_s, at_s), (0, 1), count)


def brute(x_m, y_m, formation, width_m):
    """Whose ball, its gap and its seam by the words of the definition, one point at a time, no arrays."""
    places: list[Passer] = []
    for passer in formation.passers:
        if (passer.x_m, passer.y_m) not in [(p.x_m, p.y_m) for p in places]:
            places.append(passer)
    if not places:
        return "", math.nan, ""
    ranked = sorted(places, key=lambda p: math.dist((x_m, y_m), (p.x_m, p.y_m)))
    first = ranked[0]
    gap_m = math.dist((x_m, y_m), (first.x_m, first.y_m))
    if len(ranked) > 1:
        second = ranked[1]
        ux, uy = second.x_m - first.x_m, second.y_m - first.y_m
        apart = math.hypot(ux, uy)
        along = ((x_m - first.x_m) * ux + (y_m - first.y_m) * uy) / apart
        if apart / 2 - along <= width_m / 2:
            pair = sorted((first, second), key=places.index)
            return first.label, gap_m, f"between {pair[0].label} and {pair[1].label}"
    if x_m <= width_m and x_m <= first.x_m:
        return first.label, gap_m, f"between {first.label} and the right sideline"
    if INDOOR.width_m - x_m <= width_m and x_m >= first.x_m:
        return first.label, gap_m, f"between {first.label} and the left sideline"
    return first.label, gap_m, ""


FORMATIONS = {
    "none": Formation("none"),
    "one": Formation("one", (Passer(4.0, 5.0, "Noor"),)),
    **{f"{count} {depth}": preset(count, depth, INDOOR) for count in (2, 3, 4, 5) for depth in DEPTHS},
    "one spot": Formation("one spot", (Passer(3.0, 6.0, "Noor"), Passer(3.0, 6.0, "Ines"), Passer(6.0, 5.0, "Zofia"))),
    "on the lines": Formation("lines", (Passer(0.0, 6.0, "Noor"), Passer(4.5, 9.0, "Ines"), Passer(9.0, 6.0, "Wren"))),
    "outside": Formation("outside", (Passer(-1.0, 10.0, "Noor"), Passer(4.0, 4.0, "Ines"), Passer(9.5, 3.0, "Wren"))),
    "in a row": Formation("row", (Passer(4.5, 2.0, "Noor"), Passer(4.5, 5.0, "Ines"), Passer(4.5, 8.0, "Wren"))),
}
GRID = np.array([(x, y) for x in np.arange(0.037, 9, 0.31) for y in np.arange(0.041, 9, 0.29)])


@pytest.mark.parametrize("name", FORMATIONS)
@pytest.mark.parametrize("width_m", [0.4, 1.0, 2.0])
def test_against_a_brute_force_grid(name, width_m):
    formation = FORMATIONS[name]
    told = receive(GRID, formation, INDOOR, width_m)
    expected = [brute(x, y, formation, width_m) for x, y in GRID]

    assert told.passer.tolist() == [passer for passer, _, _ in expected]
    assert told.floor_gap_m == pytest.approx([gap for _, gap, _ in expected], nan_ok=True)
    assert np.isnan(told.gap_m).all()
    assert set(told.way) == {""}
    assert told.seam.tolist() == [seam for _, _, seam in expected]


@pytest.mark.parametrize("name", FORMATIONS)
@pytest.mark.parametrize("width_m", [0.4, 1.0, 2.0])
def test_outlines_hold_the_points_that_are_told_to_lie_in_them(name, width_m):
    formation = FORMATIONS[name]
    told = receive(GRID, formation, INDOOR, width_m)
    seams = seam_polygons(formation, INDOOR, width_m)

    for label, cell in cells(formation, INDOOR).items():
        assert (contains_xy(cell, *GRID.T) == (told.passer == label)).all()
    for seam, strip in seams.items():
        assert strip.is_valid
        assert (contains_xy(strip, *GRID.T) == (told.seam == seam)).all()
    assert set(told.seam) - {""} <= set(seams)
    assert sum(strip.area for strip in seams.values()) == pytest.approx(union_all(list(seams.values())).area)


passers = st.lists(st.tuples(st.floats(-2, 11), st.floats(-1, 11)), min_size=2, max_size=6)


@settings(deadline=None)
@given(passers)
def test_cells_against_another_library_s_voronoi(places):
    places = sorted({(round(x, 1), round(y, 1)) for x, y in places})
    formation = Formation("any", tuple(Passer(x, y, f"passer {i}") for i, (x, y) in enumerate(places)))
    own = cells(formation, INDOOR)
    half = box(0, 0, 9, 9)

    assert sum(cell.area for cell in own.values()) == pytest.approx(81.0)
    if len(places) > 1:
        theirs = voronoi_polygons(MultiPoint(places), extend_to=box(-40, -40, 50, 50))
        areas = sorted(round(cell.intersection(half).area, 4) for cell in theirs.geoms)
        assert sorted(round(cell.area, 4) for cell in own.values()) == pytest.approx(areas, abs=2e-4)


def test_three_in_a_line():
    """Cells 3 m wide; seams 1 m about x = 3 and x = 6; sideline strips 1 m; all 9 m deep."""
    own, seams = cells(THREE, INDOOR), seam_polygons(THREE, INDOOR)

    assert {label: cell.bounds for label, cell in own.items()} == {
        "Noor": pytest.approx((0, 0, 3, 9)),
        "Ines": pytest.approx((3, 0, 6, 9)),
        "Zofia": pytest.approx((6, 0, 9, 9)),
    }
    assert {name: strip.bounds for name, strip in seams.items()} == {
        "between Noor and Ines": pytest.approx((2.5, 0, 3.5, 9)),
        "between Ines and Zofia": pytest.approx((5.5, 0, 6.5, 9)),
        "between Noor and the right sideline": pytest.approx((0, 0, 1, 9)),
        "between Zofia and the left sideline": pytest.approx((8, 0, 9, 9)),
    }


@pytest.mark.parametrize(
    ("x_m", "y_m", "passer", "gap_m", "seam", "way"),
    [
        (1.5, 6.0, "Noor", 0.0, "", "on the spot"),
        (1.5, 6.5, "Noor", 0.5, "", "on the spot"),
        (4.5, 3.0, "Ines", 3.0, "", "forward"),
        (4.5, 8.0, "Ines", 2.0, "", "back"),
        (3.8, 6.0, "Ines", 0.7, "", "right"),
        (5.2, 6.0, "Ines", 0.7, "", "left"),
        (2.6, 4.9, "Noor", 1.1 * math.sqrt(2), "between Noor and Ines", "forward and left"),
        (6.4, 7.1, "Zofia", 1.1 * math.sqrt(2), "between Ines and Zofia", "back and right"),
        (8.6, 7.1, "Zofia", 1.1 * math.sqrt(2), "between Zofia and the left sideline", "back and left"),
        (0.4, 4.9, "Noor", 1.1 * math.sqrt(2), "between Noor and the right sideline", "forward and right"),
        (3.0, 6.0, "Noor", 1.5, "between Noor and Ines", "left"),  # on the border: the first listed
        (3.5, 6.0, "Ines", 1.0, "between Noor and Ines", "right"),  # on the seam's edge: still in it
        (3.51, 6.0, "Ines", 0.99, "", "right"),
        (1.0, 6.0, "Noor", 0.5, "between Noor and the right sideline", "on the spot"),
        (0.5, 9.0, "Noor", math.sqrt(10), "between Noor and the right sideline", "back"),
        (0.0, 6.0, "Noor", 1.5, "between Noor and the right sideline", "right"),
        (-0.5, 6.0, "Noor", 2.0, "between Noor and the right sideline", "right"),  # wide: clamped for the seam only
        (4.5, 11.0, "Ines", 5.0, "", "back"),
    ],
)
def test_one_landing(x_m, y_m, passer, gap_m, seam, way):
    told = receive([(x_m, y_m)], THREE, INDOOR, playable=met_at_landing())

    assert (told.passer[0], told.seam[0], told.way[0]) == (passer, seam, way)
    assert (told.gap_m[0], told.floor_gap_m[0]) == pytest.approx((gap_m, gap_m))


def test_the_way_is_the_passer_s_own():
    """Facing the net she has small x, the server's left, on her right; the net is forward."""
    told = receive([(0.9, 4.0)], THREE, INDOOR, playable=met_at_landing())

    assert (told.forward_m[0], told.right_m[0]) == pytest.approx((2.0, 0.6))


def test_nothing_to_tell():
    told = receive([(np.nan, 5.0), (4.5, np.nan), (4.5, 5.0)], THREE, INDOOR, playable=met_at_landing(count=3))
    assert told.passer.tolist() == ["", "", "Ines"]
    assert told.seam.tolist() == ["", "", ""]
    assert told.way.tolist() == ["", "", "forward"]
    assert np.isnan([told.gap_m, told.floor_gap_m, told.forward_m, told.right_m])[:, :2].all()
    assert told.reached.tolist() == [False, False, True]

    empty = receive([(4.5, 5.0)], Formation("none"), INDOOR)
    assert (empty.passer[0], empty.seam[0], empty.way[0]) == ("", "", "")
    assert np.isnan([empty.gap_m[0], empty.floor_gap_m[0], empty.forward_m[0], empty.right_m[0]]).all()
    assert cells(Formation("none"), INDOOR) == seam_polygons(Formation("none"), INDOOR) == {}

    assert receive(np.zeros((0, 2)), THREE, INDOOR).gap_m.shape == (0,)
    with pytest.raises(ValueError, match=r"\(N, 2\)"):
        receive(np.zeros(3), THREE, INDOOR)


def test_one_passer_owns_the_half_and_has_two_sideline_seams():
    """At x = 0.6 the strip on her right is only 0.6 m wide: it ends at her."""
    alone = Formation("alone", (Passer(0.6, 5.0, "Noor"),))

    assert cells(alone, INDOOR)["Noor"].area == 81.0
    strips = seam_polygons(alone, INDOOR)
    assert {name: strip.area for name, strip in strips.items()} == {
        "between Noor and the right sideline": pytest.approx(5.4),
        "between Noor and the left sideline": pytest.approx(9.0),
    }


def test_two_passers_at_one_spot():
    """The first listed owns the floor; no seam between the two; the third one's seam is whole."""
    formation = FORMATIONS["one spot"]
    own, seams = cells(formation, INDOOR), seam_polygons(formation, INDOOR)

    assert own["Ines"].is_empty
    assert own["Noor"].area + own["Zofia"].area == pytest.approx(81.0)
    assert [name for name in seams if "sideline" not in name] == ["between Noor and Zofia"]


def test_passers_on_a_sideline_have_no_floor_beyond_them():
    assert [name for name in seam_polygons(FORMATIONS["on the lines"], INDOOR) if "sideline" in name] == []


def test_how_far_a_passer_gets():
    """0.25 s to react, then 3 m/s, and 0.5 m of arms: 1.25 s of flight make 3.5 m."""
    assert Movement().radius_m([0.1, 0.25, 1.25]).tolist() == [0.5, 0.5, 3.5]
    assert Movement(0.2, 2.0, 0.0).radius_m(1.2) == pytest.approx(2.0)


def test_floor_out_of_reach():
    """One passer in the middle reaching 2 m leaves 81 - 4 pi m2; one in a corner leaves 81 - pi m2."""
    still = Movement(0.0, 0.0, 2.0)
    middle, corner = Formation("m", (Passer(4.5, 4.5, "Noor"),)), Formation("c", (Passer(0, 0, "Noor"),))

    assert out_of_reach(middle, INDOOR, met_at_landing(), still).area == pytest.approx(81 - 4 * math.pi, rel=2e-4)
    assert out_of_reach(corner, INDOOR, met_at_landing(), still).area == pytest.approx(81 - math.pi, rel=2e-4)
    assert out_of_reach(Formation("none"), INDOOR, met_at_landing()).area == 81.0
    assert out_of_reach(middle, INDOOR, met_at_landing(5.0)).is_empty
    with pytest.raises(ValueError, match="known flight"):
        out_of_reach(middle, INDOOR, met_at_landing(math.nan))


def walked(x_m, y_m, formation, flight, movement, steps=300):
    """The gap, and whether anybody gets there in time: the ball followed step by step, passer by passer."""
    least_m, in_time = math.inf, False
    for share in np.linspace(0, 1, steps):
        before_m, at_s = (1 - share) * np.array([flight.before_m[0, 0], flight.at_s[0, 0]]) + share * np.array(
            [flight.before_m[0, 1], flight.at_s[0, 1]]
        )
        ball = x_m - before_m * flight.course[0, 0], y_m - before_m * flight.course[0, 1]
        for passer in formation.passers:
            away_m = math.dist(ball, (passer.x_m, passer.y_m))
            least_m = min(least_m, away_m)
            in_time |= away_m <= movement.reach_m + movement.speed_mps * max(at_s - movement.reaction_s, 0)
    return least_m, in_time


@pytest.mark.parametrize("depth", DEPTHS)
@pytest.mark.parametrize(
    "flight",
    [
        flights((1.9, 0.3), (0.85, 0.99), (0.0, 1.0)),
        flights((3.8, 0.3), (0.5, 0.75), (0.28, 0.96)),
        flights((0.6, 0.1), (1.3, 1.41), (-0.28, 0.96)),
    ],
)
def test_the_gap_is_the_least_way_to_the_ball_on_its_flight(depth, flight):
    """Against the ball followed in 300 steps; the passers are slow, so that some are late."""
    formation, slow = preset(3, depth, INDOOR), Movement(0.3, 2.0, 0.4)
    points = GRID[(GRID[:, 1] > 4)][::11]
    told = receive(points, formation, INDOOR, playable=flight[np.zeros(len(points), dtype=int)], movement=slow)
    expected = [walked(x, y, formation, flight, slow) for x, y in points]

    assert told.gap_m == pytest.approx([gap_m for gap_m, _ in expected], abs=1e-2)
    assert np.hypot(told.forward_m, told.right_m) == pytest.approx(told.gap_m)
    late = np.array([not in_time for _, in_time in expected])
    assert (told.reached == ~late).mean() >= 0.99  # asked at eleven moments instead of 300
    away = contains_xy(out_of_reach(formation, INDOOR, flight, slow), *points.T)
    assert (away == late).mean() >= 0.99
    assert 0.02 < late.mean() < 0.98


def test_a_deep_float_is_met_before_it_lands():
    """1.3 m before its landing it is as high as forearms: worked by hand for Ines at (4.5, 6), landing at 8.3 m."""
    told = receive([(4.5, 8.3)], THREE, INDOOR, playable=flights((1.3, 0.2), (1.0, 1.1), (0, 1)))
    assert (told.floor_gap_m[0], told.gap_m[0], told.way[0]) == (pytest.approx(2.3), pytest.approx(1.0), "back")


def test_a_ball_that_comes_past_a_passer_is_hers():
    """It lands nearer to the deep passer and flies past the one before her, who goes 0.4 m to her left."""
    pair = Formation("pair", (Passer(4.5, 6.2, "Noor"), Passer(4.5, 8.6, "Ines")))
    told = receive([(4.9, 7.9)] * 2, pair, INDOOR, playable=flights((2.0, 0.9), (1.0, 1.1), (0, 1), 2))
    assert (told.passer[0], told.gap_m[0], told.way[0]) == ("Noor", pytest.approx(math.hypot(0.4, 0)), "on the spot")
    assert receive([(4.9, 7.9)], pair, INDOOR).passer[0] == "Ines"


def test_nobody_meets_a_ball_over_the_servers_half():
    """Short at 1 m, 2 m before its landing it is still on the other side: the passer meets it at the net at most."""
    one = Formation("one", (Passer(4.5, 0.0, "Ines"),))
    told = receive([(4.5, 1.0)], one, INDOOR, playable=flights((2.0, 0.5), (0.9, 1.0), (0, 1)))
    assert told.gap_m[0] == pytest.approx(0.0)


def test_the_usual_flight_is_the_median_of_the_known_ones():
    three = Playable(
        np.array([(1.0, 0.2), (2.0, 0.4), (9.0, 9.0), (np.nan, 0.1)]),
        np.array([(1.0, 1.1), (0.8, 0.9), (0.9, 1.0), (1.0, 1.1)]),
        np.array([(0, 1)] * 4, dtype=float),
    )
    usual = three.usual()
    assert usual is not None
    assert (usual.before_m.tolist(), usual.at_s.tolist()) == ([[2.0, 0.4]], [[0.9, 1.0]])
    assert three[3:].usual() is None


@pytest.mark.parametrize("court_name", COURTS)
@pytest.mark.parametrize("count", [2, 3, 4, 5])
def test_presets_fit_every_court(court_name, count):
    """Common practice, no source: starting back is deeper, both sides alike, all on the court."""
    court = court_named(court_name)
    up, back = (preset(count, depth, court) for depth in DEPTHS)

    assert len({p.label for p in up.passers}) == len(up.passers) == count
    assert all(u.x_m == b.x_m and u.y_m < b.y_m for u, b in zip(up.passers, back.passers, strict=True))
    for formation in (up, back):
        places = sorted((p.x_m, p.y_m) for p in formation.passers)
        mirrored = sorted((court.width_m - x, y) for x, y in places)
        assert np.array(places) == pytest.approx(np.array(mirrored), abs=2e-3)
        assert all(0 < x < court.width_m and 0 < y < court.half_length_m for x, y in places)


def test_three_passers_up_stand_with_three_fifths_of_the_court_before_them():
    """Taught by USC Aiken, "3 Person Serve Receive"; columns by common practice, no source."""
    assert [(p.x_m, p.y_m) for p in preset(3, "up", INDOOR).passers] == [(1.5, 5.4), (4.5, 5.4), (7.5, 5.4)]


def test_presets_that_do_not_exist():
    with pytest.raises(UserError, match="two to five"):
        preset(7, "up", INDOOR)
    with pytest.raises(UserError, match="up or back"):
        preset(3, "sideways", INDOOR)


@pytest.mark.parametrize("name", FORMATIONS)
def test_formations_as_plain_values(name):
    assert Formation.from_dict(FORMATIONS[name].to_dict()) == FORMATIONS[name]


@pytest.mark.parametrize(
    ("plain", "sentence"),
    [
        (None, "not a name with a list"),
        ({"name": "x"}, "not a name with a list"),
        ({"name": 3, "passers": []}, "name is not text"),
        ({"passers": ["Noor"]}, "Passer 1 has no place"),
        ({"passers": [{"x_m": 1, "y_m": 2, "name": "Noor"}, {"x_m": "1", "y_m": 2}]}, "Passer 2 has no x_m"),
        ({"passers": [{"x_m": 1, "y_m": math.nan, "name": "Noor"}]}, "Passer 1 has no y_m"),
        ({"passers": [{"x_m": True, "y_m": 1, "name": "Noor"}]}, "Passer 1 has no x_m"),
        ({"passers": [{"x_m": 150, "y_m": 1, "name": "Noor"}]}, "too far"),
        ({"passers": [{"x_m": 1, "y_m": 1}]}, "neither a name nor a role"),
        ({"passers": [{"x_m": 1, "y_m": 1, "name": 7}]}, "neither a name nor a role"),
        ({"passers": [{"x_m": n, "y_m": 1, "name": "Noor"} for n in (1, 2)]}, "Two passers are called 'Noor'"),
        ({"passers": [{"x_m": n, "y_m": 1, "name": f"{n}"} for n in range(7)]}, "at most 6"),
    ],
)
def test_plain_values_that_make_no_formation(plain, sentence):
    with pytest.raises(UserError, match=sentence):
        Formation.from_dict(plain)


def test_floor_in_reach_and_floor_out_of_reach_make_up_the_half():
    """A ball met at 1 s: 0.5 + 3 x (1 - 0.25) = 2.75 m. Passers at 1.5, 4.5, 7.5 m, 6 m deep reach the whole end line's
    middle but neither of its corners, sqrt(1.5^2 + 3^2) = 3.35 m away; met 1 m before its landing, the corners too."""
    within, away = (made(THREE, INDOOR, met_at_landing()) for made in (floor_in_reach, out_of_reach))
    assert within.area + away.area == pytest.approx(81.0)
    assert not contains_xy(within, 0.05, 8.95)
    assert contains_xy(within, 4.5, 8.7)
    assert contains_xy(floor_in_reach(THREE, INDOOR, flights((1, 1), (1, 1), (0, 1))), 0.05, 8.95)
