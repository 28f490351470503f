"""The ladder as a coach says it: who passed what, and what comes next."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from serve_marker.court.aims import aim_words
from serve_marker.court.dimensions import Court
from serve_marker.study.climb import AimClimb, Climb, StepClimb
from serve_marker.study.fewest_serves import FEWEST
from serve_marker.study.ladder import LadderStep, aim_size_m, spread_at_rate
from serve_marker.study.mastery import SEASON_SERVES
from serve_marker.study.sentences import count_words, date_words
from serve_marker.study.serve_shape import on_target_words
from serve_marker.study.settings import PER_MPS

UNSEEN_DAYS = 42
"""A step passed and not served for so long is to be shown again (own choice: six weeks)."""
NOBODY_WORDS = "Nobody has served on a known day yet."
NO_STEP_WORDS = "The ladder has no steps; Practice > Steps of the ladder sets them."


def is_unseen(step: StepClimb, today: str) -> bool:
    """Whether a step was passed and has not been served for UNSEEN_DAYS before ``today``, YYYY-MM-DD.

    A day that cannot be read tells nothing.
    """
    try:
        last, now = (datetime.date.fromisoformat(day) for day in (step.last_on, today))
    except ValueError:
        return False
    return bool(step.passed_on) and (now - last).days > UNSEEN_DAYS


def has_slipped(step: StepClimb) -> bool:
    """Whether a step was passed and the serves since tell that it is mastered no longer: at one of all, or at all."""
    doubted = [one.not_yet for one in step.at_aims if one.passed]
    return bool(step.passed_on) and (any(doubted) if step.step.every_aim else all(doubted))


def step_words(step: StepClimb, today: str) -> tuple[str, str]:
    """Return how far a server is at a step: a count or the day it was passed, and what that means or what is next."""
    if step.passed_on:
        passed = f"\u2713 {date_words(step.passed_on, with_year=False).partition(' ')[2]}"
        if has_slipped(step):
            return passed, "slipped since"
        return passed, "not seen since" if is_unseen(step, today) else _aim_chosen(step)
    one = step.next_aim
    if len(step.at_aims) > 1 and step.step.every_aim and step.last_on:
        return f"{sum(one.passed for one in step.at_aims)} of {len(step.at_aims)} aims", f"then {aim_words(one.aim)}"
    counted, meaning = aim_climb_words(one)
    return counted, _aim_chosen(step) or meaning


def _aim_chosen(step: StepClimb) -> str:
    """The aim of several that a server passed a step at, or goes on at; "" where the step names one or all."""
    if len(step.at_aims) < 2 or step.step.every_aim or not step.last_on:
        return ""
    passed = [one for one in step.at_aims if one.passed]
    return aim_words(min(passed, key=lambda one: one.passed_on).aim if passed else step.next_aim.aim)


def aim_climb_words(one: AimClimb) -> tuple[str, str]:
    """Return how far a server is at one aim that is not passed: the count, and what it means.

    Examples
    --------
    >>> from serve_marker.study.serve_shape import OnTarget
    >>> aim_climb_words(AimClimb("deep 1", n=30, counted=OnTarget(30, 9, 0, 0), not_yet=True))
    ('9 of 30', 'not yet')
    >>> aim_climb_words(AimClimb("deep 1", n=12, counted=OnTarget(12, 8, 2, 0), likely=True, lacking=23))
    ('8–10 of 12', 'about 25 more')
    """
    if not one.n:
        return "", ""
    if 2 * one.untimed > one.n:
        return count_words(one.n, "serve"), f"{one.untimed} not timed"
    return on_target_words(one.counted), verdict_words(one)


def verdict_words(one: AimClimb) -> str:
    """Return what the serves at an aim tell: not yet, about how many more there are to serve, or nothing so far."""
    if one.not_yet:
        return "not yet"
    return f"about {rounded_serves(one.lacking)} more" if one.likely else "too early"


def rounded_serves(lacking: int) -> int:
    """Return about how many serves, as a round number: they are known no better.

    Examples
    --------
    >>> [rounded_serves(lacking) for lacking in (1, 12, 23, 68)]
    [5, 15, 25, 70]
    """
    return max(5 * -(-lacking // 5), FEWEST)


def next_words(climb: Climb) -> str:
    """Return what a server does next, in a few words; "" where every step is passed."""
    return "get it in" if climb.errors else next_place(climb)


def next_place(climb: Climb) -> str:
    """Return where a server serves next; "" where every step is passed."""
    step = climb.next_step
    return (aim_words(step.next_aim.aim) or step.step.name) if step else ""


def server_climb_sentence(climb: Climb, today: str) -> str:
    """Return how far one server is."""
    passed = [step.step.name for step in climb.steps if step.passed_on]
    done = f"{climb.server} has passed {_listed(passed)}." if passed else f"{climb.server} has passed no step yet."
    step = climb.next_step
    if step is None:
        return done
    one = step.next_aim
    place = next_place(climb)
    if one.soft:
        done = f"{done} {count_words(one.soft, 'serve')} at {place} too soft to count."
    if not one.n:
        return f"{done} Next: {place}, not served yet."
    if one.not_yet:
        return f"{done} Next: {place}, not yet there with {on_target_words(one.counted)}."
    if 2 * one.untimed > one.n:
        return f"{done} Next: {place}; {one.untimed} of {count_words(one.n, 'serve')} are not timed."
    more = f": about {rounded_serves(one.lacking)} more serves" if one.likely else ""
    return f"{done} Next: {place}, too early to say{more}."


def team_climb_sentence(climbs: Sequence[Climb]) -> str:
    """Return how many servers have passed each step that any of them has passed."""
    if not climbs:
        return NOBODY_WORDS
    if not climbs[0].steps:
        return NO_STEP_WORDS
    counted = [
        (sum(bool(climb.steps[place].passed_on) for climb in climbs), step.step.name)
        for place, step in enumerate(climbs[0].steps)
    ]
    told = [(number, name) for number, name in counted if number]
    if not told:
        return f"Nobody has passed {counted[0][1]} yet."
    (first, name), *more = told
    others = "".join(f" {step.capitalize()}: by {number}." for number, step in more)
    return f"{name.capitalize()}: passed by {first} of {count_words(len(climbs), 'server')}.{others}"


def again_sentence(climbs: Sequence[Climb], today: str) -> str:
    """Return which steps are to be shown again, since they slipped or were not seen for long; "" where none are."""
    parts = []
    for tell, words in ((has_slipped, "Slipped since"), (lambda step: is_unseen(step, today), "Not seen for weeks")):
        told = [f"{climb.server} {step.step.name}" for climb in climbs for step in climb.steps if tell(step)]
        parts += [f"{words}: {_listed(told, most=2)}."] if told else []
    return " ".join(parts)


def step_meaning(step: LadderStep, court: Court, unit: str = "km/h") -> str:
    """Return what a step asks for, and at which spread its rates are reached where its aims are of one size.

    Examples
    --------
    >>> from serve_marker.court.dimensions import COURTS
    >>> step_meaning(LadderStep("deep 1", ("deep 1",)), COURTS["indoor"]).partition(". ")[0]
    'Deep 1 needs 75 of 100 on target, 50 are too few'
    >>> step_meaning(LadderStep("deep 1", ("deep 1",)), COURTS["indoor"]).partition(". ")[2]
    'A spread of 1.0 m does it, 1.4 m does not. At 80 % of her best pace.'
    """
    where = "" if len(step.aims) < 2 or step.every_aim else " at one aim"
    name = f"{step.name[:1].upper()}{step.name[1:]}"
    if step.by_places:
        told = [f"{name} needs balls within {step.mastery:.1f} m of the aim{where}, {step.not_enough:.1f} m is too far"]
    else:
        enough, too_few = (f"{100 * rate:.3g}" for rate in (step.mastery, step.not_enough))
        told = [f"{name} needs {enough} of 100 on target{where}, {too_few} are too few"]
        if size_m := aim_size_m(step.aims, court):
            does, does_not = (spread_at_rate(rate, *size_m) for rate in (step.mastery, step.not_enough))
            told.append(f"A spread of {does:.1f} m does it, {does_not:.1f} m does not")
    parts = [
        f"at {100 * step.least_effort:.0f} % of her best pace" if step.least_effort else "",
        f"at {PER_MPS[unit] * step.least_pace_mps:.0f} {unit} or more" if step.least_pace_mps else "",
        _listed(step.serve_types),
    ]
    how = ", ".join(part for part in parts if part)
    told += [f"{how[:1].upper()}{how[1:]}"] if how else []
    return f"{'. '.join(told)}."


def risk_words(steps: Sequence[LadderStep]) -> str:
    """Return what "passed" stands for."""
    if not steps:
        return ""
    risks = sorted({round(100 * step.risk) for step in steps})
    risk = " to ".join(f"{number}" for number in dict.fromkeys((risks[0], risks[-1])))
    return (
        "It takes two dates to pass. "
        f"Luck alone passes at most {risk} of 100 servers in {SEASON_SERVES} serves. "
        "“40–54 of 70”: the film cannot tell whether 14 of them hit. Not yet: she still misses too often. "
        "“About 25 more”: that many more pass her, if she has mastered it. "
        "Softer serves are left out. Where effort or pace is asked for, only timed serves count."
    )


def _listed(words: Sequence[str], most: int = 6) -> str:
    shown = list(words[:most])
    more = len(words) - len(shown)
    if more > 0:
        return f"{', '.join(shown)} and {more} more"
    return " and ".join([", ".join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)
