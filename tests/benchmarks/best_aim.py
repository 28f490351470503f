"""How well the best aim holds: against serves drawn one by one, and over many servers whose truth is known.

python tests/benchmarks/best_aim.py [--sets 200]
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

import numpy as np

from serve_marker.court.aims import parse_aim
from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import Floats, court_named
from serve_marker.study.best_aim import BestAim, best_place
from serve_marker.study.serve_worth import CourtWorth, ServeWorth
from serve_marker.study.whole_scatter import net_cut_sd, whole_scatter
from serve_marker.study.worth_map import best_of, centre_beyond, worth_map

COURT = court_named("indoor")
SCHEME = default_scheme(COURT)
AIM = parse_aim("deep 1", COURT, SCHEME)
SPREADS_M = ((0.8, 1.0), (1.2, 1.6))
VALUES = {
    "deep 1": ServeWorth.of_aim("deep 1"),
    "seam 5-6": ServeWorth(places={"seam 5-6": 1.0}),
    "three places": ServeWorth(long=-0.5, wide=-0.5, places={"deep 1": 1.0, "seam 5-6": 1.0, "short 4": 0.8}),
}
DRAWN = 40_000
AWAY_M = np.array([(0.0, 0.0), (0.0, 1.2)])


def found(misses_m: Floats, aim_m: tuple[float, float], worth: ServeWorth, into_net: int = 0) -> BestAim:
    """Return the best aim of serves that miss an aim at a point by so much."""
    assert AIM is not None
    scatter = whole_scatter(misses_m, into_net, np.empty((0, 2)), COURT)
    return best_place(scatter, replace(AIM, centre_m=aim_m), worth, COURT, SCHEME)


def brute_force(sets: int) -> None:
    """Print how far the worth now is from that of serves drawn one by one, in standard errors."""
    chance = np.random.default_rng(1)
    apart = []
    for _ in range(sets):
        spread_m, pull_m = chance.uniform(0.5, 1.8, 2), chance.uniform(-1.2, 1.2, 2)
        misses_m = chance.multivariate_normal(pull_m, np.diag(spread_m**2), 30)
        best = found(misses_m, (1.5, 7.5), VALUES["three places"], int(chance.integers(0, 8)))
        covariance_m2 = best.scatter.covariance_m2
        cut_sd = net_cut_sd(best.scatter.into_net / best.scatter.n)
        away_m = chance.multivariate_normal((0.0, 0.0), covariance_m2, DRAWN)
        places_m = np.array(best.now_m) + away_m - centre_beyond(covariance_m2, cut_sd)
        in_net = away_m[:, 1] < cut_sd * np.sqrt(covariance_m2[1, 1])
        worth = np.where(in_net, best.worth.net, CourtWorth.on(best.worth, COURT, SCHEME)(places_m))
        apart.append((best.now - worth.mean()) / (worth.std() / np.sqrt(DRAWN)))
    within = np.mean(np.abs(apart) < 3)
    print(
        f"{sets} servers against {DRAWN} serves each: {within:.1%} within 3 standard errors, mean {np.mean(apart):+.2f}"
    )


def coverage(sets: int) -> None:
    """Print how often the places near the best hold the true best, and how often a gain is told, truly and falsely."""
    print("values        spread     n  holds  told at the best  told 1.2 m long  lost of the range  m2 as good")
    chance = np.random.default_rng(2)
    for name, worth in VALUES.items():
        for spread_m in SPREADS_M:
            truth_m2 = np.diag(np.square(spread_m))
            truth = worth_map(CourtWorth.on(worth, COURT, SCHEME), (0.0, 9.0), (0.0, 9.0), 0.15, spread_m)
            around = truth.around(truth_m2)
            best_m, best = best_of(around, truth)
            cell = tuple(int(place / truth.cell) for place in best_m)
            for n in (10, 20, 50):
                holds, false, true, lost, size = 0, 0, 0, [], []
                for _ in range(sets):
                    misses_m = chance.multivariate_normal((0.0, 0.0), truth_m2, n)
                    there, beyond = (found(misses_m + far_m, best_m, worth) for far_m in AWAY_M)
                    holds += bool(there.near_best[cell])
                    false, true = false + there.is_told, true + beyond.is_told
                    advised = tuple(min(int(place / truth.cell), 59) for place in there.best_m)
                    lost.append((best - around[advised]) / np.ptp(around))
                    size.append(there.near_best.sum() * truth.cell**2)
                shares = f"{holds / sets:5.2f}  {false / sets:16.2f}  {true / sets:15.2f}"
                case = f"{name:13s} {spread_m[0]:.1f} {spread_m[1]:.1f}  {n:3d}"
                print(f"{case}  {shares}  {np.mean(lost):17.3f}  {np.mean(size):10.1f}", flush=True)


def main() -> None:
    """Print all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=200)
    sets = parser.parse_args().sets
    brute_force(sets)
    begun_s = time.process_time()
    for _ in range(10):
        found(np.random.default_rng(1).normal(0.0, 1.2, (40, 2)), (1.5, 7.5), VALUES["deep 1"])
    print(f"one answer: {(time.process_time() - begun_s) / 10:.2f} s of processor time")
    coverage(sets)


if __name__ == "__main__":
    main()
