"""Several means drawn together by as much as chance alone sets them apart.

Of many equal players with few passes each one always looks worst: means are believed as far as they differ by more
than chance would have it.
"""

from __future__ import annotations

import numpy as np

from serve_marker.court.dimensions import Floats

FEWEST_MEANS = 4
"""Fewer means cannot say how much they differ."""
ROUNDS = 60


def shrunk(means: Floats, variances: Floats, usual_between: float) -> tuple[Floats, Floats]:
    """Return means (K,) of known variances (K,) as drawn towards their common mean, and their deviations.

    The empirical Bayes estimate of C. Morris (J. Am. Stat. Assoc. 78:47, 1983); for equal variances that of B. Efron
    and C. Morris (J. Am. Stat. Assoc. 70:311, 1975). Fewer than four are taken to differ by the variance
    ``usual_between``.

    Examples
    --------
    >>> drawn, deviations = shrunk(np.array([0.0, 1.0, 2.0, 3.0, 14.0]), np.full(5, 4.0), 1.0)
    >>> drawn.round(2).tolist(), deviations.round(2).tolist()
    ([0.25, 1.18, 2.12, 3.06, 13.38], [1.94, 1.94, 1.94, 1.94, 1.94])
    """
    count = len(means)
    if not count:
        return means, means
    told = count >= FEWEST_MEANS
    between = 0.0 if told else usual_between
    for _ in range(ROUNDS):
        weights = 1 / (variances + between)
        centre = np.average(means, weights=weights)
        if told:
            apart = count / (count - 1) * (means - centre) ** 2 - variances
            between = max(float(np.average(apart, weights=weights)), 0.0)
    drawn = variances / (variances + between) * ((count - 3) / (count - 1) if told else 1.0)
    return means + drawn * (centre - means), np.sqrt(variances * (1 - drawn))
