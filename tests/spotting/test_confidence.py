from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np
import pytest

from serve_marker.camera.view.view import View
from serve_marker.logbook.records import Half, Serve
from serve_marker.spotting.confidence import (
    AT_BEST,
    LEAST,
    NEAR_BORDER,
    NO_REBOUND,
    NO_TOSS,
    THE_OTHER_WAY,
    Doubt,
    confidence_of,
    flight_doubts,
)
from serve_marker.spotting.proposals import Proposal, with_serving_end
from serve_marker.spotting.serves import FoundServe


@dataclass
class SomeFit:
    cost: float = 10.0
    strain: float = 1.0
    seen: int = 30
    contact_s: float = 0.0
    end_s: float = 1.0


@dataclass
class SomeServe:
    fit: SomeFit


CONFIDENT = 0.9
TIMES_S = np.arange(-1, 2, 1 / 30)


def doubts(**changed: float) -> list[str]:
    found = cast(FoundServe, SomeServe(SomeFit(**changed)))  # type: ignore[arg-type]
    return [doubt.why for doubt in flight_doubts(found, TIMES_S)]


def test_a_flight_seen_all_along_that_fits_is_not_doubted() -> None:
    assert doubts() == []


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"cost": 40.0}, "the flight does not fit well"),
        ({"strain": 9.0}, "it is hit at an unusual place or speed"),
        ({"seen": 15, "cost": 5.0}, "the ball is hidden on much of its way"),
    ],
)
def test_each_doubt_has_its_reason(changed: dict[str, float], why: str) -> None:
    assert doubts(**changed) == [why]


def proposal(contact_s: float, served_to: Half, *weights: float) -> Proposal:
    told = tuple(Doubt("some doubt", weight) for weight in weights)
    ends = (np.array([0.0, -7.0]), np.eye(2) * 0.01)
    unseen = (np.zeros((0, 3)), cast(View, None), Serve(id="", clip_id=""))
    return Proposal(
        *(contact_s, contact_s + 1.2, *ends, served_to, "floor", 13.0, 0.5), confidence_of(told), told, *unseen
    )


def test_what_flies_the_other_way_from_most_is_doubted_or_left_out() -> None:
    most = [proposal(8.0, "a"), proposal(4.0, "a")]
    back, unsure = proposal(6.0, "b"), proposal(7.0, "b", 2.5)

    kept = with_serving_end([*most, back, unsure])

    assert [one.contact_s for one in kept] == [4.0, 8.0]
    assert back.doubted(THE_OTHER_WAY).confidence < LEAST


def test_a_missing_toss_alone_leaves_a_serve_confident() -> None:
    assert confidence_of([Doubt("the toss is not seen", NO_TOSS)]) >= CONFIDENT
    assert confidence_of([Doubt("some doubt", NO_TOSS + NO_REBOUND + NEAR_BORDER + 3.0)]) < CONFIDENT


def test_serves_from_both_ends_alike_are_all_kept() -> None:
    assert len(with_serving_end([proposal(1.0, "a"), proposal(2.0, "b")])) == 2


def test_slow_motion_is_told_on_the_clips_own_clock() -> None:
    slower = proposal(1.0, "a").shown_slower(0.25)

    assert (slower.contact_s, slower.landing_s) == (4.0, 8.8)
    assert slower.pace_mps == 13.0


def test_a_proposal_says_all_that_speaks_against_it() -> None:
    row = proposal(1.0, "a", 2.0, 1.6).to_dict()

    assert row["why"] == "some doubt; some doubt"
    assert row["confidence"] == pytest.approx(1 / (1 + np.exp(2.0 + 1.6 - AT_BEST)), abs=0.01)
    assert row["served_to"] == "a"
    assert row["outcome"] == "floor"
    assert row["cov_m2"] == [[0.01, 0.0], [0.0, 0.01]]
