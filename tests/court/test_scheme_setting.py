"""A team's own area borders hold for the court they were set on, and for no other."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from serve_marker.court.areas import AreaScheme, default_scheme, scheme_from_setting, setting_with_scheme
from serve_marker.court.dimensions import COURTS

OWN = AreaScheme((2.0, 7.0), (2.5, 6.0), (3.0, 6.0), 0.8)
SMALL = AreaScheme((1.0, 3.0), (1.5, 3.0), (1.5, 3.0))
ONE_FOR_ALL = json.dumps(OWN.to_dict())
INDOOR, BEACH, YOUTH = (COURTS[name] for name in ("indoor", "beach", "youth-12"))


def test_each_court_keeps_its_own_borders():
    text = setting_with_scheme(setting_with_scheme("", INDOOR, OWN), YOUTH, SMALL)

    assert [scheme_from_setting(text, court) for court in (INDOOR, YOUTH)] == [OWN, SMALL]
    assert scheme_from_setting(text, BEACH) == default_scheme(BEACH)
    assert setting_with_scheme(setting_with_scheme(text, INDOOR, None), YOUTH, None) == ""


@pytest.mark.parametrize(
    ("court", "expected"),
    [(INDOOR, OWN), (BEACH, OWN), (YOUTH, default_scheme(YOUTH))],
    ids=["indoor", "fits too", "wider than the court"],
)
def test_borders_kept_for_all_courts_are_still_read(court, expected):
    assert scheme_from_setting(ONE_FOR_ALL, court) == expected


def test_a_court_may_leave_the_borders_kept_for_all():
    text = setting_with_scheme(ONE_FOR_ALL, INDOOR, None)

    assert scheme_from_setting(text, INDOOR) == default_scheme(INDOOR)
    assert scheme_from_setting(text, COURTS["high-school"]) == OWN


def test_courts_of_the_coachs_own_measures_are_told_apart_by_them():
    small, smaller = (replace(INDOOR, name="own", length_m=length_m) for length_m in (16.0, 14.0))
    text = setting_with_scheme("", small, OWN)

    assert scheme_from_setting(text, small) == OWN
    assert scheme_from_setting(text, smaller) == default_scheme(smaller)
