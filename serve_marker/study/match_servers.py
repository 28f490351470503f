"""What each server brings to a match: how her serves scatter and fly, drawn towards the team's while few are known."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from serve_marker.court.aims import OWN_POINT
from serve_marker.court.areas import AreaScheme, area_names, classify, seam_names
from serve_marker.court.dimensions import Court, Floats
from serve_marker.study.by_server import UNKNOWN, rows_by_server
from serve_marker.study.usual_serve import UsualServe
from serve_marker.study.whole_scatter import WholeScatter, net_cut_sd, whole_scatter_of
from serve_marker.study.worth_map import centre_beyond

if TYPE_CHECKING:
    import pandas

TEAM_WEIGHS = 10.0
"""The team's scatter, and its share into the net, weigh as much as so many of her own serves (own choice)."""
STEADIEST_M = 0.2
"""Nobody is taken to serve closer together than this, along each axis (own choice: a ball's width)."""


@dataclass(frozen=True, eq=False)
class MatchServer:
    """One server as she is before a match.

    Parameters
    ----------
    words : how she is called.
    n : aimed serves that tell how she scatters; ``effective`` is how many independent ones they are worth.
    covariance_m2 : (2, 2) of her scatter, as if the net let all serves through.
    into_net, over_net : parts of a beta distribution of her share into the net.
    usual : how she serves, or the team does where none of hers is timed.
    served : how many serves she hit at each aim.
    """

    words: str
    n: int
    effective: float
    covariance_m2: Floats
    into_net: float
    over_net: float
    usual: UsualServe
    served: Mapping[str, int] = field(default_factory=dict)

    def possible(self, draws: int, chance: np.random.Generator) -> Iterator[tuple[Floats, float]]:
        """Covariances (2, 2) and shares into the net that her serves leave possible, the likeliest first."""
        from scipy.stats import invwishart

        yield self.covariance_m2, self.into_net / (self.into_net + self.over_net)
        freedom = self.effective + TEAM_WEIGHS
        for covariance_m2 in invwishart.rvs(freedom, self.covariance_m2 * freedom, size=draws, random_state=chance):
            yield covariance_m2, float(chance.beta(self.into_net, self.over_net))


def match_servers(table: pandas.DataFrame, court: Court, scheme: AreaScheme) -> list[MatchServer]:
    """Return the servers of a table in the order of their numbers.

    Nobody where no serve of the team is timed, or nobody has three landings at an aim.
    """
    groups = [(words, own, whole_scatter_of(own, court)) for words, own in rows_by_server(table) if words != UNKNOWN]
    worth = np.array([_worth(scatter) for _, _, scatter in groups])
    team = UsualServe.of(table, court)
    if team is None or not worth.sum():
        return []
    known_m2 = [np.nan_to_num(scatter.covariance_m2) for _, _, scatter in groups]
    team_m2 = np.average(known_m2, axis=0, weights=worth) + np.eye(2) * STEADIEST_M**2
    into_net, served = (sum(getattr(scatter, name) for _, _, scatter in groups) for name in ("into_net", "n"))
    team_into_net = (into_net + 0.5) / (served + 1) * TEAM_WEIGHS
    return [
        MatchServer(
            words,
            scatter.n,
            one_worth,
            (one_worth * one_m2 + TEAM_WEIGHS * team_m2) / (one_worth + TEAM_WEIGHS),
            team_into_net + scatter.into_net,
            TEAM_WEIGHS - team_into_net + scatter.n - scatter.into_net,
            UsualServe.of(own, court) or team,
            Counter(_named(own, court, scheme)),
        )
        for (words, own, scatter), one_worth, one_m2 in zip(groups, worth, known_m2, strict=True)
    ]


def _named(own: pandas.DataFrame, court: Court, scheme: AreaScheme) -> list[str]:
    """The area or seam (N,) each serve was meant for; that in which its point or target lies where it has no name."""
    named = (*area_names(court.name), *seam_names(court.name))
    lies_in = classify(own[["aim_x_m", "aim_y_m"]].to_numpy(dtype=float), court, scheme).area
    plain = (aim.partition(OWN_POINT)[0] for aim in own["aim"])
    return [aim if aim in named else area for aim, area in zip(plain, lies_in, strict=True)]


def _worth(scatter: WholeScatter) -> float:
    """How many serves her own scatter is told from; 0 where it is not known."""
    return max(scatter.effective - 1, 0.0) if np.isfinite(scatter.covariance_m2).all() else 0.0


def landing_shares(
    covariance_m2: Floats, share_into_net: float, centre_m: tuple[float, float], cells_m: Floats, cell_m: float
) -> Floats:
    """Return which shares (N,) of all serves land in square cells about ``cells_m`` (N, 2).

    Those over the net have their centre at ``centre_m``, as in `whole_scatter`; the rest went into the net, or beside
    the cells.

    Examples
    --------
    >>> cells_m = np.stack(np.meshgrid(np.arange(-4, 4, 0.25), np.arange(-4, 4, 0.25)), axis=-1).reshape(-1, 2) + 0.125
    >>> round(float(landing_shares(np.eye(2), 0.2, (0.0, 0.0), cells_m, 0.25).sum()), 2)
    0.8
    """
    cut_sd = net_cut_sd(share_into_net)
    away_m = cells_m - (np.asarray(centre_m) - centre_beyond(covariance_m2, cut_sd))
    squares = np.einsum("ni,ij,nj->n", away_m, np.linalg.inv(covariance_m2), away_m)
    density = np.exp(-squares / 2) / (2 * math.pi * math.sqrt(np.linalg.det(covariance_m2)))
    over_m = away_m[:, 1] - cut_sd * math.sqrt(covariance_m2[1, 1])
    return np.asarray(density * cell_m**2 * np.clip(over_m / cell_m + 0.5, 0.0, 1.0))
