"""A trial as a coach says it."""

from __future__ import annotations

from serve_marker.study.sentences import date_words
from serve_marker.study.trial import FEWEST_DAYS_AFTER, FEWEST_DRAWS, TrialResult, draws_of


def trial_sentence(result: TrialResult, retest_on: str) -> str:
    """Return what a trial tells, or what it waits for.

    Examples
    --------
    >>> trial_sentence(TrialResult(4, 4, 0.24, 0.0286, 3, True), "2026-11-24")
    'Those who tried it came out 24 of 100 better: chance does that 2.9 times in 100.'
    >>> trial_sentence(TrialResult(4, 4, -0.04, 0.63, 3, True), "2026-11-24")
    'No difference told: chance does as much 63 times in 100.'
    >>> trial_sentence(TrialResult(3, 3, 0.24, 0.1, 3, True), "2026-11-24")
    '3 and 3 players cannot tell. It takes 4 and 4 who served before and since.'
    >>> trial_sentence(TrialResult(4, 4, 0.24, 0.03, 3, False), "2026-11-24")
    'It is told at the retest, Tue 24 Nov 2026.'
    """
    if not result.is_due:
        return f"It is told at the retest, {date_words(retest_on)}."
    if draws_of(result.tries, result.others) < FEWEST_DRAWS:
        return f"{result.tries} and {result.others} players cannot tell. It takes 4 and 4 who served before and since."
    if result.days_after < FEWEST_DAYS_AFTER:
        return "One day since cannot tell. It takes a practice with it and a retest another day."
    times = f"{100 * result.p:.{1 if result.p < 0.1 else 0}f} times in 100"
    if not result.told:
        return f"No difference told: chance does as much {times}."
    apart = f"{100 * abs(result.more):.0f} of 100 {'better' if result.more > 0 else 'worse'}"
    return f"Those who tried it came out {apart}: chance does that {times}."
