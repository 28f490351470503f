"""Who has climbed which step of the ladder: passed, not yet, or too early to say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.aims import OWN_POINT
from serve_marker.court.dimensions import Floats
from serve_marker.study.by_server import servers_of
from serve_marker.study.fewest_serves import FEWEST
from serve_marker.study.groups import coded, looked_up, rows_of
from serve_marker.study.intraclass import rho_of
from serve_marker.study.ladder import LadderStep
from serve_marker.study.mastery import Goal, evidence, serves_lacking, threshold, usual_evening
from serve_marker.study.pull import MISS_COLUMNS, depth_known, misses_of
from serve_marker.study.rates import RATE_COLUMNS, Rate, aim_attempts, error_rate, in_attempts
from serve_marker.study.serve_shape import NOTHING_COUNTED, OnTarget, on_target

if TYPE_CHECKING:
    import pandas

RHO_STEP = 0.02
"""Correlations are rounded up to this, so that thresholds need not be drawn anew after every serve."""
MOST_RHO = 0.4
MOST_DOUBTED = 0.5
"""With more of the evidence gathered it is too early to say, whatever was before."""
DOUBTS_KEPT = 2.0
"""Evidence against mastery grows up to so many times what "not yet" asks for: one good evening does not turn it."""
COUNTED_COLUMNS = tuple(
    dict.fromkeys(
        (*RATE_COLUMNS, *MISS_COLUMNS, "date", "serve_type", "effort", "pace_mps", "pace_low_mps", "pace_high_mps")
    )
)


@dataclass(frozen=True)
class AimClimb:
    """How far a server is at one aim of a step.

    Parameters
    ----------
    aim : the aim; "" where the step asks for none.
    n, hits, unknown : serves that count, surely or most likely hits, and those that cannot be told.
    counted : the same serves as every page counts them, which tells sure hits from those that may be.
    untimed : of the unknown ones, those whose pace or effort would have to be known.
    soft : serves left out beside the n, since they were softer than the step asks.
    passed_on, last_on : days YYYY-MM-DD on which the step was passed, "" where not, and on which it was served last.
    passed_after : after how many of the serves it was passed.
    not_yet : whether the serves tell that she has not mastered it, or no longer.
    share : how much of the evidence asked for is there [0-1].
    lacking : about how many more serves would bring the rest, if she has mastered it.
    likely : whether the serves so far speak for mastery rather than against it.
    """

    aim: str
    n: int = 0
    hits: int = 0
    unknown: int = 0
    counted: OnTarget = NOTHING_COUNTED
    untimed: int = 0
    soft: int = 0
    passed_on: str = ""
    last_on: str = ""
    passed_after: int = 0
    not_yet: bool = False
    share: float = 0.0
    lacking: int = 0
    likely: bool = False

    @property
    def passed(self) -> bool:
        """Whether it was passed, once."""
        return bool(self.passed_on)


@dataclass(frozen=True)
class StepClimb:
    """How far a server is at one step: at each of its aims."""

    step: LadderStep
    at_aims: tuple[AimClimb, ...]

    @property
    def passed_on(self) -> str:
        """The day on which the whole step was passed, "" where it was not."""
        days = [one.passed_on for one in self.at_aims if one.passed]
        if self.step.every_aim:
            return max(days) if len(days) == len(self.at_aims) else ""
        return min(days, default="")

    @property
    def next_aim(self) -> AimClimb:
        """Where to go on: of the aims not passed the one served most, or all where all are passed."""
        open_ones = [one for one in self.at_aims if not one.passed]
        return max(open_ones or self.at_aims, key=lambda one: one.n)

    @property
    def done(self) -> float:
        """The share of its aims that are passed [0-1], or of serves that hit the one to go on at."""
        if self.step.every_aim and len(self.at_aims) > 1:
            return sum(one.passed for one in self.at_aims) / len(self.at_aims)
        return self.next_aim.hits / max(self.next_aim.n, 1)

    @property
    def last_on(self) -> str:
        """The day on which any of its aims was served last."""
        return max(one.last_on for one in self.at_aims)


@dataclass(frozen=True)
class Climb:
    """One server on the ladder, its steps in their order.

    ``errors`` are those of all her serves, where they lie above the coach's limit with the whole interval; else None.
    """

    player_id: str
    server: str
    steps: tuple[StepClimb, ...]
    errors: Rate | None = None

    @property
    def next_step(self) -> StepClimb | None:
        """The first step not passed; None where all are."""
        return next((step for step in self.steps if not step.passed_on), None)


def climbs(table: pandas.DataFrame, steps: Sequence[LadderStep], most_errors: float = 1.0) -> list[Climb]:
    """Return every server of a serve table on the ladder, by shirt number; the table's serves stand in their order.

    ``most_errors`` is the share of errors the coach puts up with [0-1].
    """
    dated = table[table["date"] != ""]
    counted = dated[list(COUNTED_COLUMNS)]
    aims = looked_up(dated["aim"].to_numpy(dtype=object), lambda aim: aim.partition(OWN_POINT)[0])
    of_player = rows_of(dated["player_id"].to_numpy(dtype=object))
    found = []
    for player_id, server in servers_of(dated):
        own, own_aims = counted.iloc[of_player[player_id]], aims[of_player[player_id]]
        at = {"": own} | {aim: own[own_aims == aim] for aim in {aim for step in steps for aim in step.aims}}
        climbed = (StepClimb(step, tuple(_at_aim(at[aim], step, aim) for aim in step.aims or ("",))) for step in steps)
        errors = error_rate(own)
        found.append(Climb(player_id, server, tuple(climbed), errors if errors.low > most_errors else None))
    return found


def _at_aim(table: pandas.DataFrame, step: LadderStep, aim: str) -> AimClimb:
    rows, soft = _that_count(table, step)
    if not len(rows):
        return AimClimb(aim, soft=soft)
    goal = step.goal(bool(rows["aim_has_depth"].all()))
    days = rows["date"].to_numpy(dtype=object)
    evenings = coded(days).codes
    hits, unknown, untimed = _hits(rows, step)
    least, most = _told(rows, goal, hits, unknown)
    rho = _rounded_up(rho_of(rows, "place" if step.by_places else "rate"))
    each = usual_evening(evenings)
    asked = threshold(goal, rho, each, step.risk_of_each)
    gathered = evidence(least, evenings, rho)
    passed = np.flatnonzero(gathered >= asked)
    first_since = int(passed[0]) + 1 if len(passed) else 0
    enough_against = threshold(goal, rho, each, step.risk / max(len(step.aims), 1), against=True)
    most_against = DOUBTS_KEPT * enough_against
    against = evidence(-most[first_since:], evenings[first_since:], rho, two_dates=False, most=most_against)
    told_against = len(against) >= FEWEST and bool(against[-1] >= enough_against)
    share = 1.0 if first_since else min(max(float(gathered[-1]) / asked, 0.0), 1.0)
    return AimClimb(
        aim,
        n=len(rows),
        hits=int(hits.sum()),
        unknown=int(unknown.sum()),
        counted=_as_on_pages(rows, step, hits, unknown),
        untimed=int(untimed.sum()),
        soft=soft,
        passed_on=str(days[first_since - 1]) if first_since else "",
        last_on=str(days[-1]),
        passed_after=first_since,
        not_yet=told_against and (bool(first_since) or share <= MOST_DOUBTED),
        share=share,
        lacking=serves_lacking(goal, rho, each, (1 - share) * asked),
        likely=float(least.sum() + most.sum()) > 0,
    )


def _that_count(table: pandas.DataFrame, step: LadderStep) -> tuple[pandas.DataFrame, int]:
    """The serves of the types asked for, none of them known to be too soft, and how many were."""
    asked = np.ones(len(table), dtype=bool)
    if step.serve_types:
        asked &= table["serve_type"].isin(step.serve_types).to_numpy()
    soft = np.zeros(len(table), dtype=bool)
    if step.least_effort > 0:
        soft = asked & (table["effort"] < step.least_effort).to_numpy()
    return table[asked & ~soft], int(soft.sum())


def _hits(rows: pandas.DataFrame, step: LadderStep) -> tuple[NDArray[np.bool_], NDArray[np.bool_], NDArray[np.bool_]]:
    """Which serves (N,) are hits, which cannot be told, and which of these for want of a pace.

    A landing whose error reaches the border counts as it was marked: as many are wrong either way.
    """
    attempts = aim_attempts(rows) if step.aims else in_attempts(rows)
    hits, unknown = attempts.sure | attempts.marked, attempts.unknown & ~attempts.marked
    untimed = np.zeros(len(rows), dtype=bool)
    if step.least_effort > 0:
        untimed |= rows["effort"].isna().to_numpy()
    if step.least_pace_mps > 0:
        fast = (rows["pace_low_mps"] >= step.least_pace_mps).to_numpy()
        slow = (rows["pace_high_mps"] < step.least_pace_mps).to_numpy()
        untimed |= rows["pace_mps"].isna().to_numpy()
        unknown |= hits & ~fast & ~slow
        hits, unknown = hits & ~slow, unknown & ~slow
    untimed &= hits | unknown
    unknown = unknown | untimed
    return hits & ~unknown, unknown, untimed


def _as_on_pages(
    rows: pandas.DataFrame, step: LadderStep, hits: NDArray[np.bool_], unknown: NDArray[np.bool_]
) -> OnTarget:
    if step.aims and not step.least_pace_mps:
        return on_target(rows)
    return OnTarget(len(rows), int(hits.sum()), int(unknown.sum()), 0)


def _told(
    rows: pandas.DataFrame, goal: Goal, hits: NDArray[np.bool_], unknown: NDArray[np.bool_]
) -> tuple[Floats, Floats]:
    """What the serves (N,) tell for mastery at least, and at most: the unknown ones count against it, or for it."""
    if not goal.axes:
        return goal.of_hits(hits), goal.of_hits(hits | unknown)
    misses_m = misses_of(rows)
    misses_m[:, 1] += depth_known(rows)
    squared_m2 = np.square(misses_m[:, : goal.axes]).sum(axis=1)
    told = goal.of_misses(squared_m2)
    nowhere = goal.of_misses(np.full(len(rows), np.nan))
    return np.where(unknown, nowhere, told), np.where(unknown & np.isnan(squared_m2), 0.0, told)


def _rounded_up(rho: float) -> float:
    return min(float(np.ceil(round(rho / RHO_STEP, 6)) * RHO_STEP), MOST_RHO)
