"""The 95 % that every interval, ellipse and test of the program promises."""

from __future__ import annotations

import math
from statistics import NormalDist

TAIL = 0.025
"""What either end of an interval leaves out."""
NORMAL_95 = NormalDist().inv_cdf(1 - TAIL)
ELLIPSE_95 = math.sqrt(-2.0 * math.log(2 * TAIL))
"""Half-axes over deviations: the square root of the 95 % quantile of chi-square with two degrees of freedom."""
