"""The honest trial: how often it calls a difference that is not there, and how many players and evenings find one.

python tests/benchmarks/trial.py [--seasons 10000]

Each player has a rate of her own, gets better over the season like all others by her own amount, and serves 20 balls an
evening, alike within an evening by rho (beta-binomial): three evenings before the draw, three after it.
"""

from __future__ import annotations

import argparse

import numpy as np

from serve_marker.court.dimensions import Floats
from serve_marker.study.trial import FEWEST_DRAWS, draws_of, permutation

SERVES, EVENINGS = 20, 3


def evening_rates(rates: Floats, rho: float, chance: np.random.Generator) -> Floats:
    """The share of hits (P, E) on evenings of players (P,) with these rates."""
    tonight = np.repeat(rates[:, None], EVENINGS, axis=1)
    if rho:
        concentration = 1 / rho - 1
        tonight = chance.beta(tonight * concentration, (1 - tonight) * concentration)
    return chance.binomial(SERVES, tonight) / SERVES


def alarms(players: int, effect: float, rho: float, seasons: int, chance: np.random.Generator) -> float:
    """The share of seasons in which a difference is told."""
    if draws_of(players // 2, players - players // 2) < FEWEST_DRAWS:
        return 0.0
    told = 0
    for _ in range(seasons):
        rates = chance.uniform(0.25, 0.65, players)
        later = np.clip(rates + chance.normal(0.05, 0.05, players), 0.02, 0.98)
        tries = chance.permutation(players)[: players // 2]
        later[tries] = np.clip(later[tries] + effect, 0.02, 0.98)
        change = evening_rates(later, rho, chance).mean(axis=1) - evening_rates(rates, rho, chance).mean(axis=1)
        others = np.setdiff1d(np.arange(players), tries)
        told += permutation(change[tries], change[others])[1] <= 0.05
    return told / seasons


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seasons", type=int, default=10_000)
    seasons = parser.parse_args().seasons
    chance = np.random.default_rng(5)
    print(f"told of 100 seasons ({SERVES} serves an evening, {EVENINGS} evenings before and after)")
    print("players  rho   no effect    +.10    +.20    +.30")
    for players in (6, 8, 10, 12):
        for rho in (0.0, 0.03, 0.10):
            null = alarms(players, 0.0, rho, seasons, chance)
            found = [alarms(players, effect, rho, seasons // 10, chance) for effect in (0.1, 0.2, 0.3)]
            cells = "  ".join(f"{100 * one:6.1f}" for one in found)
            print(f"{players:7d}  {rho:.2f}  {100 * null:9.2f}  {cells}", flush=True)


if __name__ == "__main__":
    main()
