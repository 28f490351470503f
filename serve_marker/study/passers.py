"""What serves asked of the passers, as a coach says it: gaps, whose ball, out of reach, aces and passes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from serve_marker.study.rates import FEWEST, rate
from serve_marker.study.sentences import count_words, interval_words

if TYPE_CHECKING:
    import pandas

GAPS_M = (1.0, 2.0, 3.0)
GAP_WORDS = ("under 1 m", "1 to 2 m", "2 to 3 m", "over 3 m")


@dataclass(frozen=True)
class Asked:
    """What the serves nearest to one passer asked of her: how many, her mean gap [m], the way she went most often."""

    passer: str
    n: int
    gap_m: float
    way: str


@dataclass(frozen=True)
class PassMean:
    """The mean pass rating of n passes with its 95 % t interval; NaN below two passes or where all were rated alike."""

    name: str
    n: int
    mean: float
    low: float
    high: float


def with_formation(table: pandas.DataFrame) -> pandas.DataFrame:
    """Return the serves whose gap is known and that reached the court: landed in, too close, or received."""
    reached = (table["outcome"] == "received") | ((table["outcome"] == "floor") & (table["verdict"] != "out"))
    return table[table["gap_m"].notna() & reached]


def asked_of_each(table: pandas.DataFrame) -> list[Asked]:
    """Return what was asked of each passer, the busiest first."""
    found = []
    for name, own in with_formation(table).groupby("nearest", sort=False):
        ways = own.loc[own["way"] != "on the spot", "way"].value_counts()
        found.append(Asked(str(name), len(own), float(own["gap_m"].mean()), str(ways.index[0]) if len(ways) else ""))
    return sorted(found, key=lambda one: (-one.n, one.passer))


def gap_sentence(table: pandas.DataFrame) -> str:
    """Return how far the serves fell from the nearest passer and who had to go; "" where no formation is known."""
    rows = with_formation(table)
    if not len(rows):
        return ""
    gap_m = rows["gap_m"].to_numpy(dtype=float)
    if len(rows) < FEWEST:
        each = ", ".join(f"{gap:.1f} m" for gap in gap_m)
        return f"{each} from the nearest passer; {FEWEST} or more serves are needed to say more."
    busiest = asked_of_each(rows)[0]
    way = f", mostly going {busiest.way}" if busiest.way else ""
    return (
        f"Half of {count_words(len(rows), 'serve')} fell more than {np.median(gap_m):.1f} m from the nearest passer; "
        f"{busiest.passer} had most to do, {busiest.n} of {len(rows)}{way}."
    )


def reach_sentence(table: pandas.DataFrame) -> str:
    """Return how many serves no passer could have got to in their own flight time; "" where no time is known."""
    rows = with_formation(table)
    timed = [value for value in rows["reached"] if value is not None]
    if not timed:
        return ""
    away = sum(1 for value in timed if not value)
    span = f" ({interval_words(rate(away, len(timed)))})" if len(timed) >= FEWEST else ""
    return f"{away} of {len(timed)} timed fell where no passer gets there in time{span}."


def passer_seams(table: pandas.DataFrame) -> list[tuple[str, int]]:
    """Return how many serves fell into each seam of the formations they were hit against, most first."""
    rows = with_formation(table)
    counts = rows.loc[rows["passer_seam"] != "", "passer_seam"].value_counts(sort=False)
    return sorted(((str(name), int(count)) for name, count in counts.items()), key=lambda pair: (-pair[1], pair[0]))


def ace_mask(table: pandas.DataFrame) -> NDArray[np.bool_]:
    """Whether each serve (N,) was an ace: rated 0, or on the floor and in with passers there and no rating."""
    rating = table["pass_rating"].to_numpy(dtype=float)
    untouched = (table["outcome"] == "floor") & (table["verdict"] == "in") & (table["formation_id"] != "")
    return np.asarray((rating == 0) | (untouched.to_numpy() & np.isnan(rating)), dtype=bool)


def gap_bands(gap_m: NDArray[np.float64]) -> NDArray[np.object_]:
    """Return each gap (N,) [m] as one of GAP_WORDS, "" where unknown.

    Examples
    --------
    >>> gap_bands(np.array([0.4, 1.0, 2.9, 7.0, np.nan])).tolist()
    ['under 1 m', '1 to 2 m', '2 to 3 m', 'over 3 m', '']
    """
    words = np.array([*GAP_WORDS, ""], dtype=object)
    return np.asarray(words[np.where(np.isfinite(gap_m), np.searchsorted(GAPS_M, gap_m, side="right"), 4)])


def pass_means(table: pandas.DataFrame, by: str) -> list[PassMean]:
    """Return the mean pass rating by "area", "seam" or "gap", aces counted as 0, most passes first.

    The interval is Student's; a rating is taken as a number, as the trade does.
    """
    ratings = np.where(ace_mask(table), 0.0, table["pass_rating"].to_numpy(dtype=float))
    names = {
        "area": table["area"],
        "seam": table["passer_seam"].where(table["passer_seam"] != "", table["seam"]),
        "gap": gap_bands(table["gap_m"].to_numpy(dtype=float)),
    }
    if by not in names:
        raise ValueError(f"pass ratings are told by one of {sorted(names)}, not by {by!r}")
    places = np.asarray(names[by], dtype=object)
    known = np.isfinite(ratings) & (places != "")
    best = best_pass_of(table)
    found = [_mean(str(name), ratings[known & (places == name)], best) for name in dict.fromkeys(places[known])]
    if by == "gap":
        return sorted(found, key=lambda one: GAP_WORDS.index(one.name))
    return sorted(found, key=lambda one: (-one.n, one.name))


def best_pass_of(table: pandas.DataFrame) -> int:
    """Return the best rating of the scale a serve table's passes are rated on."""
    return int(table.attrs.get("best_pass", 3))


def _mean(name: str, ratings: NDArray[np.float64], best: int) -> PassMean:
    n, mean = len(ratings), float(ratings.mean())
    if n < 2 or ratings.min() == ratings.max():
        return PassMean(name, n, mean, math.nan, math.nan)
    from scipy.special import stdtrit

    margin = float(stdtrit(n - 1, 0.975)) * float(ratings.std(ddof=1)) / math.sqrt(n)
    return PassMean(name, n, mean, max(0.0, mean - margin), min(float(best), mean + margin))


def pass_words(one: PassMean) -> str:
    """Return "deep 1: 1.4 over 12 passes", or that there are too few."""
    if one.n < FEWEST:
        return f"{one.name}: {count_words(one.n, 'pass', 'passes')}, too few"
    span = "all alike" if math.isnan(one.low) else f"{one.low:.1f} to {one.high:.1f}"
    return f"{one.name}: {one.mean:.1f} over {one.n} passes ({span})"


def pass_sentence(table: pandas.DataFrame) -> str:
    """Return what the passes averaged and where; "" where none was rated."""
    ratings = np.where(ace_mask(table), 0.0, table["pass_rating"].to_numpy(dtype=float))
    rated = ratings[np.isfinite(ratings)]
    if not len(rated) or table["pass_rating"].notna().sum() == 0:
        return ""
    aces = int(ace_mask(table).sum())
    best = best_pass_of(table)
    whole = _mean("all", rated, best)
    if whole.n < FEWEST:
        return f"{count_words(whole.n, 'pass', 'passes')} rated, {count_words(aces, 'ace')}: too few for a mean."
    places = [pass_words(one) for one in pass_means(table, "area") if one.n >= FEWEST][:2]
    whole_words = f"Passes averaged {whole.mean:.1f} of {best} over {whole.n}, {count_words(aces, 'ace')} counted as 0"
    return "; ".join([whole_words, *places]) + "."
