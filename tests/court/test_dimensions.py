"""Courts against the rule books, written out number by number."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Literal, cast

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from serve_marker.court.dimensions import (
    COURTS,
    Court,
    court_named,
    from_half,
    landmarks,
    net_landmarks,
    painted_lines,
    to_half,
)
from serve_marker.errors import UserError

# name: half width, half length, attack line's rear edge, line width, centre line painted [m].
# indoor: FIVB Official Volleyball Rules 2025-2028, 1.1 (18 x 9 m), 1.3.1-1.3.4 (5 cm lines inside, rear edge at 3 m).
# high-school: NFHS, 60 x 30 ft to the outer edges, 2 in lines, attack line's middle 10 ft from the centre line's.
# beach: FIVB Official Beach Volleyball Rules 2025-2028, 1.1.1 and 1.3 (16 x 8 m, no centre line, no attack line).
# sitting: World ParaVolley Official Sitting Volleyball Rules, 1.1 and 1.3 (10 x 6 m, attack line at 2 m).
# youth: general provisions of one German state's association (7 x 14, 6 x 12, 4.5 x 9 m).
RULEBOOK = {
    "indoor": (4.5, 9.0, 3.0, 0.05, True),
    "high-school": (4.572, 9.144, 3.0734, 0.0508, True),
    "beach": (4.0, 8.0, None, 0.05, False),
    "sitting": (3.0, 5.0, 2.0, 0.05, True),
    "youth-14": (3.5, 7.0, None, 0.05, True),
    "youth-13": (3.0, 6.0, None, 0.05, True),
    "youth-12": (2.25, 4.5, None, 0.05, True),
}


def test_every_preset_is_in_the_table():
    assert set(RULEBOOK) == set(COURTS)


@pytest.mark.parametrize("name", RULEBOOK)
def test_landmarks(name):
    x_m, end_m, attack_m, _, _ = RULEBOOK[name]
    expected = {
        "end-a/left": (-x_m, -end_m, 0),
        "end-a/right": (x_m, -end_m, 0),
        "centre/left": (-x_m, 0, 0),
        "centre/right": (x_m, 0, 0),
        "end-b/left": (-x_m, end_m, 0),
        "end-b/right": (x_m, end_m, 0),
    }
    if attack_m:
        expected |= {
            "attack-a/left": (-x_m, -attack_m, 0),
            "attack-a/right": (x_m, -attack_m, 0),
            "attack-b/left": (-x_m, attack_m, 0),
            "attack-b/right": (x_m, attack_m, 0),
        }
    found = landmarks(court_named(name))
    assert set(found) == set(expected)
    for mark, place in expected.items():
        assert found[mark] == pytest.approx(place, abs=1e-9), mark


@pytest.mark.parametrize("name", RULEBOOK)
def test_painted_lines_have_their_true_edges(name):
    x_m, end_m, attack_m, wide_m, centre = RULEBOOK[name]
    expected = {
        "end-a": (-x_m, x_m, -end_m, -end_m + wide_m),
        "end-b": (-x_m, x_m, end_m - wide_m, end_m),
        "left": (-x_m, -x_m + wide_m, -end_m, end_m),
        "right": (x_m - wide_m, x_m, -end_m, end_m),
    }
    if attack_m:
        expected["attack-a"] = (-x_m, x_m, -attack_m, -attack_m + wide_m)
        expected["attack-b"] = (-x_m, x_m, attack_m - wide_m, attack_m)
    if centre:
        expected["centre"] = (-x_m, x_m, -wide_m / 2, wide_m / 2)
    found = painted_lines(court_named(name))
    assert set(found) == set(expected)
    for line, (west, east, south, north) in expected.items():
        corners = {(round(x, 6), round(y, 6)) for x, y in found[line].tolist()}
        assert corners == {(round(x, 6), round(y, 6)) for x in (west, east) for y in (south, north)}, line


# FIVB 2.1.1 (2.43 men, 2.24 women); NFHS 7 ft 4 1/8 in and 7 ft 11 5/8 in; Beach 2.1.1 with its youth heights.
@pytest.mark.parametrize(
    ("name", "who", "height_m"),
    [
        ("indoor", "women", 2.24),
        ("indoor", "men", 2.43),
        ("high-school", "girls", 2.238),
        ("high-school", "boys", 2.429),
        ("beach", "women", 2.24),
        ("beach", "men", 2.43),
        ("beach", "under 14", 2.12),
        ("beach", "under 12", 2.00),
        ("youth-14", "under 14 and 15", 2.15),
        ("youth-13", "under 13", 2.10),
        ("youth-12", "under 11 and 12", 2.05),
    ],
)
def test_net_heights(name, who, height_m):
    heights = {net.name: net.height_m for net in court_named(name).net_heights}
    assert heights[who] == pytest.approx(height_m, abs=0.001)


@pytest.mark.parametrize("court", COURTS.values(), ids=str)
def test_sources_are_named(court):
    assert court.source
    assert all(net.source for net in court.net_heights)


def test_check_measure_of_the_diagonals():
    """Diagonals of each half court are 12.73 m (FIVB Refereeing Guidelines 2024, rule 1)."""
    marks = landmarks(court_named("indoor"))
    assert np.hypot(*np.subtract(marks["end-b/left"], marks["centre/right"])[:2]) == pytest.approx(12.73, abs=0.005)


def test_landmarks_in_the_air():
    """Antenna tops 80 cm above the net (FIVB 2.4), here over the sidelines."""
    found = net_landmarks(court_named("indoor"), 2.43)
    assert found["net-top/left"] == (-4.5, 0.0, 2.43)
    assert found["antenna-top/right"] == pytest.approx((4.5, 0.0, 3.23))
    assert len(found) == 4


@pytest.mark.parametrize(
    ("point", "end", "half"),
    [
        # The server stands at end a, looks along +y: her left is -x.
        ((-4.5, 9.0), "b", (0.0, 9.0)),
        ((4.5, 9.0), "b", (9.0, 9.0)),
        ((-4.0, 8.5), "b", (0.5, 8.5)),
        # The server stands at end b, looks along -y: her left is +x.
        ((4.5, -9.0), "a", (0.0, 9.0)),
        ((-4.5, -9.0), "a", (9.0, 9.0)),
        ((4.0, -2.0), "a", (0.5, 2.0)),
    ],
)
def test_half_frame(point, end, half):
    court = court_named("indoor")
    np.testing.assert_allclose(to_half([point], end, court), [half])
    np.testing.assert_allclose(from_half([half], end, court), [point])


@given(st.sampled_from(sorted(COURTS)), st.sampled_from("ab"), st.floats(-20, 20), st.floats(-20, 20))
def test_half_frame_and_back(name, end, x_m, y_m):
    court = court_named(name)
    np.testing.assert_allclose(from_half(to_half([(x_m, y_m)], end, court), end, court), [(x_m, y_m)], atol=1e-9)


@pytest.mark.parametrize("court", COURTS.values(), ids=str)
def test_courts_survive_json(court):
    assert Court.from_dict(json.loads(json.dumps(court.to_dict()))) == court


def test_youth_sizes_are_editable():
    court = replace(court_named("youth-13"), length_m=13.0, attack_line_m=2.5)
    assert landmarks(court)["attack-b/left"] == (-3.0, 2.5, 0.0)
    assert Court.from_dict({"length_m": 13, "width_m": 6}).half_length_m == 6.5


@pytest.mark.parametrize(
    ("plain", "words"),
    [
        (None, "neither a name nor"),
        ([18, 9], "neither a name nor"),
        ({}, "length_m"),
        ({"length_m": 18}, "width_m"),
        ({"length_m": -18, "width_m": 9}, "length_m is -18"),
        ({"length_m": True, "width_m": 9}, "length_m"),
        ({"length_m": float("nan"), "width_m": 9}, "length_m"),
        ({"length_m": 18, "width_m": 9, "attack_line_m": 9}, "attack_line_m"),
        ({"length_m": 18, "width_m": 9, "centre_line": 1}, "centre_line"),
        ({"length_m": 18, "width_m": 9, "title": 5}, "title"),
        ({"length_m": 18, "width_m": 9, "net_heights": [2.24]}, "net_heights"),
        ({"length_m": 18, "width_m": 9, "net_heights": [{"name": "x"}]}, "height_m"),
        ({"length_m": 18, "width_m": 9, "colour": "red"}, "'colour'"),
    ],
)
def test_impossible_courts(plain, words):
    with pytest.raises(UserError, match=words):
        Court.from_dict(plain)


def test_unknown_court_names_the_choices():
    with pytest.raises(UserError, match=r"'tennis'.*indoor, high-school, beach"):
        court_named("tennis")


def test_shapes_and_ends_are_named():
    with pytest.raises(ValueError, match=r"\(N, 2\)"):
        to_half([1.0, 2.0], "a", court_named("indoor"))
    with pytest.raises(ValueError, match="'c'"):
        to_half([(1.0, 2.0)], cast("Literal['a', 'b']", "c"), court_named("indoor"))
