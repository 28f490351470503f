"""How a season went: each practice's rate smoothed, and the steps of the ladder passed on the way."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from serve_marker.court.dimensions import Floats
from serve_marker.study.climb import climbs
from serve_marker.study.compare import FEWEST_PRACTICES
from serve_marker.study.ladder import LadderStep

if TYPE_CHECKING:
    import pandas

NEWEST_WEIGHS = 0.3
"""Weight of the newest practice (S. W. Roberts, Technometrics 1:239, 1959; .2 to .3 are customary)."""


def smoothed(values: Floats) -> Floats:
    """Return the exponentially weighted moving average (N,) of values in their order; NaN values change nothing.

    It begins with the first value known; NaN before it, and everywhere where fewer than FEWEST_PRACTICES are known.

    Examples
    --------
    >>> smoothed(np.array([50.0, 52.0, 47.0, 53.0, 49.3])).round(2).tolist()
    [50.0, 50.6, 49.52, 50.56, 50.18]
    """
    import pandas as pd

    values = np.asarray(values, dtype=float)
    if np.isfinite(values).sum() < FEWEST_PRACTICES:
        return np.full(len(values), np.nan)
    return np.asarray(pd.Series(values).ewm(alpha=NEWEST_WEIGHS, adjust=False, ignore_na=True).mean(), dtype=float)


def steps_passed(table: pandas.DataFrame, player_id: str, steps: Sequence[LadderStep]) -> dict[str, list[str]]:
    """Return the names of the steps that a server passed, by the day; ``table`` holds all she ever served."""
    found: dict[str, list[str]] = {}
    for climb in climbs(table[table["player_id"] == player_id], steps):
        for step in climb.steps:
            if step.passed_on:
                found.setdefault(step.passed_on, []).append(step.step.name)
    return found
