"""Where a server's serves are worth most: the expected worth of centring at each place, given her own scatter.

The places near the best, and what moving there would gain, are told over scatters and centres that the serves leave
possible (draws of the posterior under the usual reference prior; A. Gelman and others, Bayesian Data Analysis, 3rd
ed., section 3.6).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from serve_marker.confidence_level import TAIL
from serve_marker.court.aims import Aim, aim_words, parse_aim
from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court, Floats
from serve_marker.errors import UserError
from serve_marker.study.fewest_serves import FEWEST
from serve_marker.study.sentences import count_words
from serve_marker.study.serve_worth import CourtWorth, ServeWorth
from serve_marker.study.whole_scatter import WholeScatter, net_cut_sd, whole_scatter_of
from serve_marker.study.worth_map import WorthMap, best_of, worth_map

if TYPE_CHECKING:
    import pandas

CELL_M = 0.15
BEYOND_M = 1.5
"""The centre of her serves may lie so far outside the court (ten cells)."""
DRAWS = 100
WIDER = 1.5
"""How much wider than the likeliest scatter the map has room for."""
NEAR_SHARE = 0.01
"""A place is as good as the best where it is worth less by at most this share of all the map's range (own choice)."""
FEWEST_TO_TELL = 15
"""So many independent serves tell that moving gains: of ten, one server in ten at the best place would be sent away."""
MOST_LEFT_OUT = 0.1
"""Of so many serves, as a share, the place may be unknown (own choice)."""
SEED = 13


@dataclass(frozen=True, eq=False)
class BestAim:
    """Where the centre of a server's serves is worth most.

    Parameters
    ----------
    scatter : of all her serves about their aims.
    aim : what she aims at now.
    worth : the values that were asked for.
    places : the cells of the court, and ``around`` (W, H) the expected worth of a serve centred at each.
    near_best : (W, H) whether a place may be as good as the best.
    best_m, now_m : where serves are worth most and where hers centre now, in the half frame [m].
    best, now : what a serve is worth there.
    gain_low, gain_high : 95 % interval of what moving there gains a serve.
    """

    scatter: WholeScatter
    aim: Aim
    worth: ServeWorth
    places: WorthMap
    around: Floats
    near_best: NDArray[np.bool_]
    best_m: tuple[float, float]
    now_m: tuple[float, float]
    best: float
    now: float
    gain_low: float
    gain_high: float

    @property
    def is_told(self) -> bool:
        """Whether it is told from chance that her serves do not centre near the best already.

        Balls over the net without a place, above all those that passers took, may lie where the others do not.
        """
        scatter = self.scatter
        enough = scatter.effective >= FEWEST_TO_TELL and scatter.left_out <= MOST_LEFT_OUT * scatter.n
        return enough and self.gain_low > NEAR_SHARE * float(np.ptp(self.around))

    def near_along(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Return from where to where along x, and along y, the places near the best reach [m]."""
        across, deep = self.near_best.any(axis=1), self.near_best.any(axis=0)
        x_m, y_m = self.places.x[across], self.places.y[deep]
        return (float(x_m[0]), float(x_m[-1])), (float(y_m[0]), float(y_m[-1]))


def most_served_aim(table: pandas.DataFrame) -> str:
    """Return the aim of most serves of a table; "" where none was aimed."""
    aims = table["aim"][table["aim"] != ""]
    return str(aims.value_counts().index[0]) if len(aims) else ""


def best_aim(
    table: pandas.DataFrame, court: Court, scheme: AreaScheme, worth: ServeWorth | None = None, aim: str = ""
) -> BestAim:
    """Return where the serves of a table, of one server, are worth most.

    Only those at one aim count, for at another she may pull otherwise: without ``aim`` the one she served at most.
    Without ``worth`` these are the values to begin with for that aim. Her scatter and her share into the net are taken
    to be the same wherever she aims.

    Raises
    ------
    UserError
        Where nothing was aimed or too few serves are placed.
    """
    meant = parse_aim(aim or most_served_aim(table), court, scheme)
    if meant is None:
        raise UserError("None of these serves has an aim. Choose the aim while marking.")
    scatter = whole_scatter_of(table[table["aim"] == meant.text], court)
    if scatter.seen < FEWEST:
        so_far = f"{count_words(scatter.seen, 'landing')} at {aim_words(meant.text)} so far"
        raise UserError(f"{so_far}. It takes {FEWEST_TO_TELL} to say where to aim.")
    return best_place(scatter, meant, worth or ServeWorth.of_aim(meant.text), court, scheme)


def best_place(
    scatter: WholeScatter, aim: Aim, worth: ServeWorth, court: Court, scheme: AreaScheme, draws: int = DRAWS
) -> BestAim:
    """Return where serves of that scatter are worth most, and how that compares with the centre of those at ``aim``."""
    room_m = WIDER * np.sqrt(np.diag(scatter.covariance_m2))
    valued = CourtWorth.on(worth, court, scheme)
    across_m, along_m = (-BEYOND_M, court.width_m + BEYOND_M), (0.0, court.half_length_m + BEYOND_M)
    wider = worth_map(valued, across_m, along_m, CELL_M, room_m)
    places = wider.without_edge(round(BEYOND_M / CELL_M))
    about = wider.around(scatter.covariance_m2, net_cut_sd(scatter.into_net / scatter.n), worth.net)
    around = places.part_of(about, wider)
    best_m, best = best_of(around, places)
    now_m = np.asarray(aim.centre_m) + scatter.pull_m
    near, gains = np.zeros(around.shape), []
    for covariance_m2, pull_m, share_into_net in _possible(scatter, draws):
        possible = wider.around(covariance_m2, net_cut_sd(share_into_net), worth.net)
        drawn = places.part_of(possible, wider)
        near += drawn >= drawn.max() - NEAR_SHARE * np.ptp(drawn)
        gains.append(_at(possible, wider, best_m) - _at(possible, wider, np.asarray(aim.centre_m) + pull_m))
    low, high = np.quantile(gains, [TAIL, 1 - TAIL])
    return BestAim(
        scatter=scatter,
        aim=aim,
        worth=worth,
        places=places,
        around=around,
        near_best=near >= 2 * TAIL * draws,
        best_m=best_m,
        now_m=(float(now_m[0]), float(now_m[1])),
        best=best,
        now=_at(about, wider, now_m),
        gain_low=float(low),
        gain_high=float(high),
    )


def _possible(scatter: WholeScatter, draws: int) -> Iterator[tuple[Floats, Floats, float]]:
    """Covariances (2, 2), pulls (2,) and shares into the net that the serves leave possible."""
    from scipy.stats import invwishart

    chance = np.random.default_rng(SEED)
    freedom = max(scatter.effective - 1, 3.0)
    roomiest_m2 = WIDER**2 * np.diag(scatter.covariance_m2)
    over_net = scatter.n - scatter.into_net
    for covariance_m2 in invwishart.rvs(freedom, scatter.covariance_m2 * freedom, size=draws, random_state=chance):
        narrowed = np.sqrt(np.minimum(1.0, roomiest_m2 / np.diag(covariance_m2)))
        fitted_m2 = covariance_m2 * np.outer(narrowed, narrowed)
        pull_m = chance.multivariate_normal(scatter.pull_m, fitted_m2 / scatter.effective)
        into_net = chance.beta(scatter.into_net + 0.5, over_net + 0.5) if scatter.into_net else 0.0
        yield fitted_m2, pull_m, into_net


def _at(around: Floats, places: WorthMap, place_m: Floats | tuple[float, float]) -> float:
    """The worth at a place between the cells; off the map at its edge."""
    from scipy.ndimage import map_coordinates

    cells = [(place_m[0] - places.x[0]) / places.cell, (place_m[1] - places.y[0]) / places.cell]
    return float(map_coordinates(around, np.reshape(cells, (2, 1)), order=3, mode="nearest")[0])
