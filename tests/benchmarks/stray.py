"""How often landings of a normal scatter are called astray, and how often serves far off are.

    python tests/benchmarks/stray.py

Per practice size and strays in it: the share of practices of which a clean serve is left out by the smallest half's
border, of which a clean serve is called astray, and of which every stray is.
"""

from __future__ import annotations

import numpy as np

from serve_marker.study.robust import robust_spread

PRACTICES = 300


def main() -> None:
    """Print one line per kind of practice."""
    print("serves strays away  clean left out  clean called astray  strays all named")
    for count in (8, 10, 20, 40):
        for strays, away in ((0, 0), (1, 7), (1, 12), (2, 12)):
            rng = np.random.default_rng(count)
            told = []
            for _ in range(PRACTICES):
                points = rng.normal(size=(count, 2))
                points[:strays] += (away, 0.0)
                found = robust_spread(points)
                clean = slice(strays, None)
                told.append((found.left_out[clean].any(), found.astray[clean].any(), found.astray[:strays].all()))
            left_out, called, named = np.mean(told, axis=0)
            words = f"{named:8.2f}" if strays else "       -"
            print(f"{count:6d} {strays:6d} {away:4d} {left_out:15.2f} {called:20.2f} {words}")


if __name__ == "__main__":
    main()
