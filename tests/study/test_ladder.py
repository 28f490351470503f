"""The steps of the ladder: rates from spreads, what a coach may write, and how they are kept."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import scipy.stats

from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import COURTS, court_named
from serve_marker.errors import UserError
from serve_marker.logbook.store import Logbook
from serve_marker.study.ladder import (
    LADDER_SETTING,
    LadderStep,
    ladder_of,
    ladder_text,
    rate_at_spread,
    spread_at_rate,
    usual_ladder,
)
from serve_marker.study.ladder_texts import STEP_COLUMNS, step_from_texts, step_texts

COURT = court_named("indoor")
SCHEME = default_scheme(COURT)


@pytest.mark.parametrize("spread_m", [0.5, 1.0, 1.43, 2.0])
def test_rates_at_a_spread_are_those_of_the_normal_distribution(spread_m):
    """scipy.stats.norm."""
    side = scipy.stats.norm(0, spread_m).cdf(1.5) - scipy.stats.norm(0, spread_m).cdf(-1.5)
    assert rate_at_spread(spread_m, 3.0, 3.0) == pytest.approx(side**2)
    assert rate_at_spread(spread_m, 3.0) == pytest.approx(side)
    assert spread_at_rate(side**2, 3.0, 3.0) == pytest.approx(spread_m)


def test_the_usual_steps_can_be_reached_by_a_spread_of_a_metre():
    """.75 of 3 m areas and .38 of a 1 m seam, worked by hand: (2 F(1.5) - 1)^2 and 2 F(.5) - 1 of the normal F."""
    deep, seam, *_ = usual_ladder(COURT)
    side = scipy.stats.norm.cdf([1.5, 0.5]) - scipy.stats.norm.cdf([-1.5, -0.5])
    assert (deep.mastery, seam.mastery) == pytest.approx((side[0] ** 2, side[1]), abs=0.005)


@pytest.mark.parametrize("name", COURTS)
def test_every_court_has_its_usual_ladder(name):
    court = court_named(name)
    steps = usual_ladder(court, 18.0)
    assert len(steps[2].aims) == 9
    assert steps[-1].least_pace_mps == 18.0
    for step in steps:
        assert step_from_texts(step_texts(step, court, "km/h"), court, default_scheme(court), "km/h", step) is step


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"name": " "}, "needs a name"),
        ({"mastery": 0.5}, "two rates"),
        ({"mastery": 1.0}, "two rates"),
        ({"by_places": True}, "write metres"),
        ({"by_places": True, "not_enough": 1.2, "mastery": 0.9, "aims": ()}, "name one"),
        ({"least_effort": 1.2}, "effort"),
        ({"least_pace_mps": math.inf}, "pace"),
        ({"risk": 0.9}, "risk"),
        ({"risk": 0.01, "every_aim": False, "aims": ("deep 1", "deep 5", "deep 6")}, "allows 2 aims joined by or"),
        ({"serve_types": ("lob",)}, "lob is no serve type"),
    ],
)
def test_steps_that_cannot_be_are_refused_by_name(changed, words):
    with pytest.raises(UserError, match=words):
        replace(LadderStep("deep 1", ("deep 1",)), **changed)


def test_any_of_several_aims_shares_the_risk():
    step = LadderStep("corners", ("deep 1", "deep 5"), every_aim=False)
    assert step.risk_of_each == pytest.approx(0.05)
    assert replace(step, every_aim=True).risk_of_each == 0.1


def test_steps_are_kept_in_the_logbook(tmp_path):
    steps = (LadderStep("corners", ("deep 1", "deep 5"), False, ("float",), 1.2, 0.9, True, 0.0, 15.0, 0.05),)
    with Logbook.create(tmp_path / "team.logbook") as book:
        assert ladder_of(book, COURT, 17.0) == usual_ladder(COURT, 17.0)
        book.set_setting(LADDER_SETTING, ladder_text(steps, usual_ladder(COURT)))
    with Logbook.open(tmp_path / "team.logbook") as book:
        assert ladder_of(book, COURT) == steps
        book.set_setting(LADDER_SETTING, ladder_text(usual_ladder(COURT), usual_ladder(COURT)))
        assert ladder_of(book, COURT) == usual_ladder(COURT)


@pytest.mark.parametrize(
    "text", ["[", "3", '{"a": 1}', '[{"nme": "x"}]', '[{"name": 3}]', '[{"name": "a", "mastery": "x"}]']
)
def test_steps_that_cannot_be_read_are_said_to_be(tmp_path, text):
    with Logbook.create(tmp_path / "team.logbook") as book:
        book.set_setting(LADDER_SETTING, text)
        with pytest.raises(UserError, match="set them again"):
            ladder_of(book, COURT)


def typed(**cells):
    usual = dict(zip(STEP_COLUMNS, step_texts(LadderStep("deep 1", ("deep 1",)), COURT, "km/h"), strict=True))
    return step_from_texts(tuple((usual | cells).values()), COURT, SCHEME, "km/h")


def test_what_a_coach_types():
    step = typed(step="float", **{"serve types": "Float, jump float", "least pace": "54", "effort": "", "risk": ""})
    assert step.serve_types == ("float", "jump float")
    assert step.least_pace_mps == pytest.approx(15.0)
    assert (step.least_effort, step.risk) == (0.0, 0.1)
    assert typed(aims="Deep 1 AND seam 5-6").aims == ("deep 1", "seam 5-6")
    assert typed(aims="1.5,8,0.5 or deep 5").every_aim is False
    assert len(typed(aims="any area").aims) == 9
    assert typed(mastery="80", **{"not enough": "62,5 %"}).not_enough == 0.625


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"aims": "deep 9"}, "deep 9"),
        ({"aims": "deep 1 and deep 5 or deep 6"}, "not both"),
        ({"mastery": "most"}, "most is no number"),
        ({"mastery": ""}, "an empty cell is no number"),
        ({"mastery": "0.9 m"}, "both in"),
        ({"mastery": "40 %"}, "two rates"),
    ],
)
def test_what_cannot_be_read_is_named(cells, words):
    with pytest.raises(UserError, match=words):
        typed(**cells)
