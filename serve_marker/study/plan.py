"""The plan of a practice: suggested from the ladder, and how far it has been served."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from serve_marker.court.aims import OWN_POINT
from serve_marker.logbook.records import PlanBlock
from serve_marker.study.climb import AimClimb, Climb, StepClimb
from serve_marker.study.climb_words import has_slipped, is_unseen, rounded_serves, step_words, verdict_words
from serve_marker.study.ladder import LadderStep
from serve_marker.study.serve_shape import on_target_words

MOST_SERVES, FIRST_SERVES, SERVES_AGAIN = 20, 10, 10
"""Serves of each player in one block: at most, at an aim she begins with, and at a step shown again (own choice)."""
A_MINUTE = 10
"""So many serves a team hits in a minute, one behind the other (own choice: a ball every six seconds)."""
MOST_NAMED = 3


def suggested_blocks(
    found: Sequence[Climb],
    today: str,
    absent: Collection[str] = (),
    players: Mapping[str, str] = MappingProxyType({}),
    steps: Sequence[LadderStep] = (),
) -> tuple[PlanBlock, ...]:
    """Return what the players who are there serve next, each at her next step, and what is to be shown again.

    Players who go on at the same aim serve in one block; who makes too many errors is asked for no pace. Every block
    says why: the step, and what is missing. Those of ``players``, by id, who never served begin with the first of
    ``steps``.
    """
    known = {climb.player_id for climb in found}
    bare = tuple(StepClimb(step, tuple(AimClimb(aim) for aim in step.aims or ("",))) for step in steps)
    found = [*found, *(Climb(key, words, bare) for key, words in players.items() if key not in known)]
    there = [climb for climb in found if climb.player_id not in absent]
    going_on: defaultdict[tuple[LadderStep, str], list[tuple[Climb, AimClimb]]] = defaultdict(list)
    again: defaultdict[tuple[LadderStep, str], list[tuple[Climb, StepClimb]]] = defaultdict(list)
    for climb in there:
        step = climb.next_step
        if step is not None:
            one = step.next_aim
            asked = replace(step.step, least_effort=0.0) if climb.errors else step.step
            going_on[asked, one.aim].append((climb, one))
        for passed in climb.steps:
            if has_slipped(passed) or is_unseen(passed, today):
                oldest = min((one for one in passed.at_aims if one.passed), key=lambda one: one.last_on)
                again[passed.step, oldest.aim].append((climb, passed))
    blocks = [
        _block(step, aim, [climb for climb, _ in who], max(_serves(one) for _, one in who), _missing_words(step, who))
        for (step, aim), who in going_on.items()
    ]
    blocks += [
        _block(step, aim, [climb for climb, _ in who], SERVES_AGAIN, _again_words(step, who, today))
        for (step, aim), who in again.items()
    ]
    return tuple(blocks)


@dataclass(frozen=True)
class PlanState:
    """Which block is served now, the number of blocks where all are, and who of it has served least, "" for nobody."""

    block: int
    next_player: str = ""


def plan_state(blocks: Sequence[PlanBlock], served: Iterable[tuple[str, str]]) -> PlanState:
    """Return where a plan stands by the (player id, aim) of all serves so far, in their order.

    A serve belongs to the first block that asks it of that player and has it still open; one that no block asks for was
    not planned, and changes nothing. Whoever begins a later block has left those before. A block without an aim takes
    any; one without players asks for nothing.

    Examples
    --------
    >>> blocks = [PlanBlock(player_ids=("a", "b"), aim="deep 1", serves=1), PlanBlock(player_ids=("a",), aim="deep 5")]
    >>> [plan_state(blocks, served) for served in ([], [("a", "deep 1")], [("a", "deep 5")])]
    [PlanState(block=0, next_player='a'), PlanState(block=0, next_player='b'), PlanState(block=1, next_player='a')]
    """
    counts, now = [Counter[str]() for _ in blocks], 0
    for player_id, aim in served:
        plain = aim.partition(OWN_POINT)[0]
        for place, block in enumerate(blocks):
            asked = block.aim in ("", plain) and player_id in block.player_ids
            if asked and counts[place][player_id] < block.serves:
                counts[place][player_id] += 1
                now = max(now, place)
                break
    while now < len(blocks) and all(counts[now][key] >= blocks[now].serves for key in blocks[now].player_ids):
        now += 1
    if now == len(blocks):
        return PlanState(now)
    return PlanState(now, min(blocks[now].player_ids, key=lambda key: counts[now][key]))


def _block(step: LadderStep, aim: str, who: Sequence[Climb], serves: int, reason: str) -> PlanBlock:
    serve_type = step.serve_types[0] if len(step.serve_types) == 1 else ""
    return PlanBlock(
        player_ids=tuple(climb.player_id for climb in who),
        aim=aim,
        serve_type=serve_type,
        effort=step.least_effort,
        serves=serves,
        minutes=math.ceil(len(who) * serves / A_MINUTE),
        reason=reason,
    )


def _serves(one: AimClimb) -> int:
    if not one.n:
        return FIRST_SERVES
    return MOST_SERVES if one.not_yet else min(max(rounded_serves(one.lacking), FIRST_SERVES), MOST_SERVES)


def _missing_words(step: LadderStep, who: Sequence[tuple[Climb, AimClimb]]) -> str:
    told = [f"{climb.server} {_state_words(climb, one)}" for climb, one in who]
    return f"{step.name}: {_some_of(told)}"


def _state_words(climb: Climb, one: AimClimb) -> str:
    if climb.errors:
        return f"first in, {climb.errors.hits} of {climb.errors.n} lost"
    if not one.n:
        return "begins"
    return f"not yet, {on_target_words(one.counted)}" if one.not_yet else verdict_words(one)


def _again_words(step: LadderStep, who: Sequence[tuple[Climb, StepClimb]], today: str) -> str:
    told = [f"{climb.server} {' '.join(step_words(passed, today))}" for climb, passed in who]
    return f"{step.name} again: {_some_of(told)}"


def _some_of(told: Sequence[str]) -> str:
    more = len(told) - MOST_NAMED
    return "; ".join([*told[:MOST_NAMED], *([f"and {more} others"] if more > 0 else [])])
