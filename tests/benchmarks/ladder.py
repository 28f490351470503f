"""Seasons on the ladder: how often a step is passed by chance, how often a true one is missed, and when it is passed.

    python tests/benchmarks/ladder.py [seasons]

Thirty servers of known rates serve 10 to 40 times an evening, until each has served 400 times at deep 1; the evenings
of a server differ (beta-binomial, intra-class correlation). The step asks for 75 of 100, and not 50. Each row of the
table is one correlation, once told to the program, once left to its own estimate from the season. Promised: at most 10
of 100 seasons are passed at .50; at .75 half the servers pass within 60 serves without correlation, 120 at .05.
"""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd

from serve_marker.study.climb import COUNTED_COLUMNS, climbs
from serve_marker.study.intraclass import EVENING_COLUMNS, TASK_COLUMNS, codes_of, intraclass_correlations
from serve_marker.study.ladder import LadderStep
from serve_marker.study.mastery import SEASON_SERVES

SERVERS = 30
RATES = (0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.9)
RHOS = (0.0, 0.05, 0.1)
STEP = LadderStep("deep 1", ("deep 1",), not_enough=0.5, mastery=0.75, least_effort=0.0)


def season(rng: np.random.Generator, rate: float, rho: float, sizes: tuple[int, int] = (10, 40)) -> pd.DataFrame:
    """Return a serve table of servers who all hit at one rate."""
    parts = []
    for server in range(SERVERS):
        left, evening = SEASON_SERVES, 0
        while left:
            serves = min(left, int(rng.integers(sizes[0], sizes[1] + 1)))
            of_evening = rng.beta(rate * (1 / rho - 1), (1 - rate) * (1 / rho - 1)) if rho else rate
            parts.append(np.column_stack([np.full((serves, 2), (server, evening)), rng.random(serves) < of_evening]))
            left, evening = left - serves, evening + 1
    servers, evenings, hits = np.concatenate(parts).T
    first = pd.Timestamp("2026-09-01")
    days = {evening: (first + pd.Timedelta(days=3 * evening)).date().isoformat() for evening in np.unique(evenings)}
    table = pd.DataFrame(
        {
            "player_id": [f"p{server:.0f}" for server in servers],
            "server": [f"{server:.0f}" for server in servers],
            "number": servers,
            "name": "",
            "practice_id": [f"w{evening:.0f}" for evening in evenings],
            "date": [days[evening] for evening in evenings],
            "aim": "deep 1",
            "outcome": "floor",
            "verdict": "in",
            "aim_hit": (hits > 0).astype(object),
            "aim_surely": hits > 0,
            "aim_may": hits > 0,
            "aim_has_depth": True,
            **dict.fromkeys(("x_m", "y_m", "aim_x_m", "aim_y_m", "effort", "pace_mps"), np.nan),
            **dict.fromkeys(("pace_low_mps", "pace_high_mps"), np.nan),
            **dict.fromkeys(TASK_COLUMNS[1:], ""),
        }
    )
    table["evening"] = codes_of(table, EVENING_COLUMNS)
    return table.sort_values("date", kind="stable", ignore_index=True)


def passing(
    rng: np.random.Generator, seasons: int, rate: float, rho: float, told: bool, **sizes: tuple[int, int]
) -> str:
    """Return the share of servers who pass within a season, and after how many serves half of those who pass had."""
    after = []
    for _ in range(seasons):
        table = season(rng, rate, rho, **sizes)
        found = {"rate": rho} if told else intraclass_correlations(table, table["aim_surely"].to_numpy())
        table.attrs["rho"] = found
        after += [climb.steps[0].at_aims[0].passed_after for climb in climbs(table, [STEP])]
    serves = np.array(after, dtype=float)
    serves[serves == 0] = np.inf
    middle = np.median(serves)
    return (
        f"{100 * np.isfinite(serves).mean():5.1f} % {middle:4.0f}"
        if np.isfinite(middle)
        else (f"{100 * np.isfinite(serves).mean():5.1f} %    -")
    )


def main(seasons: int) -> None:
    """Print the tables."""
    rng = np.random.default_rng(3)
    assert set(COUNTED_COLUMNS) <= set(season(rng, 0.5, 0.0).columns)
    print("rate                    " + " ".join(f"{rate:^12.2f}" for rate in RATES))
    for rho in RHOS:
        for told in (True, False):
            cells = [passing(rng, seasons, rate, rho, told) for rate in RATES]
            print(
                f"rho {rho:.2f} {'told     ' if told else 'estimated'}   " + " ".join(f"{cell:^12}" for cell in cells)
            )
    print("\nserves an evening, rho told: passed at .50, and .75")
    for size in (5, 10, 20, 40):
        for rho in RHOS:
            cells = [passing(rng, seasons, rate, rho, True, sizes=(size, size)) for rate in (0.5, 0.75)]
            print(f"{size:2d} rho {rho:.2f}   " + "   ".join(cells))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
