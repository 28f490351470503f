"""Beach and sitting volleyball, the balls of each, and what the rules say of them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from serve_marker.court.aims import aim_hit, parse_aim
from serve_marker.court.areas import AREAS, area_names, area_polygon, classify, default_scheme, seam_polygon
from serve_marker.court.balls import BEACH_BALL, INDOOR_BALL, LIGHT_BALL
from serve_marker.court.dimensions import COURTS
from serve_marker.court.formations import preset
from serve_marker.court.line_calls import possible_places
from serve_marker.court.seams import seam_polygons, seams_at
from serve_marker.errors import UserError

BEACH, SITTING = COURTS["beach"], COURTS["sitting"]
SCHEME = default_scheme(BEACH)


def test_sitting_volleyball_by_its_rules():
    """World ParaVolley: 10 x 6 m, attack line at 2 m, net 1.15 m for men and 1.05 m for women."""
    assert (SITTING.length_m, SITTING.width_m, SITTING.attack_line_m) == (10.0, 6.0, 2.0)
    assert {net.name: net.height_m for net in SITTING.net_heights} == {"men": 1.15, "women": 1.05}


@pytest.mark.parametrize(
    ("ball", "around_m", "mass_kg"),
    [(INDOOR_BALL, (0.65, 0.67), (0.26, 0.28)), (BEACH_BALL, (0.66, 0.68), (0.26, 0.28)),
     (LIGHT_BALL, (0.65, 0.67), (0.198, 0.227))],
)  # fmt: skip
def test_balls_lie_in_the_middle_of_what_their_rules_allow(ball, around_m, mass_kg):
    """FIVB 3.1 indoors and on the beach; 7-8 oz for the light ball."""
    assert 2 * math.pi * ball.radius_m == pytest.approx(np.mean(around_m), abs=0.001)
    assert ball.mass_kg == pytest.approx(np.mean(mass_kg), abs=0.001)


def test_each_court_has_its_ball():
    assert (BEACH.ball, SITTING.ball, COURTS["youth-12"].ball) == (BEACH_BALL, INDOOR_BALL, LIGHT_BALL)


def test_the_beach_has_line_middle_and_cross():
    """Thirds of 8 m: a server at her right looks straight down the line, at x above 5.33 m in the half frame."""
    found = classify([(7.0, 7.0), (4.0, 4.0), (1.0, 1.0)], BEACH, SCHEME)
    assert found.area.tolist() == ["deep line", "between middle", "short cross"]
    aim = parse_aim("Line", BEACH, SCHEME)
    assert aim is not None
    assert aim_hit([(7.0, 1.0), (7.0, 7.9), (5.0, 7.0)], aim, BEACH).tolist() == [True, True, False]
    for name, indoors in zip(area_names("beach"), AREAS, strict=True):
        assert area_polygon(name, BEACH, SCHEME).equals(area_polygon(indoors, BEACH, SCHEME))
    with pytest.raises(UserError, match="aim 'line' is not known"):
        parse_aim("line", COURTS["indoor"], default_scheme(COURTS["indoor"]))


def test_two_passers_have_one_seam_the_middle():
    """Half of 8 m."""
    two = preset(2, "back", BEACH)
    (between,) = seam_polygons(two, BEACH).values()
    assert seams_at([(4.4, 7.0), (0.4, 7.0), (7.6, 7.0)], two, BEACH).tolist() == [*seam_polygons(two, BEACH), "", ""]
    middle = seam_polygon("seam middle", BEACH, SCHEME)
    assert between.centroid.x == pytest.approx(4.0)
    assert middle.bounds[::2] == (3.5, 4.5)
    assert classify([(4.4, 7.0), (4.6, 7.0), (2.7, 7.0)], BEACH, SCHEME).seam.tolist() == ["seam middle", "", ""]
    sure = possible_places([(4.0, 7.0), (2.7, 7.0)], [np.eye(2) * 0.01] * 2, BEACH, SCHEME)
    assert (sure.seams.tolist(), sure.seam_sure.tolist()) == ([1, 0], [True, False])
