"""Rallies won on serve, where somebody noted who won them, and how often a risky serve may miss."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from serve_marker.court.aims import aim_words
from serve_marker.study.intraclass import effective_n, evenings_of, rho_of
from serve_marker.study.rates import Rate, rate
from serve_marker.study.sentences import rate_with_interval_words
from serve_marker.study.significance import rate_difference

if TYPE_CHECKING:
    import pandas

ERRORS = ("net", "out", "fault")


@dataclass(frozen=True)
class Rallies:
    """Of some serves: how many ``missed``, and how many rallies were ``won`` of those noted whose serve was in."""

    missed: Rate
    won: Rate


def rallies_of(table: pandas.DataFrame) -> Rallies:
    """Return the rallies of some serves; where a match was noted, drills beside it tell how often they miss."""
    out = (table["outcome"] == "floor") & (table["verdict"] == "out")
    missed = (table["outcome"].isin(ERRORS) | out).to_numpy()
    noted = (table["rally"] != "").to_numpy() & ~missed
    won = (table["rally"] == "won").to_numpy() & noted
    evenings, rho = evenings_of(table), rho_of(table)
    return Rallies(
        rate(int(missed.sum()), len(table), effective=effective_n(evenings, rho)),
        rate(int(won.sum()), int(noted.sum()), effective=effective_n(evenings[noted], rho)),
    )


def break_even_errors(safe_missed: float, safe_won: float, risky_won: float) -> float:
    """Return which share of risky serves may miss until safe ones win as many rallies; shares are of 1.

    ``safe_won`` and ``risky_won`` are shares of the rallies whose serve was no error.

    Examples
    --------
    A safe serve misses 5 of 100 and wins 38 of 100 when in; one that wins 45 may miss up to 20 of 100.

    >>> round(break_even_errors(0.05, 0.38, 0.45), 3)
    0.198
    """
    return max(0.0, 1.0 - (1.0 - safe_missed) * safe_won / risky_won) if risky_won > 0 else 0.0


def rallies_sentence(table: pandas.DataFrame) -> str:
    """Return how many rallies serves in won; "" where none is noted.

    Where one aim wins more than the safest, and that is told from chance, also how often it may miss.
    """
    if not (table["rally"] != "").any():
        return ""
    whole = rallies_of(table)
    told = f"Rallies won when the serve was in: {rate_with_interval_words(whole.won)}."
    by_aim = {str(aim): rallies_of(own) for aim, own in table.groupby("aim", sort=False) if aim}
    enough = {aim: one for aim, one in by_aim.items() if one.won.enough and one.won.hits}
    if len(enough) < 2:
        return told
    safe = min(enough, key=lambda aim: enough[aim].missed.share)
    risky = max(enough, key=lambda aim: enough[aim].won.share)
    if not rate_difference(enough[safe].won, enough[risky].won, tests=len(enough) - 1).low > 0:
        return told
    may = break_even_errors(enough[safe].missed.share, enough[safe].won.share, enough[risky].won.share)
    allowed = f"{aim_words(risky).capitalize()} may miss {100 * may:.0f} of 100 before {aim_words(safe)} wins as much."
    return f"{told} {allowed}"
