"""The one sentence that says what a server should do: the first that holds of six, with the number it stands on.

First serves enough, then in, then in the right place, then close together, then fast, then the next step. What chance
alone explains is never said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from serve_marker.confidence_level import TAIL
from serve_marker.court.aims import OWN_POINT, Aim, aim_name, aim_words, parse_aim
from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.errors import UserError
from serve_marker.study.climb import Climb
from serve_marker.study.climb_words import next_place, rounded_serves, server_climb_sentence
from serve_marker.study.fewest_serves import FEWEST
from serve_marker.study.intraclass import effective_n, evenings_of, independent_of, rho_of
from serve_marker.study.ladder import LadderStep, aim_size_m, spread_at_rate, usual_ladder
from serve_marker.study.pull import Bias, bias_of, known_places, misses_of
from serve_marker.study.rates import error_rate, outcome_counts, rate
from serve_marker.study.sentences import count_words, interval_words, is_significant, placed_words, possible_paces
from serve_marker.study.settings import StudySettings, in_unit
from serve_marker.study.spread import miss_spread_of

if TYPE_CHECKING:
    import pandas

SMALLEST_MOVE_M = 0.2
"""A smaller pull is left as it is: about a ball's width, which nobody aims finer than (own choice)."""
AimRows = list[tuple[Aim, "pandas.DataFrame"]]


@dataclass(frozen=True)
class WhatToDo:
    """What to do, and the number that says so with its n and its doubt; both "" where nothing can be said."""

    sentence: str = ""
    grounds: str = ""


def what_to_do(
    rows: pandas.DataFrame, court: Court, scheme: AreaScheme, settings: StudySettings, climb: Climb | None = None
) -> WhatToDo:
    """Return what the server of these serves should do; ``climb`` is how far she is on the ladder, None if on none."""
    if not len(rows):
        return WhatToDo()
    at_aims = rows_at_aims(rows, court, scheme)
    found = (
        _serve_more(rows)
        or get_it_in(rows, settings)
        or _move_your_eyes(at_aims)
        or _closer_together(at_aims, court, climb)
        or _hit_harder(rows, court, settings, climb)
        or _go_on(climb)
    )
    return found or WhatToDo()


def rows_at_aims(rows: pandas.DataFrame, court: Court, scheme: AreaScheme) -> AimRows:
    """Return each aim and the serves at it, the one served most first; aims that cannot be read are left out."""
    found: AimRows = []
    for text, own in rows[rows["aim"] != ""].groupby("aim", sort=False):
        try:
            aim = parse_aim(str(text), court, scheme)
        except UserError:
            continue
        found += [(aim, own)] if aim is not None else []
    return sorted(found, key=lambda pair: -len(pair[1]))


def _serve_more(rows: pandas.DataFrame) -> WhatToDo | None:
    lacking = FEWEST - len(rows)
    if lacking <= 0:
        return None
    return WhatToDo(
        f"{count_words(lacking, 'more serve')} will tell what to do.",
        f"{count_words(len(rows), 'serve')} so far. Below {FEWEST} chance explains nearly everything.",
    )


def get_it_in(rows: pandas.DataFrame, settings: StudySettings) -> WhatToDo | None:
    """Return what to do where the share of errors lies above the coach's limit with its whole interval; else None."""
    counts = outcome_counts(rows)
    found = error_rate(rows)
    if found.low <= settings.most_errors:
        return None
    kinds = {
        "in the net": counts.net,
        "long": counts.long,
        "wide": counts.wide,
        "out": counts.out_unseen,
        "faults": counts.fault,
    }
    most = max(kinds, key=lambda kind: kinds[kind])
    told = f"{counts.errors} of {counts.n} lost"
    if kinds[most] == counts.errors:
        told = f"{counts.errors} of {counts.n} {most}"
    elif 2 * kinds[most] >= counts.errors:
        told += f", {kinds[most]} {most}"
    each = ", ".join(f"{count} {kind}" for kind, count in kinds.items() if count)
    return WhatToDo(
        f"First get it in: {told}.",
        f"{counts.errors} of {counts.n} serves were errors: {each}. Over many such serves about "
        f"{interval_words(found)} would be. The limit is {100 * settings.most_errors:.0f} %.",
    )


def _move_your_eyes(at_aims: AimRows) -> WhatToDo | None:
    """The pull at the aim served most of those where one is told."""
    for aim, own in at_aims:
        lean = bias_of(own, 2 * len(at_aims))
        ways = _ways(lean) if lean.n >= FEWEST and lean.placed else []
        if ways:
            moves = " and ".join(move for move, _ in ways)
            start = f"At {aim_name(aim.text)}, move" if len(at_aims) > 1 else "Move"
            misses = ". Also ".join(miss for _, miss in ways)
            return WhatToDo(
                f"{start} your eyes {moves}.",
                f"Pull at {aim_words(aim.text)}: {misses}. Based on {placed_words(lean)} balls over the net.",
            )
    return None


def _ways(lean: Bias) -> list[tuple[str, str]]:
    """Where to look instead, and the miss with its interval, for each direction in which a pull is told."""
    directions = (
        (lean.right_m, lean.right_low_m, lean.right_high_m, ("left", "right"), ("right", "left")),
        (lean.long_m, lean.long_low_m, lean.long_high_m, ("nearer", "deeper"), ("long", "short")),
    )
    found = []
    for mean_m, low_m, high_m, looks, misses in directions:
        if abs(mean_m) >= SMALLEST_MOVE_M and is_significant(mean_m, low_m, high_m):
            side = 0 if mean_m > 0 else 1
            ends_m = sorted((abs(low_m), abs(high_m)))
            doubt = f"{ends_m[0]:.1f} to {ends_m[1]:.1f}"
            found.append((f"{abs(mean_m):.1f} m {looks[side]}", f"{abs(mean_m):.1f} m {misses[side]} ({doubt})"))
    return found


def _closer_together(at_aims: AimRows, court: Court, climb: Climb | None) -> WhatToDo | None:
    """A scatter that is wider than asked with its whole interval, about the right place."""
    for aim, own in at_aims:
        needed_m = needed_spread_m(aim, court, climb)
        lean = bias_of(own)
        if needed_m is None or lean.n < FEWEST or not lean.placed:
            continue
        spread_m, low_m, high_m = _spread_along_axis(own, 2 if aim.has_depth else 1, len(at_aims))
        if low_m > needed_m and round(spread_m, 1) > round(needed_m, 1):
            return WhatToDo(
                f"Right place, too wide: {spread_m:.1f} m; {aim_name(aim.text)} needs {needed_m:.1f}.",
                f"Spread at {aim_words(aim.text)}: {spread_m:.1f} m along each axis ({low_m:.1f} to {high_m:.1f}). "
                f"Based on {placed_words(lean)} balls over the net. They show no pull.",
            )
    return None


def _spread_along_axis(own: pandas.DataFrame, axes: int, looks: int) -> tuple[float, float, float]:
    """Return the standard deviation along each axis [m] with its interval, of chi-square, 95 % for all ``looks``.

    The variances of the axes are held together; serves of one evening count for as many as they are worth.
    """
    from scipy.special import chdtri

    covariance_m2 = miss_spread_of(own).covariance_m2
    spread_m = math.sqrt(float(covariance_m2.diagonal()[:axes].mean()))
    freedom = axes * (independent_of(known_places(misses_of(own)), evenings_of(own), rho_of(own, "place")) - 1)
    low_m, high_m = (
        spread_m * math.sqrt(freedom / float(chdtri(freedom, tail))) for tail in (TAIL / looks, 1 - TAIL / looks)
    )
    return spread_m, low_m, high_m


def needed_spread_m(aim: Aim, court: Court, climb: Climb | None) -> float | None:
    """Return how close together serves at an aim have to fall [m along each axis]; None where that is passed.

    The first step not passed that asks for the aim says so; without a ladder, half the aim's width does.
    """
    name = aim.text.partition(OWN_POINT)[0]
    left_m, _, right_m, _ = aim.polygon.bounds
    steps = climb.steps if climb else ()
    asked = [(step.step, one) for step in steps for one in step.at_aims if one.aim == name]
    step = next((step for step, one in asked if not one.passed), None)
    if step is None:
        return None if steps else (right_m - left_m) / 2
    if step.by_places:
        return step.mastery
    size_m = aim_size_m((name,), court)
    return spread_at_rate(step.mastery, *size_m) if size_m else (right_m - left_m) / 2


def _hit_harder(rows: pandas.DataFrame, court: Court, settings: StudySettings, climb: Climb | None) -> WhatToDo | None:
    """Timed serves that reach the pace asked for less often than mastery, with their whole interval."""
    step = _pace_step(court, settings, climb)
    if step is None:
        return None
    timed = possible_paces(rows)
    timed = timed[timed["serve_type"].isin(step.serve_types)] if step.serve_types else timed
    if len(timed) < FEWEST:
        return None
    sure = int((timed["pace_low_mps"] >= step.least_pace_mps).sum())
    most = int((timed["pace_high_mps"] >= step.least_pace_mps).sum())
    found = rate(sure, len(timed), most, effective_n(evenings_of(timed), rho_of(timed, "pace")))
    if found.high >= step.mastery:
        return None
    asked = in_unit(step.least_pace_mps, settings.pace_unit)
    close = f", {most - sure} too close" if most > sure else ""
    return WhatToDo(
        f"Hit it harder: {sure} of {len(timed)} reached {asked}{close}.",
        f"Over many such serves about {interval_words(found)} reach {asked}. You ask for {100 * step.mastery:.0f} %.",
    )


def _pace_step(court: Court, settings: StudySettings, climb: Climb | None) -> LadderStep | None:
    """The first step not passed that asks for a pace; of a server on no ladder the team's own gate."""
    if climb is not None:
        return next((one.step for one in climb.steps if one.step.least_pace_mps > 0 and not one.passed_on), None)
    return usual_ladder(court, settings.topspin_gate_mps)[-1] if settings.topspin_gate_mps > 0 else None


def _go_on(climb: Climb | None) -> WhatToDo | None:
    """The next step of the ladder, and how much of it is missing where that can be told."""
    step = climb.next_step if climb else None
    if climb is None or step is None:
        return None
    one = step.next_aim
    told = one.likely and not one.not_yet and 2 * one.untimed <= one.n
    more = f", about {rounded_serves(one.lacking)} more serves" if told else ""
    return WhatToDo(f"Next: pass {next_place(climb)}{more}.", server_climb_sentence(climb, ""))
