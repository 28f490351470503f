"""Who passed which step: serve tables made by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from serve_marker.court.areas import AREAS
from serve_marker.court.dimensions import court_named
from serve_marker.study.climb import AimClimb, Climb, StepClimb, climbs
from serve_marker.study.climb_words import (
    again_sentence,
    has_slipped,
    risk_words,
    server_climb_sentence,
    step_meaning,
    step_words,
    team_climb_sentence,
)
from serve_marker.study.intraclass import EVENING_COLUMNS, codes_of
from serve_marker.study.ladder import LadderStep, usual_ladder
from serve_marker.study.serve_shape import on_target

DEEP = LadderStep("deep 1", ("deep 1",), least_effort=0.0)
GOOD, BAD = "1110" * 5, "1000" * 5


def table(*evenings, aim="deep 1", player="marit", **columns):
    """Serves of one server: each evening a text of 1 (hit), 0 (miss), ? (received, not known where), n (net)."""
    marks = [mark for serves in evenings for mark in serves]
    dates = [f"2026-10-{day + 1:02d}" for day, serves in enumerate(evenings) for _ in serves]
    hits = np.array([mark == "1" for mark in marks])
    known = {"n": "net", "?": "received"}
    serves = pd.DataFrame(
        {
            "player_id": player,
            "server": f"7 {player.title()}",
            "number": 7.0,
            "name": player.title(),
            "practice_id": dates,
            "date": dates,
            "aim": aim,
            "serve_type": "float",
            "target_kind": "none",
            "outcome": [known.get(mark, "floor") for mark in marks],
            "verdict": ["" if mark in known else "in" for mark in marks],
            "aim_hit": [None if mark in known else mark == "1" for mark in marks],
            "aim_surely": hits,
            "aim_may": hits | np.array([mark == "?" for mark in marks]),
            "aim_has_depth": True,
            "x_m": np.where(hits, 1.5, 5.0),
            "y_m": np.where(hits, 7.5, 5.0),
            "aim_x_m": 1.5,
            "aim_y_m": 7.5,
            "effort": np.nan,
            "pace_mps": np.nan,
            "pace_low_mps": np.nan,
            "pace_high_mps": np.nan,
        }
    )
    serves = serves.assign(**columns)
    serves["evening"] = codes_of(serves, EVENING_COLUMNS)
    serves.attrs["rho"] = {"rate": 0.0, "place": 0.0}
    return serves


def only(serves, step=DEEP) -> AimClimb:
    (climb,) = climbs(serves, [step])
    return climb.steps[0].at_aims[0]


def test_a_good_server_passes_on_the_day_the_second_evening_tells():
    """3 of 4 hit: 20 serves tell 5 (3 x .405 - .693) = 2.6; half of what is asked must come from another date."""
    one = only(table(GOOD, GOOD, GOOD))
    assert one.passed_on == "2026-10-02"
    assert 20 < one.passed_after <= 40
    assert (one.n, one.hits, one.unknown, one.last_on) == (60, 45, 0, "2026-10-03")
    assert not only(table("1" * 100)).passed


def test_a_poor_server_is_told_that_it_is_not_yet():
    one = only(table(BAD, BAD, BAD))
    assert (one.passed, one.not_yet, one.share) == (False, True, 0.0)
    assert one.lacking > 20


def test_one_good_evening_does_not_turn_not_yet_into_too_early_and_two_do():
    assert only(table(*[BAD] * 6, "11101110")).not_yet
    assert not only(table(*[BAD] * 6, GOOD, GOOD, GOOD)).not_yet


def test_few_serves_are_too_early_either_way():
    for serves in ("1110", "0000", "1" * 10):
        one = only(table(serves))
        assert (one.passed, one.not_yet) == (False, False)


def test_a_step_once_passed_stays_passed_and_may_slip():
    slipped = only(table(GOOD, GOOD, GOOD, *[BAD] * 4))
    assert slipped.passed_on == "2026-10-02"
    assert slipped.not_yet
    assert not only(table(GOOD, GOOD, GOOD, GOOD)).not_yet


def test_balls_taken_by_passers_neither_pass_nor_fail_anybody():
    """Known hits alone fall short, and were the unknown ones hits it would be passed: nothing is told."""
    taken = only(table(*["11??" * 5] * 4))
    assert (taken.passed, taken.not_yet, taken.unknown) == (False, False, 40)
    assert only(table(*["1110" * 5 + "?"] * 4)).passed


def test_the_ladder_counts_hits_as_every_page_does():
    """Of 40: 20 surely hit, 8 landed within their error of the aim's border, 12 missed; one is received nowhere."""
    serves = table("1" * 14 + "0" * 6, "1" * 14 + "0" * 6 + "?")
    serves.loc[[10, 11, 12, 13, 30, 31, 32, 33], "aim_surely"] = False
    one = only(serves)
    assert (one.n, one.hits) == (41, 28)
    assert one.counted == on_target(serves)
    assert step_words(StepClimb(DEEP, (one,)), "2026-10-03")[0] == "20–28 of 40"


def test_serves_into_the_net_are_misses():
    assert only(table(*["1nnn" * 5] * 3)).not_yet


@pytest.mark.parametrize(("effort", "passed", "n"), [(0.9, True, 80), (0.7, False, 0)])
def test_soft_serves_do_not_count(effort, passed, n):
    one = only(table(*[GOOD] * 4, effort=effort), replace(DEEP, least_effort=0.8))
    assert (one.passed, one.n, one.soft) == (passed, n, 80 - n)


def test_serves_that_are_not_timed_never_pass_where_effort_is_asked_for():
    one = only(table(*[GOOD] * 4), replace(DEEP, least_effort=0.8))
    assert (one.passed, one.not_yet, one.hits, one.untimed) == (False, False, 0, 60)
    assert step_words(StepClimb(DEEP, (one,)), "2026-10-09") == ("80 serves", "60 not timed")


def test_a_gate_of_pace_asks_for_serves_that_surely_reach_it():
    gate = LadderStep("pace", (), True, ("float",), 0.25, 0.5, least_effort=0.0, least_pace_mps=18.0)
    for low, high, passed, unknown in ((18.5, 20.0, True, 0), (16.0, 17.5, False, 0), (17.0, 19.0, False, 80)):
        serves = table(*[GOOD] * 4, aim="", pace_mps=(low + high) / 2, pace_low_mps=low, pace_high_mps=high)
        one = only(serves, gate)
        assert (one.passed, one.unknown) == (passed, unknown)
    assert only(serves, replace(gate, serve_types=("jump topspin",))).n == 0


def test_places_pass_a_server_who_serves_near_the_middle_and_not_one_at_the_border():
    step = LadderStep("near", ("deep 1",), not_enough=1.2, mastery=0.9, by_places=True, least_effort=0.0)
    near = table(*["1" * 20] * 4)
    edge = near.assign(x_m=1.5 + 1.4 * np.tile([1, -1], 40), y_m=7.5 + 1.3)
    assert only(near, step).passed
    assert (only(edge, step).passed, only(edge, step).not_yet) == (False, True)


def test_a_seam_is_judged_sideways_where_any_of_its_serves_names_no_depth():
    step = LadderStep("near", ("seam 5-6",), not_enough=1.2, mastery=0.9, by_places=True, least_effort=0.0)
    seam = table(*["1" * 20] * 4, aim="seam 5-6").assign(aim_has_depth=False, y_m=2.0)
    mixed = seam.assign(aim_has_depth=[True] + [False] * 79)
    assert only(mixed, step).passed


def test_two_practices_of_one_day_are_one_date():
    serves = table(GOOD, GOOD, GOOD)
    assert not only(serves.assign(date="2026-10-01")).passed


def test_an_aim_with_a_point_of_its_own_is_the_aim():
    assert only(table(GOOD, GOOD, GOOD, aim="deep 1 at 8.2")).passed


def test_every_aim_or_any():
    serves = pd.concat([table(*[GOOD] * 4), table(*[BAD] * 4, aim="deep 5")], ignore_index=True)
    serves.attrs["rho"] = {"rate": 0.0}
    both = LadderStep("corners", ("deep 1", "deep 5"), least_effort=0.0)
    (climb,) = climbs(serves, [both, replace(both, every_aim=False)])
    every, any_one = climb.steps
    assert (every.passed_on, any_one.passed_on) == ("", "2026-10-02")
    assert every.next_aim.aim == "deep 5"
    assert climb.next_step is every
    assert step_words(every, "2026-10-09") == ("1 of 2 aims", "then deep 5")


def test_any_aim_has_slipped_only_where_all_that_passed_have():
    still, gone = table(*[GOOD] * 8), table(*[GOOD] * 4, *[BAD] * 4, aim="deep 5")
    serves = pd.concat([still, gone], ignore_index=True)
    serves.attrs["rho"] = {"rate": 0.0}
    both = LadderStep("corners", ("deep 1", "deep 5"), least_effort=0.0)
    (climb,) = climbs(serves, [both, replace(both, every_aim=False)])
    assert [has_slipped(step) for step in climb.steps] == [True, False]


def test_much_evidence_is_never_not_yet():
    """100 serves at 40 %, then better ones: once most of the evidence is there, it is too early to say."""
    for better in range(1, 6):
        one = only(table(*["1100100101"] * 10, *["1110111101"] * better))
        assert one.passed or not (one.not_yet and one.share > 0.5)


def test_serves_without_a_date_or_a_server_are_left_out():
    serves = table(*[GOOD] * 4)
    assert climbs(serves.assign(date=""), [DEEP]) == []
    assert climbs(serves.assign(player_id=""), [DEEP]) == []
    assert climbs(serves, []) == [Climb("marit", "7 Marit", ())]


def test_a_step_is_done_as_far_as_its_words_say():
    """9 of 30 is three tenths; one of three aims passed a third, however many serves hit the others."""
    one = AimClimb("deep 1", n=30, hits=9, share=0.9)
    assert StepClimb(DEEP, (one,)).done == pytest.approx(0.3)
    three = LadderStep("three", ("deep 1", "deep 5", "deep 6"), every_aim=True)
    aims = (replace(one, passed_on="2026-10-02"), replace(one, aim="deep 5", hits=25), AimClimb("deep 6"))
    assert StepClimb(three, aims).done == pytest.approx(1 / 3)
    assert StepClimb(DEEP, (AimClimb("deep 1"),)).done == 0.0


def test_the_ladder_in_words():
    (climb,) = climbs(table(*[GOOD] * 4), [DEEP, replace(DEEP, name="deep 5", aims=("deep 5",))])
    assert server_climb_sentence(climb, "2026-10-04") == "7 Marit has passed deep 1. Next: deep 5, not served yet."
    assert team_climb_sentence([climb]) == "Deep 1: passed by 1 of 1 server."
    assert step_words(climb.steps[0], "2026-10-04") == ("✓ 2 Oct", "")
    assert step_words(climb.steps[0], "2026-12-24") == ("✓ 2 Oct", "not seen since")
    assert again_sentence([climb], "2026-10-04") == ""
    assert again_sentence([climb], "2026-12-24") == "Not seen for weeks: 7 Marit deep 1."
    (poor,) = climbs(table(*[BAD] * 4), [DEEP])
    assert server_climb_sentence(poor, "2026-10-04").endswith("Next: deep 1, not yet there with 20 of 80.")
    (few,) = climbs(table("1101"), [DEEP])
    assert "too early to say: about" in server_climb_sentence(few, "2026-10-04")
    assert again_sentence([climb], "soon") == "", "a day that cannot be read tells nothing"
    (slipped,) = climbs(table(*[GOOD] * 3, *[BAD] * 4), [DEEP])
    assert step_words(slipped.steps[0], "2026-10-08") == ("✓ 2 Oct", "slipped since")
    assert "Slipped since: 7 Marit deep 1." in again_sentence([slipped], "2026-10-08")


def test_what_the_steps_ask_for():
    court = court_named("indoor")
    told = [step_meaning(step, court) for step in usual_ladder(court, 18.0)]
    assert told[1] == (
        "Seam 5-6 needs 38 of 100 on target, 20 are too few. A spread of 1.0 m does it, 2.0 m does not. "
        "At 80 % of her best pace."
    )
    assert told[4] == "Jump topspin pace needs 50 of 100 on target, 25 are too few. At 65 km/h or more, jump topspin."
    assert "at most 10 of 100 servers in 400 serves." in risk_words(usual_ladder(court))
    assert risk_words(()) == ""
    assert len(usual_ladder(court)[2].aims) == len(AREAS)
