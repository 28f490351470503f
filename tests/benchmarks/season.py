"""Seasons in which nothing changes: how often something is said all the same, and what it takes to find a true change.

    python tests/benchmarks/season.py [seasons] [rho ...]

Twelve servers of equal skill serve twenty times on each of twenty evenings at two aims, one of them easier; of eight
serves one ends in the net. Evenings differ: a rate is drawn from a beta distribution, a centre from a normal one, with
intra-class correlation rho. Passers, where there are any, take the balls that land nearest the aim. Per sheet: the
share of team sheets of one evening (pulls of twelve servers, "clearly fewer") and of servers' pages after an evening
("better", "worse") on which anything false stands. Per season: the same once, at the end, over all evenings. Promised
are at most 5 in 100, and three times that before the logbook holds ten practices where rho is 0.07.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from serve_marker.study.by_server import rows_by_server
from serve_marker.study.compare import FEWEST_PRACTICES, trend_sentence
from serve_marker.study.compare_servers import servers_apart_sentence, servers_sentences
from serve_marker.study.intraclass import EVENING_COLUMNS, codes_of, intraclass_correlations
from serve_marker.study.pull import bias_of
from serve_marker.study.rates import aim_hit_mask
from serve_marker.study.sentences import FEW_PLACED, NO_PULL, bias_words

SERVERS, EVENINGS, SERVES = 12, 20, 20
AIMS = {"deep 1": (1.5, 7.5, 0.35), "deep 6": (4.5, 7.5, 0.55)}
NETS = 1 / 8
SD_M = (1.1, 1.4)
Rng = np.random.Generator


def season(
    rng: Rng,
    rho: float,
    passers: bool = False,
    placed: float = 1.0,
    own_aims: bool = False,
    gain: float = 0.0,
    since: int = EVENINGS // 2,
) -> pd.DataFrame:
    """Return a serve table of equal servers; the rates of the first one rise by ``gain`` on the evening ``since``."""
    parts = []
    for evening in range(EVENINGS):
        for server in range(SERVERS):
            rise = gain if server == 0 and evening >= since else 0.0
            share = (0.1 + 0.8 * (server % 2)) if own_aims else 0.5
            parts.append(_evening(rng, evening, server, rho, share, rise, passers, placed))
    table = pd.concat(parts, ignore_index=True)
    return table.assign(evening=codes_of(table, EVENING_COLUMNS))


def _evening(
    rng: Rng, evening: int, server: int, rho: float, share: float, rise: float, passers: bool, placed: float
) -> pd.DataFrame:
    names, serves = list(AIMS), SERVES
    aim = np.where(rng.random(serves) < share, names[1], names[0])
    x_m, y_m, p = (np.array([AIMS[name][part] for name in aim]) for part in range(3))
    if rho:
        worth = 1 / rho - 1
        level = {name: rng.beta(AIMS[name][2] * worth, (1 - AIMS[name][2]) * worth) for name in names}
        p = np.array([level[name] for name in aim])
    hit = rng.random(serves) < p + rise
    miss_m = np.array(SD_M) * (np.sqrt(1 - rho) * rng.normal(size=(serves, 2)) + np.sqrt(rho) * rng.normal(size=(1, 2)))
    net = ~hit & (rng.random(serves) < NETS / (1 - p.mean()))
    received = np.zeros(serves, dtype=bool)
    if passers:
        near = np.argsort(np.hypot(*miss_m.T))
        received[near[: serves // 2]] = True
        received &= ~net
    known = ~net & (~received | (rng.random(serves) < placed))
    told = ~net & ~received
    return pd.DataFrame(
        {
            "player_id": f"p{server}",
            "server": f"{server}",
            "number": float(server),
            "name": f"{server}",
            "practice_id": f"e{evening:02d}",
            "practice": "",
            "season": "",
            "date": f"2026-{9 + evening // 5:02d}-{1 + 5 * (evening % 5):02d}",
            "serve_type": "float",
            "target_kind": "passers" if passers else "none",
            "aim": aim,
            "outcome": np.where(net, "net", np.where(received, "received", "floor")),
            "verdict": np.where(told, "in", ""),
            "aim_hit": np.where(told, hit.astype(object), np.array(None, dtype=object)),
            "aim_surely": told & hit,
            "aim_may": (told & hit) | received,
            "estimated": received & known,
            "x_m": np.where(known, x_m + miss_m[:, 0], np.nan),
            "y_m": np.where(known, y_m + miss_m[:, 1], np.nan),
            "aim_x_m": x_m,
            "aim_y_m": y_m,
            "aim_has_depth": True,
            "pace_mps": _alike(rng, 15.0, 1.2, rho, served=~net),
            "net_clearance_m": _alike(rng, 0.6, 0.3, rho, served=~net),
            "gap_m": _alike(rng, 1.6, 0.7, rho, served=~net) if passers else np.nan,
        }
    )


def _alike(rng: Rng, mean: float, sd: float, rho: float, served: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Values (N,) of one evening, of every server's the same in the mean; NaN of those not served over the net."""
    values = mean + sd * (np.sqrt(1 - rho) * rng.normal(size=len(served)) + np.sqrt(rho) * rng.normal())
    return np.where(served, values, np.nan)


def as_known(table: pd.DataFrame) -> pd.DataFrame:
    """Return the table with what the program would know of its evenings."""
    table = table.copy()
    table.attrs["rho"] = intraclass_correlations(table, aim_hit_mask(table))
    return table


def a_pull(rows: pd.DataFrame) -> bool:
    """Whether a team sheet says of anybody that she pulls."""
    groups = rows_by_server(rows)
    said = [bias_words(bias_of(own, 2 * len(groups))) for _, own in groups]
    return any(words not in (NO_PULL, FEW_PLACED, "too few", "-") for words in said)


def clearly_fewer(rows: pd.DataFrame) -> bool:
    """Whether a team sheet says of anybody that she clearly hits less often."""
    return "Clearly fewer" in servers_sentences(rows)[1]


def verdict(rows: pd.DataFrame) -> str:
    """What a server's page says: "better", "worse" or ""."""
    said = trend_sentence(rows)
    return next((word for word in ("better", "worse") if said.startswith(f"{word.title()} (")), "")


def share(told: Iterable[bool]) -> str:
    """Return how many of 100, with the count."""
    told = list(told)
    return f"{100 * np.mean(told):5.1f} ({len(told)})" if told else "    -"


def nothing_changes(seasons: int, rho: float, words: str, **kind: bool | float) -> None:
    """Print how often something is said of seasons in which nothing is there."""
    sheets: dict[str, list[bool]] = {}
    for number in range(seasons):
        table = season(np.random.default_rng(number), rho, **kind)  # type: ignore[arg-type]
        ever: dict[str, set[str]] = {}
        for evening in range(EVENINGS):
            so_far = as_known(table[table["practice_id"] <= f"e{evening:02d}"])
            sheet = so_far[so_far["practice_id"] == f"e{evening:02d}"]
            when = "1-9 practices" if evening < 9 else "10-20 practices"
            sheets.setdefault(f"pull, sheet, {when}", []).append(a_pull(sheet))
            sheets.setdefault(f"fewer, sheet, {when}", []).append(clearly_fewer(sheet))
            sheets.setdefault(f"otherwise than the others, sheet, {when}", []).append(
                bool(servers_apart_sentence(sheet))
            )
            if evening + 1 >= FEWEST_PRACTICES and evening % 3 == 1:
                for server, rows in so_far.groupby("player_id"):
                    said = verdict(rows)
                    ever.setdefault(when, set()).update({str(server)} if said else ())
                    sheets.setdefault(f"better or worse, page, {when}", []).append(bool(said))
        whole = as_known(table)
        sheets.setdefault("pull, season", []).append(a_pull(whole))
        sheets.setdefault("fewer, season", []).append(clearly_fewer(whole))
        sheets.setdefault("otherwise, season", []).append(bool(servers_apart_sentence(whole)))
        sheets.setdefault("better, season", []).extend(verdict(rows) == "better" for _, rows in whole.groupby("server"))
        sheets.setdefault("worse, season", []).extend(verdict(rows) == "worse" for _, rows in whole.groupby("server"))
        ever["a season"] = set().union(*ever.values())
        for when, servers in ever.items():
            sheets.setdefault(f"better or worse, ever in {when}", []).extend(f"p{k}" in servers for k in range(SERVERS))
    print(f"\n{words}, rho {rho:.2f}: said of 100 (of how many)")
    for name, told in sorted(sheets.items()):
        print(f"  {name:<42} {share(told)}")


def a_true_change(seasons: int, rho: float) -> None:
    """Print after how many practices a rise of .30 is found."""
    found: dict[int, list[bool]] = {}
    for number in range(seasons):
        table = season(np.random.default_rng(1000 + number), rho, gain=0.3)
        for evening in (11, 13, 15, 17, 19):
            so_far = as_known(table[table["practice_id"] <= f"e{evening:02d}"])
            own = so_far[so_far["player_id"] == "p0"]
            found.setdefault(evening + 1, []).append(verdict(own) == "better")
    print(f"\na rise of .30 after ten practices of twenty serves, rho {rho:.2f}: found of 100")
    for practices, told in found.items():
        print(f"  after {practices:2d} practices {share(told)}")


def a_weaker_server(seasons: int, rho: float) -> None:
    """Print on how many sheets over the practices so far the one server who hits .30 less often is named."""
    found: dict[int, list[bool]] = {}
    for number in range(seasons):
        table = season(np.random.default_rng(2000 + number), rho, gain=-0.3, since=0)
        for practices in (1, 2, 3, 4, 6, 10, 20):
            so_far = as_known(table[table["practice_id"] < f"e{practices:02d}"])
            named = (
                servers_sentences(so_far)[1]
                .partition("Clearly fewer at the same task: ")[2]
                .partition(".")[0]
                .split(", ")
            )
            found.setdefault(practices, []).append("0" in named)
    print(f"\none of twelve hits .30 less often, twenty serves a practice, rho {rho:.2f}: named of 100")
    for practices, told in found.items():
        print(f"  after {practices:2d} practices {share(told)}")


def main() -> None:
    """Print the tables."""
    seasons = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    for rho in [float(text) for text in sys.argv[2:]] or (0.0, 0.03, 0.07):
        nothing_changes(seasons, rho, "two aims")
        nothing_changes(seasons, rho, "passers take the best balls, all placed", passers=True)
        nothing_changes(seasons, rho, "passers take the best balls, half placed", passers=True, placed=0.5)
        nothing_changes(seasons, rho, "everyone aims elsewhere", own_aims=True)
        a_true_change(seasons, rho)
        a_weaker_server(seasons, rho)


if __name__ == "__main__":
    main()
