"""Better than before? Two periods, or any two selections, like with like, with the interval of their difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import Floats
from serve_marker.study.fewest_serves import FEWEST
from serve_marker.study.intraclass import ASSUMED_RHO_OF_MANY, TASK_COLUMNS, codes_of, evenings_of, rho_of
from serve_marker.study.pace_limits import impossible_mask
from serve_marker.study.position_columns import FIRST, LAST
from serve_marker.study.pull import MISS_COLUMNS, bias_of, depth_known, misses_of
from serve_marker.study.rates import RATE_COLUMNS, Rate, aim_attempts, in_attempts
from serve_marker.study.sentences import rate_words, unit_of
from serve_marker.study.settings import PER_MPS
from serve_marker.study.significance import (
    Difference,
    added,
    in_common,
    odds_ratio,
    stratified_mean_difference,
    stratified_rate_difference,
    task_rates,
)

if TYPE_CHECKING:
    import pandas

FEWEST_PRACTICES = 5
SEASON_LOOKS = 5
"""A trend is asked for again after every practice; it gets the share of so many looks (own choice: simulated, it keeps
a season of twenty practices at the promise, tests/benchmarks/season.py)."""
COMPARED_COLUMNS = tuple(dict.fromkeys((*TASK_COLUMNS, *RATE_COLUMNS)))
"""What like is told from like by, and rates from."""
MEASURED_COLUMNS = tuple(
    dict.fromkeys((*COMPARED_COLUMNS, *MISS_COLUMNS, "pace_mps", "net_clearance_m", "gap_m", "player_id"))
)
SEASON_PAUSE_DAYS = 60
"""Where none is named, a longer pause begins another season (own choice: a summer, not a winter holiday)."""
NOT_THE_SAME_TASK = "Not the same task: no shared aim, serve type and kind of target."


@dataclass(frozen=True)
class Comparison:
    """Two selections compared in the tasks that both attempted.

    Parameters
    ----------
    what : what is compared, "hit their aim" or "were in".
    before, since : both rates in the common tasks.
    apart : by how much the second is higher within the tasks.
    tasks : how many tasks are in common.
    odds_ratio : by how much its odds are higher, held together over the tasks.
    """

    what: str
    before: Rate
    since: Rate
    apart: Difference
    tasks: int
    odds_ratio: float


def this_season(table: pandas.DataFrame) -> pandas.DataFrame:
    """Return the dated serves of the newest season.

    Where the coach named none, it began after the last pause of more than SEASON_PAUSE_DAYS.
    """
    import pandas as pd

    dated = table[table["date"] != ""]
    named = dated["season"][dated["date"] == dated["date"].max()].max() if len(dated) else ""
    if named:
        return dated[dated["season"] == named]
    days = pd.to_datetime(pd.Series(sorted(dated["date"].unique())), errors="coerce")
    after_pause = days[days.diff().dt.days > SEASON_PAUSE_DAYS]
    return dated[dated["date"] >= after_pause.max().date().isoformat()] if len(after_pause) else dated


def two_periods(table: pandas.DataFrame) -> tuple[pandas.DataFrame, pandas.DataFrame, int]:
    """Return the serves of the earlier and of the later half of this season's practices, and how many these are.

    Of the columns those are kept that serves are compared by.
    """
    dated = this_season(table[["practice_id", "date", "season", *MEASURED_COLUMNS]])
    practices = list(dated.drop_duplicates("practice_id").sort_values("date", kind="stable")["practice_id"])
    earlier = set(practices[: len(practices) // 2])
    later = set(practices[len(practices) // 2 :])
    return dated[dated["practice_id"].isin(earlier)], dated[dated["practice_id"].isin(later)], len(practices)


def compare(
    before: pandas.DataFrame,
    since: pandas.DataFrame,
    by: tuple[str, ...] = TASK_COLUMNS,
    rho: float | None = None,
    tests: int = 1,
) -> Comparison:
    """Return how two selections compare: by hitting the aim where both had one, else by landing in.

    ``rho`` is how much serves of one evening resemble each other, as the table says it where it is not given; ``tests``
    as for `stratified_rate_difference`.
    """
    rho = rho_of(before) if rho is None else rho
    what, attempts_of = "on target", aim_attempts
    if not (aim_attempts(before).counted.any() and aim_attempts(since).counted.any()):
        what, attempts_of = "in", in_attempts
    pairs = in_common(*task_rates((before, since), attempts_of, rho, by))
    first, second = (added([pair[side] for pair in pairs]) for side in (0, 1))
    return Comparison(what, first, second, stratified_rate_difference(pairs, tests), len(pairs), odds_ratio(pairs))


def comparison_sentence(
    before: pandas.DataFrame,
    since: pandas.DataFrame,
    names: tuple[str, str],
    verdicts: tuple[str, str] | None = ("More on the right", "Fewer on the right"),
    tests: int = 1,
) -> str:
    """Return how two selections compare, and whether that can be told; "" where one of them is empty.

    ``verdicts`` are said where the second has more and where it has fewer; without them only the counts are.
    """
    if not (len(before) and len(since)):
        return ""
    found = compare(before, since, tests=tests)
    if not found.tasks:
        return NOT_THE_SAME_TASK
    first, second = found.before, found.since
    some = first.n + second.n < len(before) + len(since)
    alike = " Only the same tasks count." if some else ""
    counted = f"{names[0]}: {rate_words(first)} {found.what}. {names[1]}: {rate_words(second)}.{alike}"
    if not (first.enough and second.enough):
        return f"{counted} It takes {FEWEST} serves on each side to compare."
    if verdicts is None:
        return counted
    span = f"{span_of_100_words(found.apart.low, found.apart.high)} of 100"
    if not found.apart.told:
        return f"Too early to say which is better ({span}). {counted}"
    return f"{verdicts[0] if found.apart.low > 0 else verdicts[1]} ({span}). {counted}"


def differences_sentence(before: pandas.DataFrame, since: pandas.DataFrame, where: str) -> str:
    """Return in what else the second of two selections differs at the same tasks; "" where nothing can be told."""
    told = differences(before, since)
    return f"{where}, like with like: {two_by_two(told)}" if told else ""


def two_by_two(told: Sequence[str]) -> str:
    """Return a list in sentences of two.

    Examples
    --------
    >>> two_by_two(["1.0 m longer"]), two_by_two(["1.0 m longer", "5 km/h slower", "0.3 m lower over the net"])
    ('1.0 m longer.', '1.0 m longer, 5 km/h slower. Also 0.3 m lower over the net.')
    """
    return f"{'. Also '.join(', '.join(told[at : at + 2]) for at in range(0, len(told), 2))}."


def differences(before: pandas.DataFrame, since: pandas.DataFrame, tests: int = 1) -> list[str]:
    """Return in which of pull, spread, pace, net clearance and gap the second of two selections differs at the same
    tasks.

    A spread is about the centre of each server at each task.
    The six, and ``tests`` such comparisons, share the 5 in 100. A pull needs as many balls placed as ever.
    """
    import pandas as pd

    if not (len(before) and len(since)):
        return []
    both = pd.concat([before[list(MEASURED_COLUMNS)], since[list(MEASURED_COLUMNS)]], ignore_index=True)
    second, strata, evenings = np.arange(len(both)) >= len(before), codes_of(both, TASK_COLUMNS), evenings_of(both)
    own = 2 * codes_of(both, (*TASK_COLUMNS, "player_id")) + second
    misses_m = misses_of(both)
    if not (bias_of(before).placed and bias_of(since).placed):
        misses_m[:] = np.nan
    pace_mps = both["pace_mps"].to_numpy(dtype=float)
    unit = unit_of(before)
    measured = [
        (misses_m[:, 1] + depth_known(both), "place", 1.0, "m", ("longer", "shorter")),
        (misses_m[:, 0], "place", 1.0, "m", ("further right", "further left")),
        (_from_own_centre(misses_m, own), "place", 1.0, "m", ("further apart", "closer together")),
        (np.where(impossible_mask(pace_mps), np.nan, pace_mps), "pace", PER_MPS[unit], unit, ("faster", "slower")),
        (
            both["net_clearance_m"].to_numpy(dtype=float),
            "place",
            1.0,
            "m",
            ("higher over the net", "lower over the net"),
        ),
        (both["gap_m"].to_numpy(dtype=float), "place", 1.0, "m", ("further from the passers", "nearer the passers")),
    ]
    told = []
    for values, measure, per_unit, name, (more, less) in measured:
        rho = rho_of(before, measure, ASSUMED_RHO_OF_MANY)
        found = stratified_mean_difference(values, second, strata, evenings, rho, tests * len(measured))
        amount = f"{abs(found.value) * per_unit:.{1 if name in ('m', 'm/s') else 0}f}"
        if found.told and float(amount):
            told.append(f"{amount} {name} {more if found.value > 0 else less}")
    return told


def _from_own_centre(misses_m: Floats, cells: NDArray[np.int64]) -> Floats:
    """Distances (N,) of misses (N, 2) from the centre of their cell, made up for the few each is of; NaN of one alone.

    Means of these are compared as Levene has it (Contributions to Probability and Statistics, 1960).
    """
    known = np.isfinite(misses_m).all(axis=1)
    counts = np.bincount(cells[known], minlength=int(cells.max(initial=0)) + 1)
    off = np.full(len(cells), np.nan)
    few = np.where(counts > 1, np.sqrt(counts / np.maximum(counts - 1, 1)), np.nan)
    centres = [np.bincount(cells[known], misses_m[known, axis], len(counts)) / np.maximum(counts, 1) for axis in (0, 1)]
    away = misses_m[known] - np.column_stack(centres)[cells[known]]
    off[known] = np.hypot(*away.T) * few[cells[known]]
    return off


def span_of_100_words(low: float, high: float) -> str:
    """Return from where to where a difference of shares lies.

    Examples
    --------
    >>> span_of_100_words(-0.05, 0.12), span_of_100_words(-0.3, -0.12), span_of_100_words(0.1, 0.2)
    ('5 fewer to 12 more', '12 to 30 fewer', '10 to 20 more')
    """
    ends = round(100 * low), round(100 * high)
    if ends[0] < 0 <= ends[1]:
        return f"{-ends[0]} fewer to {ends[1]} more"
    least, most = sorted(map(abs, ends))
    return f"{least} to {most} {'fewer' if ends[0] < 0 else 'more'}"


@dataclass(frozen=True)
class Trend:
    """Both halves of a season's practices by name, how they compare, and the answer in a few words."""

    names: tuple[str, str]
    found: Comparison
    answer: str


def trend(table: pandas.DataFrame) -> Trend | None:
    """Return how the halves of the practices compare; None where there are no two, or no task in common."""
    before, since, practices = two_periods(table)
    found = compare(before, since, tests=SEASON_LOOKS) if practices > 1 else None
    if found is None or not found.tasks:
        return None
    if practices < FEWEST_PRACTICES:
        answer = f"From {FEWEST_PRACTICES} practices on we can say."
    elif not (found.before.enough and found.since.enough):
        answer = f"It takes {FEWEST} serves in each half."
    elif not found.apart.told:
        answer = "Too early to say."
    else:
        span = span_of_100_words(found.apart.low, found.apart.high)
        answer = f"{'Better' if found.apart.low > 0 else 'Worse'}: {span} of 100."
    return Trend(_half_names(before, since), found, answer)


def _half_names(before: pandas.DataFrame, since: pandas.DataFrame) -> tuple[str, str]:
    halves = len(set(before["practice_id"])), len(set(since["practice_id"]))
    first, last = ("practice" if number == 1 else f"{number} practices" for number in halves)
    return f"First {first}", f"Last {last}"


def trend_sentence(table: pandas.DataFrame) -> str:
    """Return whether serves are better than before, over the halves of the practices there are."""
    before, since, practices = two_periods(table)
    if practices < 2:
        return "One practice so far. One more and we can compare." if practices else "No practice has a date."
    names = _half_names(before, since)
    if practices < FEWEST_PRACTICES:
        counted = comparison_sentence(before, since, names, verdicts=None)
        return f"{counted} From {FEWEST_PRACTICES} practices on we can say better or worse."
    return comparison_sentence(before, since, names, ("Better", "Worse"), SEASON_LOOKS)


def first_and_last_sentence(table: pandas.DataFrame) -> str:
    """Return whether the last serves of a practice fare otherwise than its first; "" where that cannot be told.

    Each server is compared with herself on the same evening, so that evenings need not be alike.
    """
    rows = table[["turn", *COMPARED_COLUMNS]]
    first, last = (rows[rows["turn"] == turn] for turn in (FIRST, LAST))
    if not (len(first) and len(last)):
        return ""
    found = compare(first, last, ("evening", *TASK_COLUMNS), rho=0.0)
    if not (found.before.enough and found.since.enough and found.apart.told):
        return ""
    ends = sorted(round(100 * abs(end)) for end in (found.apart.low, found.apart.high))
    which = "more" if found.apart.low > 0 else "fewer"
    return f"Late in a practice {ends[0]} to {ends[1]} {which} of 100 are {found.what} than early."
