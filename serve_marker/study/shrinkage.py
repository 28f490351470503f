"""Several means drawn together by as much as chance alone sets them apart.

Of many equal players with few passes each one always looks worst: means are believed as far as they differ by more
than chance would have it.
"""

from __future__ import annotations

import numpy as np

from serve_marker.court.dimensions import Floats

FEWEST_MEANS = 4
"""Of fewer means nothing says how much they differ: all are taken to be alike."""
ROUNDS = 60


def shrunk(means: Floats, variances: Floats) -> Floats:
    """Return means (K,) of known variances (K,) as drawn towards their common mean, all of it with fewer than four.

    The empirical Bayes estimate of C. Morris (J. Am. Stat. Assoc. 78:47, 1983); for equal variances that of B. Efron
    and C. Morris (J. Am. Stat. Assoc. 70:311, 1975).

    Examples
    --------
    >>> shrunk(np.array([0.0, 1.0, 2.0, 3.0, 14.0]), np.full(5, 4.0)).round(2).tolist()
    [0.25, 1.18, 2.12, 3.06, 13.38]
    """
    count = len(means)
    if not count:
        return means
    if count < FEWEST_MEANS:
        return np.full(count, np.average(means, weights=1 / variances))
    between = 0.0
    for _ in range(ROUNDS):
        weights = 1 / (variances + between)
        centre = np.average(means, weights=weights)
        apart = count / (count - 1) * (means - centre) ** 2 - variances
        between = max(float(np.average(apart, weights=weights)), 0.0)
    drawn = (count - 3) / (count - 1) * variances / (variances + between)
    return np.asarray(means + drawn * (centre - means), dtype=float)
