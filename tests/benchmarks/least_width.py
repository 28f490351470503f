"""How wide a view of few clicks has to be told: the least that any rule can do which knows their residuals only.

    python -m tests.benchmarks.least_width

Hands of 1 to 5 px leave residuals of their size times chi of so many degrees of freedom, two values a mark less the
seven that a camera takes up, and landings miss by their size times the root of chi-square of two. A rule states an
error that does not shrink while the residuals grow. Of all such rules, searched for numerically, the one is printed
that holds 93 % for every hand and is widest by as little as can be; *wide* as in truth.py.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq, minimize
from scipy.stats import chi

from serve_marker.court.dimensions import Floats
from tests.benchmarks.truth_views import COUNTS, HANDS_PX

CAMERA_VALUES = 7
HELD = 0.93
RESIDUALS_PX = np.geomspace(0.02, 40, 400)
KNOTS_PX = np.geomspace(0.05, 20, 14)
STARTS = 3


class Rules:
    """All rules for residuals of so many degrees of freedom."""

    def __init__(self, freedom: int) -> None:
        borders_px = np.r_[0, np.sqrt(RESIDUALS_PX[1:] * RESIDUALS_PX[:-1]), np.inf]
        self._chances = [np.diff(chi.cdf(borders_px / hand_px, freedom)) for hand_px in HANDS_PX]

    def stated(self, rule: Floats) -> Floats:
        """What a rule states at RESIDUALS_PX, from its log at the first knot and its rises to the others."""
        log_stated = np.interp(np.log(RESIDUALS_PX), np.log(KNOTS_PX), rule[0] + np.cumsum(np.abs([0, *rule[1:]])))
        return np.asarray(np.exp(log_stated))

    def held(self, stated: Floats) -> Floats:
        """The share of landings held, of each hand."""
        return np.array(
            [
                chances @ (1 - np.exp(-((stated / hand_px) ** 2) / 2))
                for chances, hand_px in zip(self._chances, HANDS_PX, strict=True)
            ]
        )

    def wide(self, stated: Floats) -> Floats:
        """How many times larger than needed to hold 95 %, for each hand."""
        return np.array(
            [brentq(lambda w, k=k: self.held(stated / w)[k] - 0.95, 1e-3, 1e3) for k in range(len(HANDS_PX))]
        )

    def best(self) -> Floats:
        """What the least wide rule states at RESIDUALS_PX."""
        rng = np.random.default_rng(0)
        found = []
        for _ in range(STARTS):
            rule = np.r_[np.log(2.5 * rng.uniform(0.6, 2)), rng.uniform(0, 0.3, len(KNOTS_PX) - 1)]
            for _ in range(4):
                last = minimize(self._cost, rule, method="Powell")
                rule = last.x
            found.append((last.fun, rule))
        return self.stated(min(found, key=lambda one: one[0])[1])

    def _cost(self, rule: Floats) -> float:
        stated = self.stated(rule)
        return float(self.wide(stated).max() + 200 * np.clip(HELD - self.held(stated), 0, None).sum())


def main() -> None:
    """Print a line for each number of marks."""
    print(f"hands of {HANDS_PX} px")
    for count in COUNTS:
        rules = Rules(2 * count - CAMERA_VALUES)
        best = rules.best()
        print(
            f"{count} marks: wide {rules.wide(best).round(2)}, held {(100 * rules.held(best)).round(1)} %", flush=True
        )


if __name__ == "__main__":
    main()
