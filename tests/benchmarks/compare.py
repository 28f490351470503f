"""How often the interval of a comparison holds the truth, at few serves a side.

python tests/benchmarks/compare.py [--sets 4000]

Two selections of n serves each, in one task or shared by two, with rates and means drawn anew each time; independent
serves, and serves of three evenings alike by .05 where that is known.
"""

from __future__ import annotations

import argparse

import numpy as np

from serve_marker.study.intraclass import effective_n
from serve_marker.study.rates import rate
from serve_marker.study.significance import stratified_mean_difference, stratified_rate_difference

EVENINGS = 3


def rates_hold(n: int, tasks: int, rho: float, sets: int, chance: np.random.Generator) -> float:
    """The share of sets in which the interval of the difference of rates holds the true one, alike in all tasks."""
    held = 0
    for _ in range(sets):
        more = chance.uniform(-0.3, 0.3)
        before = chance.uniform(max(0.1, 0.1 - more), min(0.9, 0.9 - more), tasks)
        pairs = []
        for task in range(tasks):
            some = n // tasks
            evenings = np.arange(some) % EVENINGS
            pair = []
            for share in (before[task], before[task] + more):
                tonight = np.full(EVENINGS, share)
                if rho:
                    tonight = chance.beta(share * (1 / rho - 1), (1 - share) * (1 / rho - 1), EVENINGS)
                hits = int((chance.random(some) < tonight[evenings]).sum())
                pair.append(rate(hits, some, effective=effective_n(evenings, rho)))
            pairs.append((pair[0], pair[1]))
        found = stratified_rate_difference(pairs)
        held += found.low <= more <= found.high
    return held / sets


def means_hold(n: int, tasks: int, rho: float, sets: int, chance: np.random.Generator) -> float:
    """The same of the difference of means, of values normal about the mean of their task and evening."""
    held = 0
    strata, second = np.arange(2 * n) % tasks, np.arange(2 * n) >= n
    evenings = np.arange(2 * n) % EVENINGS + EVENINGS * second
    for _ in range(sets):
        more, level = chance.normal(0.0, 1.0), chance.normal(0.0, 1.0, tasks)
        tonight = chance.normal(0.0, np.sqrt(rho), 2 * EVENINGS)
        values = level[strata] + more * second + tonight[evenings] + chance.normal(0.0, np.sqrt(1 - rho), 2 * n)
        found = stratified_mean_difference(values, second, strata, evenings, rho)
        held += found.low <= more <= found.high
    return held / sets


def main() -> None:
    """Print how often the truth is held."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=4000)
    sets = parser.parse_args().sets
    chance = np.random.default_rng(8)
    print("serves a side  tasks   rho  rates hold  means hold")
    for n in (5, 10, 30):
        for tasks in (1, 2):
            for rho in (0.0, 0.05):
                shares = (hold(n, tasks, rho, sets, chance) for hold in (rates_hold, means_hold))
                print(f"{n:13d}  {tasks:5d}  {rho:.2f}  " + "  ".join(f"{share:10.1%}" for share in shares), flush=True)


if __name__ == "__main__":
    main()
