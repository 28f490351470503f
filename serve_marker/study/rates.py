"""How often: rates with their intervals, and counts of how serves ended.

n is every attempt (nets, outs and faults included). A serve too close to call, one whose error reaches the border of
an area or of its aim, or one whose place was not marked, is neither a hit nor a miss: a rate holds the fewest
and the most hits there can be.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from serve_marker.confidence_level import NORMAL_95
from serve_marker.court.areas import DEPTH_BANDS, area_names, seam_names
from serve_marker.study.fewest_serves import FEWEST
from serve_marker.study.intraclass import effective_n, evenings_of, rho_of

if TYPE_CHECKING:
    import pandas

Mask = NDArray[np.bool_]
OVER_NET = ("floor", "received", "target", "out")
RATE_COLUMNS = ("outcome", "verdict", "aim", "aim_hit", "aim_surely", "aim_may", "evening")
"""What the rates of landing in and of hitting the aim are told from."""


@dataclass(frozen=True)
class Rate:
    """``hits`` of ``n`` at least, ``most`` at most; ``low``..``high`` is the 95 % interval of the share [0-1].

    The interval runs from the lower Wilson bound of the fewest hits to the upper bound of the most, as of the
    ``effective_n`` independent attempts that n of the same evenings are worth.
    """

    hits: int
    n: int
    most: int
    low: float
    high: float
    effective_n: float

    @property
    def share(self) -> float:
        """Fewest hits over attempts [0-1]; NaN without attempts."""
        return self.hits / self.n if self.n else math.nan

    @property
    def enough(self) -> bool:
        """Whether there are enough attempts to speak of a rate at all."""
        return self.n >= FEWEST


@dataclass(frozen=True)
class Counts:
    """How the attempts of a choice ended. ``good`` are sure to be in: floor landings in, received, target struck."""

    n: int
    good: int
    received: int
    target: int
    net: int
    long: int
    wide: int
    out_unseen: int
    fault: int
    blocked: int
    too_close: int
    unplaced: int

    @property
    def errors(self) -> int:
        """How many gave the point away for sure: into the net, out, or a fault."""
        return self.net + self.long + self.wide + self.out_unseen + self.fault


@dataclass(frozen=True, eq=False)
class Attempts:
    """Which of N serves (N,) are counted, surely hit, are marked as a hit, may be one, and are not known at all."""

    counted: Mask
    sure: Mask
    marked: Mask
    may: Mask
    unknown: Mask

    @property
    def inside(self) -> tuple[Mask, Mask, Mask, Mask]:
        """Which are surely inside, marked inside, inside or maybe, and not known."""
        return self.sure, self.marked, self.may | self.sure, self.unknown


def wilson(hits: float, n: float, z: float = NORMAL_95) -> tuple[float, float]:
    """Return the Wilson score interval of a share (E. B. Wilson, JASA 22:209, 1927); NaN without attempts.

    It reaches ``z`` deviations either way, for 95 % if nothing else is asked. An effective n need not be whole.

    Examples
    --------
    >>> [round(bound, 4) for bound in wilson(81, 263)]
    [0.2553, 0.3662]
    """
    if n == 0:
        return math.nan, math.nan
    share = hits / n
    middle = share + z**2 / (2 * n)
    half_width = z * math.sqrt(share * (1 - share) / n + z**2 / (4 * n**2))
    scale = 1 + z**2 / n
    low = 0.0 if hits == 0 else (middle - half_width) / scale
    high = 1.0 if hits == n else (middle + half_width) / scale
    return low, high


def rate(hits: int, n: int, most: int | None = None, effective: float | None = None) -> Rate:
    """Return the Rate of ``hits`` in ``n`` attempts, or up to ``most``; all independent where nothing else is said."""
    most = hits if most is None else most
    if not 0 <= hits <= most <= n:
        raise ValueError(f"a rate needs 0 <= hits <= most <= n, got {hits}, {most}, {n}")
    effective = float(n) if effective is None else effective
    worth = effective / n if n else 1.0
    return Rate(hits, n, most, wilson(hits * worth, effective)[0], wilson(most * worth, effective)[1], effective)


def good_mask(table: pandas.DataFrame) -> NDArray[np.bool_]:
    """Return which serves (N,) are sure to have been in: landed in, received by a passer, or struck the target."""
    outcome, verdict = table["outcome"].to_numpy(), table["verdict"].to_numpy()
    good = (outcome == "received") | (outcome == "target") | ((outcome == "floor") & (verdict == "in"))
    return np.asarray(good, dtype=bool)


def unclear_mask(table: pandas.DataFrame) -> NDArray[np.bool_]:
    """Return which serves (N,) reached the floor where in or out cannot be told: too close, or place not marked."""
    outcome, verdict = table["outcome"].to_numpy(), table["verdict"].to_numpy()
    return np.asarray((outcome == "floor") & (verdict != "in") & (verdict != "out"), dtype=bool)


def landed_mask(table: pandas.DataFrame) -> NDArray[np.bool_]:
    """Return which serves (N,) have a known place: on the floor, in or out, on a placed target, or estimated.

    A received ball whose way was marked counts where it would have come down, here and in all that is told of places.
    """
    outcome = table["outcome"].to_numpy()
    ended = (outcome == "floor") | (outcome == "target") | (outcome == "received")
    return np.asarray(ended & np.isfinite(table["x_m"].to_numpy(dtype=float)), dtype=bool)


def over_net_mask(table: pandas.DataFrame) -> NDArray[np.bool_]:
    """Return which serves (N,) went over the net: those that came down, were received or were seen out."""
    return np.asarray(table["outcome"].isin(OVER_NET), dtype=bool)


def aim_hit_mask(table: pandas.DataFrame) -> NDArray[np.bool_]:
    """Return which serves (N,) are sure to have hit their aim: struck the target, or landed in it and in."""
    return np.asarray(good_mask(table) & table["aim_surely"].to_numpy(dtype=bool), dtype=bool)


def in_rate(table: pandas.DataFrame) -> Rate:
    """Return how many of all attempts were in."""
    return rate_of(table, in_attempts(table))


def error_rate(table: pandas.DataFrame) -> Rate:
    """Return how many of all attempts gave the point away for sure: into the net, out, or a fault."""
    outcome, verdict = table["outcome"].to_numpy(), table["verdict"].to_numpy()
    lost = np.isin(outcome.astype(str), ("net", "out", "fault")) | ((outcome == "floor") & (verdict == "out"))
    return rate(int(lost.sum()), len(table), effective=effective_n(evenings_of(table), rho_of(table)))


def in_attempts(table: pandas.DataFrame) -> Attempts:
    """Return which serves were in, all of them being counted."""
    good, unclear = good_mask(table), unclear_mask(table)
    return Attempts(np.ones(len(table), dtype=bool), good, good, good, unclear)


def aim_rate(table: pandas.DataFrame) -> Rate:
    """Return how many of the attempts with an aim hit it; n counts only serves that had an aim (or struck a target).

    A landing whose error reaches the aim's border is a maybe, as one too close to the line and one not placed are.
    """
    return rate_of(table, aim_attempts(table))


def aim_attempts(table: pandas.DataFrame) -> Attempts:
    """Return which serves hit their aim; those with an aim are counted, and those that struck a target."""
    import pandas as pd

    aim, outcome, hit = (table[name].to_numpy(dtype=object) for name in ("aim", "outcome", "aim_hit"))
    struck = np.asarray(outcome == "target", dtype=bool)
    aimed = np.asarray(aim != "", dtype=bool) | struck
    good, may, told = good_mask(table), table["aim_may"].to_numpy(dtype=bool), ~pd.isna(hit)
    marked = np.equal(hit, True).astype(bool) | struck
    sure = good & table["aim_surely"].to_numpy(dtype=bool) & marked
    unknown = may & (unclear_mask(table) | (good & ~told)) & ~sure
    return Attempts(aimed, aimed & sure, aimed & good & marked, aimed & good & may & told, aimed & unknown)


def rate_of(table: pandas.DataFrame, attempts: Attempts) -> Rate:
    """Return the rate of attempts of a serve table."""
    counted = attempts.counted
    return _counted(attempts, int(counted.sum()), effective_n(evenings_of(table)[counted], rho_of(table)))


def rates_in_cells(attempts: Attempts, cells: NDArray[np.int64], count: int, worth: float) -> list[Rate]:
    """Return the rate of the attempts in each of ``count`` cells (N,), each of which is worth so many independent."""

    def in_cells(part: Mask) -> list[int]:
        return list(np.bincount(cells[part], minlength=count).tolist())

    numbers = in_cells(attempts.counted)
    counts = zip(*map(in_cells, attempts.inside), strict=True)
    return [_rate_within(found, n, n * worth) for found, n in zip(counts, numbers, strict=True)]


def area_rates(table: pandas.DataFrame, court_name: str = "") -> dict[str, Rate]:
    """Return, for each of the nine areas of a court, how many of all attempts landed in it.

    Where no court is named it is that of most serves.

    Landings too close to a line, or whose error reaches into another area, are maybes.
    """
    bits = table["areas_may"].to_numpy()
    return _landed_in(table, "area", area_names(court_name or _court_name(table)), bits, _single(bits))


def depth_distribution(table: pandas.DataFrame) -> dict[str, Rate]:
    """Return, for short, between and deep, the share of the landings in; n is landings in or too close to call."""
    kept = landed_mask(table) & (good_mask(table) | unclear_mask(table))
    bits = np.where(kept, table["bands_may"].to_numpy(), 0)
    sure, bands, found = _single(bits), table["depth_band"].to_numpy(), {}
    effective = effective_n(evenings_of(table)[kept], rho_of(table))
    for place, band in enumerate(DEPTH_BANDS):
        there = (bits >> place & 1).astype(bool)
        attempts = Attempts(kept, there & sure, kept & (bands == band), there, np.zeros_like(kept))
        found[band] = _counted(attempts, int(kept.sum()), effective)
    return found


def seam_hits(table: pandas.DataFrame, court_name: str = "") -> dict[str, Rate]:
    """Return, for each seam, how many of all attempts landed in it; maybes as for the areas."""
    sure = table["seam_sure"].to_numpy(dtype=bool)
    names = seam_names(court_name or _court_name(table))
    return _landed_in(table, "seam", names, table["seams_may"].to_numpy(), sure)


def outcome_counts(table: pandas.DataFrame) -> Counts:
    """Return how the attempts ended. Long wins over wide where a ball was both, as judged."""
    outcome, verdict = table["outcome"].to_numpy(), table["verdict"].to_numpy()
    seen_out = (outcome == "floor") & (verdict == "out")
    missed = table["missed"].to_numpy()
    unseen = outcome == "out"
    return Counts(
        n=len(table),
        good=int(good_mask(table).sum()),
        received=int((outcome == "received").sum()),
        target=int((outcome == "target").sum()),
        net=int((outcome == "net").sum()),
        long=int((seen_out & (missed == "long")).sum()),
        wide=int((seen_out & (missed == "wide")).sum()),
        out_unseen=int((unseen | (seen_out & (missed != "long") & (missed != "wide"))).sum()),
        fault=int((outcome == "fault").sum()),
        blocked=int((outcome == "blocked").sum()),
        too_close=int(((outcome == "floor") & (verdict == "too close")).sum()),
        unplaced=int((unclear_mask(table) & (verdict != "too close")).sum()),
    )


def _court_name(table: pandas.DataFrame) -> str:
    """The court of a serve table; of several the one of most serves, "" where none is told."""
    if "court" not in table or not len(table):
        return ""
    return str(table["court"].mode()[0])


def _landed_in(
    table: pandas.DataFrame, column: str, names: tuple[str, ...], bits: NDArray[np.int64], sure: NDArray[np.bool_]
) -> dict[str, Rate]:
    landed, good, places = landed_mask(table), good_mask(table), table[column].to_numpy()
    landed &= np.isin(places.astype(str), ("", *names))
    inside, unclear = landed & good, landed & unclear_mask(table)
    effective, found = effective_n(evenings_of(table), rho_of(table)), {}
    for place, name in enumerate(names):
        there = (bits >> place & 1).astype(bool)
        marked = inside & (places == name)
        attempts = Attempts(landed, inside & there & sure, marked, inside & there, unclear & there)
        found[name] = _counted(attempts, len(table), effective)
    return found


def _counted(attempts: Attempts, n: int, effective: float) -> Rate:
    """Return the Rate of landings that are sure to be inside, are marked inside, and may be."""
    return _rate_within([int(part.sum()) for part in attempts.inside], n, effective)


def _rate_within(inside: Sequence[int], n: int, effective: float) -> Rate:
    """Return the Rate of n attempts of which so many are each of `Attempts.inside`.

    Of the m landings whose error reaches the border some lie on its other side: as many either way on average where
    they lie evenly about it, each with at most even chance. The count then strays by at most sqrt(m) / 2, and lies
    within 1.96 of that about the marked one (normal approximation of the binomial, rounded outwards), never beyond
    none or all of the m. Unknown ones may all be inside, or none.
    """
    surely, marks, mays, unknown = inside
    off = math.ceil(NORMAL_95 * math.sqrt(mays - surely) / 2)
    return rate(max(surely, marks - off), n, min(mays, marks + off) + unknown, effective)


def _single(bits: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether exactly one bit is set."""
    return np.asarray((bits > 0) & (bits & (bits - 1) == 0), dtype=bool)
