"""Aims as a coach writes them, and what counts as hitting one."""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.court.aims import aim_hit, parse_aim
from serve_marker.court.areas import AREAS, SEAMS, default_scheme
from serve_marker.court.dimensions import court_named
from serve_marker.errors import UserError

INDOOR = court_named("indoor")
SCHEME = default_scheme(INDOOR)


def parsed(text):
    return parse_aim(text, INDOOR, SCHEME)


@pytest.mark.parametrize("area", AREAS)
def test_areas(area):
    aim = parsed(area)
    assert (aim.text, aim.kind) == (area, "area")
    assert aim.polygon.area == pytest.approx(9.0)


@pytest.mark.parametrize("seam", SEAMS)
def test_seams(seam):
    assert parsed(seam).kind == "seam"
    assert parsed(seam).polygon.area == pytest.approx(6.0)


@pytest.mark.parametrize(("zone", "centre"), [("1", (1.5, 6.0)), ("5", (7.5, 6.0)), ("3", (4.5, 1.5))])
def test_zones(zone, centre):
    aim = parsed(f"zone {zone}")
    assert aim.kind == "zone"
    assert aim.centre_m == pytest.approx(centre)


def test_points():
    aim = parsed(" 2.0, 8 ,0.50 ")
    assert (aim.text, aim.kind, aim.centre_m, aim.radius_m) == ("2,8,0.5", "point", (2.0, 8.0), 0.5)
    assert aim.polygon.area == pytest.approx(np.pi * 0.25, rel=1e-3)


def test_spelling_is_forgiven():
    assert parsed("  Deep   1 ").text == "deep 1"
    assert parsed("") is None
    assert parsed("   ") is None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("deep 7", "'deep 7'.*'deep 1'.*'zone 1' to 'zone 6'.*'seam 5-6'.*x,y,radius"),
        ("zone 7", "zone 7"),
        ("zone", "zone"),
        ("1,2,x", "three numbers"),
        ("1,2,0", "radius"),
        ("1,2,nan", "radius"),
        ("12,2,1", "off the court"),
        ("1,2", "x,y,radius"),
        ("=1+1", "not known"),
    ],
)
def test_unknown_aims_name_the_forms(text, words):
    with pytest.raises(UserError, match=words):
        parsed(text)


@pytest.mark.parametrize(
    ("text", "point", "hit"),
    [
        ("deep 1", (1.0, 8.0), True),
        ("deep 1", (3.2, 8.0), False),
        ("deep 1", (-0.06, 8.0), True),
        ("deep 1", (-0.07, 8.0), False),
        ("deep 1", (1.0, 10.0), False),
        ("zone 1", (1.0, 4.0), True),
        ("seam 5-6", (6.4, 5.0), True),
        ("seam 5-6", (6.6, 5.0), False),
        ("2,8,0.5", (2.3, 8.39), True),
        ("2,8,0.5", (2.4, 8.4), False),
        ("deep 1", (np.nan, 8.0), False),
    ],
)
def test_hits(text, point, hit):
    assert aim_hit([point], parsed(text), INDOOR).tolist() == [hit]


@pytest.mark.parametrize(
    ("point_m", "hit"),
    [((1.5, 7.5), True), ((1.0, 7.0), True), ((2.2, 7.5), False), ((1.9, 8.9), False), ((1.5, 9.04), False)],
)
def test_a_target_as_placed(point_m, hit):
    """A mat of 1 x 1 m; its edge belongs to it."""
    court = court_named("indoor")
    aim = parse_aim("Outline 1,7  2,7 2,8 1,8", court, default_scheme(court))
    assert aim is not None
    assert (aim.kind, aim.text, aim.centre_m) == ("outline", "outline 1,7 2,7 2,8 1,8", (1.5, 7.5))
    assert aim_hit([point_m], aim, court).tolist() == [hit]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("outline 1,7 2,7", "needs 3 to 24 corners, not 2"),
        ("outline 1,7 2,8 2,7 1,8", "goes round it once"),
        ("outline 1,7 2,x 2,8", "corners as x,y in metres"),
        ("outline 1,7,3 2,8 2,9", "corners as x,y in metres"),
        ("outline 1,7 2,7 2,nan", "needs 3 to 24 corners"),
        ("outline 11,7 12,7 12,8", "lies off the court"),
    ],
)
def test_outlines_that_are_none(text, sentence):
    court = court_named("indoor")
    with pytest.raises(UserError, match=sentence):
        parse_aim(text, court, default_scheme(court))
