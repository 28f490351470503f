"""The scatter of all of a server's serves about their aims: of those into the net and those unseen out as well.

A serve into the net has no landing: it would have come down short of where a serve just clears the net, and those that
are seen are the rest of a scatter cut off there. A serve seen out but not where came down outside the court. Leaving
both away would make a wild server look steady.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import Court, Floats
from serve_marker.court.line_calls import CONTACT_RADIUS_M
from serve_marker.study.intraclass import evenings_of, independent_of, rho_of, share_of_variance_seen
from serve_marker.study.pull import known_places, misses_of
from serve_marker.study.rates import OVER_NET
from serve_marker.study.worth_map import centre_beyond

if TYPE_CHECKING:
    import pandas

NODES = 512
ROUNDS = 40


@dataclass(frozen=True, eq=False)
class WholeScatter:
    """How serves at an aim scatter in the half frame.

    Parameters
    ----------
    seen, into_net, unseen_out : how many serves of each kind it is told from.
    left_out : how many more were over the net without a place.
    effective : how many independent serves they are worth.
    pull_m : (2,) how far the centre of those over the net lies from the aim; right and long are positive.
    covariance_m2 : (2, 2) of all, as if the net let them through.
    """

    seen: int
    into_net: int
    unseen_out: int
    effective: float
    pull_m: Floats
    covariance_m2: Floats
    left_out: int = 0

    @property
    def n(self) -> int:
        """All serves."""
        return self.seen + self.into_net + self.unseen_out


def whole_scatter_of(table: pandas.DataFrame, court: Court) -> WholeScatter:
    """Return the scatter of the aimed serves of a table about their aims; NaN below three seen landings."""
    aims_m = table[["aim_x_m", "aim_y_m"]].to_numpy(dtype=float)
    aimed, outcome = known_places(aims_m), table["outcome"].to_numpy()
    misses_m = misses_of(table)
    seen = known_places(misses_m)
    unseen = aimed & (outcome == "out") & ~seen
    effective = independent_of(aimed & (seen | unseen | (outcome == "net")), evenings_of(table), rho_of(table, "place"))
    into_net = int((aimed & (outcome == "net")).sum())
    left_out = int((aimed & np.isin(outcome, OVER_NET) & ~seen & ~unseen).sum())
    return replace(whole_scatter(misses_m[seen], into_net, aims_m[unseen], court, effective), left_out=left_out)


def whole_scatter(
    misses_m: Floats, into_net: int, aims_of_unseen_m: Floats, court: Court, effective: float | None = None
) -> WholeScatter:
    """Return the scatter of landings seen at ``misses_m`` (N, 2) [m] from their aims, and of serves that were not seen.

    Those out unseen take part with what the scatter itself says of serves off the court (expectation and
    maximisation, A. Dempster, N. Laird, D. Rubin, J. R. Stat. Soc. B 39:1, 1977). Those into the net are the share p of
    a normal scatter below its cut at a = z(p): what is beyond has the share ``1 - l (l - a)`` of the whole's variance,
    l = phi(a) / (1 - p), as `centre_beyond`.
    """
    seen, unseen = len(misses_m), len(aims_of_unseen_m)
    n = seen + unseen + into_net
    effective = float(n) if effective is None else effective
    if seen < 3:
        return WholeScatter(seen, into_net, unseen, effective, np.full(2, np.nan), np.full((2, 2), np.nan))
    centre_m, covariance_m2 = _with_unseen(misses_m, aims_of_unseen_m, court)
    covariance_m2 = covariance_m2 / share_of_variance_seen(n, min(effective, n))
    if into_net:
        cut_sd = net_cut_sd(into_net / n)
        above = float(centre_beyond(np.eye(2), cut_sd)[1])
        lean = covariance_m2[:, 1] / covariance_m2[1, 1]
        hidden = 1 / (1 - above * (above - cut_sd)) - 1
        covariance_m2 = covariance_m2 + np.outer(lean, lean) * covariance_m2[1, 1] * hidden
    return WholeScatter(seen, into_net, unseen, effective, centre_m, covariance_m2)


def net_cut_sd(share_into_net: float) -> float:
    """Return how many deviations from its centre a scatter is cut off by the net; -inf where none goes into it."""
    return NormalDist().inv_cdf(share_into_net) if share_into_net > 0 else -math.inf


def _with_unseen(misses_m: Floats, aims_m: Floats, court: Court) -> tuple[Floats, Floats]:
    """Mean and covariance of the landings seen, and of one at each of ``aims_m`` (U, 2) that was out unseen."""
    centre_m, covariance_m2 = misses_m.mean(axis=0), np.cov(misses_m, rowvar=False)
    if not len(aims_m):
        return centre_m, covariance_m2
    from scipy.stats import norm, qmc

    nodes = norm.ppf(qmc.Halton(2, scramble=False).random(NODES + 1)[1:])
    weights, places_m = np.ones(len(misses_m)), misses_m
    for _ in range(ROUNDS):
        likely_m = centre_m + nodes @ np.linalg.cholesky(covariance_m2 + 1e-9 * np.eye(2)).T
        out_m = [likely_m[_off_court(likely_m + aim_m, court)] for aim_m in aims_m]
        told = [some for some in out_m if len(some)]
        places_m = np.concatenate([misses_m, *told])
        weights = np.concatenate([np.ones(len(misses_m)), *(np.full(len(some), 1 / len(some)) for some in told)])
        centre_m = np.average(places_m, axis=0, weights=weights)
        apart_m = places_m - centre_m
        covariance_m2 = (weights[:, None] * apart_m).T @ apart_m / (weights.sum() - 1)
    return centre_m, covariance_m2


def _off_court(places_m: Floats, court: Court) -> NDArray[np.bool_]:
    x_m, y_m = places_m.T
    beside_m = np.maximum(-x_m, x_m - court.width_m)
    return np.asarray((beside_m > CONTACT_RADIUS_M) | (y_m > court.half_length_m + CONTACT_RADIUS_M))
