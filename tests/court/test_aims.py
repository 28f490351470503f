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
