"""Better than before? Two periods, or any two selections, side by side with the interval of their difference."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

from serve_marker.study.rates import FEWEST, RATE_COLUMNS, Rate, aim_rate, in_rate, wilson
from serve_marker.study.sentences import rate_words

if TYPE_CHECKING:
    import pandas

FEWEST_PRACTICES = 5


@dataclass(frozen=True)
class Difference:
    """How much larger the second of two numbers is, with its 95 % interval; NaN where it cannot be told."""

    value: float
    low: float
    high: float

    @property
    def told(self) -> bool:
        """Whether the interval leaves out zero."""
        return self.low > 0 or self.high < 0


def rate_difference(before: Rate, since: Rate, among: int = 2) -> Difference:
    """Return by how much a rate rose, with Newcombe's interval from two Wilson intervals (Stat. Med. 17:873, 1998).

    Serves too close to call widen it: each rate runs from its sure hits to the most possible. Where the two were
    picked out of more, ``among`` so many, every pair of them gets its share of the 5 in 100 (Bonferroni).

    Examples
    --------
    >>> from serve_marker.study.rates import rate
    >>> found = rate_difference(rate(48, 80), rate(56, 70))
    >>> round(found.value, 4), round(found.low, 4), round(found.high, 4)
    (0.2, 0.0524, 0.3339)
    """
    if not (before.n and since.n):
        return Difference(math.nan, math.nan, math.nan)
    before_low, before_most = before.share, before.most / before.n
    since_low, since_most = since.share, since.most / since.n
    value = (since_low + since_most - before_low - before_most) / 2
    z = NormalDist().inv_cdf(1 - 0.025 / math.comb(among, 2))
    before_reach = wilson(before.hits, before.n, z)[0], wilson(before.most, before.n, z)[1]
    since_reach = wilson(since.hits, since.n, z)[0], wilson(since.most, since.n, z)[1]
    low = since_low - before_most - math.hypot(since_low - since_reach[0], before_reach[1] - before_most)
    high = since_most - before_low + math.hypot(since_reach[1] - since_most, before_low - before_reach[0])
    return Difference(value, low, high)


def two_periods(table: pandas.DataFrame) -> tuple[pandas.DataFrame, pandas.DataFrame, int]:
    """Return the serves of the earlier and of the later half of the practices, and how many practices there are.

    Of the columns those are kept that rates are told from.
    """
    dated = table[["practice_id", "date", *RATE_COLUMNS]]
    dated = dated[dated["date"] != ""]
    practices = list(dated.drop_duplicates("practice_id").sort_values("date", kind="stable")["practice_id"])
    earlier = set(practices[: len(practices) // 2])
    later = set(practices[len(practices) // 2 :])
    return dated[dated["practice_id"].isin(earlier)], dated[dated["practice_id"].isin(later)], len(practices)


def rates_asked(before: pandas.DataFrame, since: pandas.DataFrame) -> tuple[str, Rate, Rate]:
    """Return what both are compared by, and both rates: hitting the aim where both had one, else landing in."""
    aimed = aim_rate(before), aim_rate(since)
    if aimed[0].n and aimed[1].n:
        return "hit their aim", *aimed
    return "were in", in_rate(before), in_rate(since)


def comparison_sentence(before: pandas.DataFrame, since: pandas.DataFrame, names: tuple[str, str]) -> str:
    """Return how two choices of serves compare, and whether that can be told; "" where one of them is empty."""
    what, first, second = rates_asked(before, since)
    if not (first.n and second.n):
        return ""
    counted = f"{names[0][:1].upper()}{names[0][1:]} {rate_words(first)} {what}, {names[1]} {rate_words(second)}"
    if not (first.enough and second.enough):
        return f"{counted}: {FEWEST} or more serves on each side are needed to compare."
    apart = rate_difference(first, second)
    span = f"between {abs_words(apart.low)} and {abs_words(apart.high)} of 100 serves"
    if not apart.told:
        return f"{counted}: cannot tell yet which is better ({span})."
    return f"{counted}: {'better' if apart.low > 0 else 'worse'} ({span})."


def abs_words(share: float) -> str:
    """Return a difference of shares as "12 more" or "5 fewer"."""
    hundredths = round(100 * share)
    return f"{abs(hundredths)} {'more' if hundredths >= 0 else 'fewer'}"


def trend_sentence(table: pandas.DataFrame) -> str:
    """Return whether serves are better than before, over the halves of the practices there are."""
    before, since, practices = two_periods(table)
    if practices < 2:
        return "There is one practice so far; another is needed to compare." if practices else "No practice has a date."
    halves = len(set(before["practice_id"])), len(set(since["practice_id"]))
    first, last = ("practice" if number == 1 else f"{number} practices" for number in halves)
    names = (f"at the first {first}", f"at the last {last}")
    sentence = comparison_sentence(before, since, names)
    if practices < FEWEST_PRACTICES:
        return f"{sentence} A trend needs {FEWEST_PRACTICES} practices."
    return sentence
