"""What serves asked of the passers, as a coach says it: gaps, whose ball, out of reach, aces and passes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from serve_marker.confidence_level import TAIL
from serve_marker.study.fewest_serves import FEWEST
from serve_marker.study.rates import outcome_counts, rate
from serve_marker.study.sentences import count_words, interval_words

if TYPE_CHECKING:
    import pandas

GAPS_M = (1.0, 2.0, 3.0)
GAP_WORDS = ("under 1 m", "1 to 2 m", "2 to 3 m", "over 3 m")


@dataclass(frozen=True)
class Asked:
    """What the serves nearest to one passer asked of her: how many, her mean gap [m], the way she went most often.

    Gap and way are of those whose flight is known: NaN and "" where none is.
    """

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
    """Return the serves at known passers that reached the court: landed in, too close, or received."""
    reached = (table["outcome"] == "received") | ((table["outcome"] == "floor") & (table["verdict"] != "out"))
    return table[table["floor_gap_m"].notna() & reached]


def asked_of_each(table: pandas.DataFrame) -> list[Asked]:
    """Return what was asked of each passer, the busiest first."""
    found = []
    for name, own in with_formation(table).groupby("nearest", sort=False):
        ways = own.loc[~own["way"].isin(("on the spot", "")), "way"].value_counts()
        found.append(Asked(str(name), len(own), float(own["gap_m"].mean()), str(ways.index[0]) if len(ways) else ""))
    return sorted(found, key=lambda one: (-one.n, one.passer))


def gap_sentence(table: pandas.DataFrame) -> str:
    """Return how far the nearest passer had to go and who had to; "" where no formation is known.

    Without any known flight, how far from her the serves landed.
    """
    rows = with_formation(table)
    if not len(rows):
        return ""
    busiest = asked_of_each(rows)[0]
    way = f", mostly going {busiest.way}" if busiest.way else ""
    most = f"{busiest.passer} had most to do, {busiest.n} of {len(rows)}{way}." if len(rows) >= FEWEST else ""
    gap_m = rows["gap_m"].dropna().to_numpy(dtype=float)
    if len(gap_m) >= FEWEST:
        told = f"The nearest passer typically had to go {np.median(gap_m):.1f} m ({len(gap_m)} timed)."
    elif len(gap_m):
        told = f"The nearest passer had to go {_each(gap_m)}."
    else:
        floor_gap_m = rows["floor_gap_m"].to_numpy(dtype=float)
        if len(rows) >= FEWEST:
            told = f"{len(rows)} serves landed typically {np.median(floor_gap_m):.1f} m from the nearest passer."
        else:
            told = f"{_each(floor_gap_m)} from the landing to the nearest passer."
    return f"{told} {most}".strip()


def gap_words(passer: str, gap_m: float, floor_gap_m: float) -> str:
    """Return how near a passer a serve came; "" where no passer is known.

    Examples
    --------
    >>> gap_words("Ines", 1.3, 2.6), gap_words("Ines", math.nan, 2.6)
    ('1.3 m from Ines', 'landed 2.6 m from Ines')
    """
    if not passer:
        return ""
    return f"{gap_m:.1f} m from {passer}" if math.isfinite(gap_m) else f"landed {floor_gap_m:.1f} m from {passer}"


def _each(lengths_m: NDArray[np.float64]) -> str:
    return ", ".join(f"{length_m:.1f} m" for length_m in lengths_m)


def reach_sentence(table: pandas.DataFrame) -> str:
    """Return how many serves no passer could have met in time; "" where no flight is known."""
    rows = with_formation(table)
    timed = [value for value in rows["reached"] if value is not None]
    if not timed:
        return ""
    away = sum(1 for value in timed if not value)
    span = f" ({interval_words(rate(away, len(timed)))})" if len(timed) >= FEWEST else ""
    return f"{away} of {len(timed)} timed serves were out of every passer's reach{span}."


def passer_seams(table: pandas.DataFrame) -> list[tuple[str, int]]:
    """Return how many serves fell into each seam of the formations they were hit against, most first."""
    rows = with_formation(table)
    counts = rows.loc[rows["passer_seam"] != "", "passer_seam"].value_counts(sort=False)
    return sorted(((str(name), int(count)) for name, count in counts.items()), key=lambda pair: (-pair[1], pair[0]))


def at_passers_mask(table: pandas.DataFrame) -> NDArray[np.bool_]:
    """Whether each serve (N,) was hit at people who receive: passers were set, people were the target, or one did."""
    there = (table["formation_id"] != "") | (table["target_kind"] == "people") | (table["outcome"] == "received")
    return np.asarray(there, dtype=bool)


def ace_mask(table: pandas.DataFrame) -> NDArray[np.bool_]:
    """Whether each serve (N,) was an ace: on the floor and in with passers there, or a shank nobody could play.

    A ball passed back over the net is none, and neither is a pass rated 0 of which nothing else is said.
    """
    on_floor = (table["outcome"] == "floor") & (table["verdict"] == "in") & ~(table["pass_rating"] > 0)
    shank = (table["outcome"] == "received") & (table["reception"] == "shank")
    return np.asarray((on_floor.to_numpy() & at_passers_mask(table)) | shank.to_numpy(), dtype=bool)


def pass_ratings(table: pandas.DataFrame) -> NDArray[np.float64]:
    """Return the rating (N,) of each serve's pass, an ace counted as 0, as the trade does; NaN where none was rated."""
    return np.where(ace_mask(table), 0.0, table["pass_rating"].to_numpy(dtype=float))


@dataclass(frozen=True)
class AtPassers:
    """What n serves at passers are told by first.

    Parameters
    ----------
    errors, aces, too_close, passed_over : how many gave the point away, won it at once, were too close to a line, and
        were passed back over the net.
    passes, mean_pass, best_pass : rated passes with aces as 0, their mean (NaN of none), and the best of the scale;
        0 where nothing but aces is rated.
    timed, gap_m : serves whose flight is known, and the median gap [m] they left to the nearest passer.
    """

    n: int
    errors: int
    aces: int
    too_close: int
    passed_over: int
    passes: int
    mean_pass: float
    best_pass: int
    timed: int
    gap_m: float


def at_passers(table: pandas.DataFrame) -> AtPassers | None:
    """Return what the serves at passers are told by first; None without any."""
    rows = table[at_passers_mask(table)]
    if not len(rows):
        return None
    counts, ratings = outcome_counts(rows), pass_ratings(rows)
    rated = ratings[np.isfinite(ratings)] if rows["pass_rating"].notna().any() else ratings[:0]
    gap_m = with_formation(rows)["gap_m"].dropna()
    return AtPassers(
        n=len(rows),
        errors=counts.errors,
        aces=int(ace_mask(rows).sum()),
        too_close=counts.too_close,
        passed_over=int((rows["reception"] == "over").sum()),
        passes=len(rated),
        mean_pass=float(rated.mean()) if len(rated) else math.nan,
        best_pass=best_pass_of(table),
        timed=len(gap_m),
        gap_m=float(gap_m.median()),
    )


def at_passers_sentence(table: pandas.DataFrame) -> str:
    """Return what serves at passers are told by first: errors, aces, the mean pass and the gap; "" without any."""
    found = at_passers(table)
    if found is None:
        return ""
    counted = f"{count_words(found.errors, 'error')}, {count_words(found.aces, 'ace')}"
    others = [f"{found.too_close} too close to a line"] if found.too_close else []
    others += [f"{found.passed_over} passed over the net"] if found.passed_over else []
    told = [f"{count_words(found.n, 'serve')} at passers: {counted}", *([", ".join(others)] if others else [])]
    told += [f"Mean pass {found.mean_pass:.1f}"] if found.passes >= FEWEST else []
    told += [f"Typical gap {found.gap_m:.1f} m"] if found.timed >= FEWEST else []
    return f"{'. '.join(told)}."


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
    ratings = pass_ratings(table)
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

    margin = float(stdtrit(n - 1, 1 - TAIL)) * float(ratings.std(ddof=1)) / math.sqrt(n)
    return PassMean(name, n, mean, max(0.0, mean - margin), min(float(best), mean + margin))


def pass_words(one: PassMean) -> str:
    """Return "deep 1: 1.4 over 12 passes", or that there are too few."""
    if one.n < FEWEST:
        return f"{one.name}: {count_words(one.n, 'pass', 'passes')}, too few"
    span = "all alike" if math.isnan(one.low) else f"{one.low:.1f} to {one.high:.1f}"
    return f"{one.name}: {one.mean:.1f} over {one.n} passes ({span})"


def pass_sentence(table: pandas.DataFrame) -> str:
    """Return what the passes averaged and where; "" where none was rated."""
    ratings = pass_ratings(table)
    rated = ratings[np.isfinite(ratings)]
    if not len(rated) or table["pass_rating"].notna().sum() == 0:
        return ""
    aces = int(ace_mask(table).sum())
    best = best_pass_of(table)
    whole = _mean("all", rated, best)
    if whole.n < FEWEST:
        passes = count_words(int(table["pass_rating"].notna().sum()), "pass", "passes")
        return f"{passes} rated, {count_words(aces, 'ace')}: too few for a mean."
    places = [pass_words(one) for one in pass_means(table, "area") if one.n >= FEWEST][:2]
    as_0 = f" ({count_words(aces, 'ace')} as 0)" if aces else ""
    whole_words = f"Mean pass {whole.mean:.1f} of {best}, of {whole.n} rated{as_0}"
    return ". ".join([whole_words, *(f"{place[:1].upper()}{place[1:]}" for place in places)]) + "."
