"""Who serves whom: for each server the aims that promise most against each formation, as far as they can be told.

What a serve is worth is the chance to win the rally: none where it misses, 1 where no passer gets to it, else by
what it demands of the passer, as the team's own passes tell (`pass_quality`). Raw means of a server against a
passer are never shown: of 36 equal pairs with eight passes each the lowest lies far from the rest by chance alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from serve_marker.confidence_level import TAIL
from serve_marker.court.aims import Aim, parse_aim
from serve_marker.court.areas import AreaScheme, area_names, seam_names
from serve_marker.court.dimensions import Court, Floats
from serve_marker.court.formations import Formation, preset
from serve_marker.court.reception import receive
from serve_marker.study.compare import this_season
from serve_marker.study.fewest_serves import FEWEST
from serve_marker.study.match_servers import MatchServer, landing_shares, match_servers
from serve_marker.study.pass_quality import PassQuality, pass_quality
from serve_marker.study.settings import StudySettings

if TYPE_CHECKING:
    import pandas

CELL_M = 0.25
DRAWS = 60
NEAR = 0.01
"""An aim is as good as the best where it wins at most so many rallies less of all (own choice: one in 100)."""
BEACH_PASSERS, USUAL_PASSERS = 2, 3
MOST_FORMATIONS = 6
"""As many as there are rotations."""
SEED = 17


@dataclass(frozen=True)
class Promise:
    """What serves of one server at an aim promise: the chance to win the rally with its 95 % interval.

    ``served`` is how many she hit at that aim.
    """

    aim: str
    chance: float
    low: float
    high: float
    served: int = 0


@dataclass(frozen=True)
class MatchCell:
    """One server against one formation.

    ``best`` is the best of the aims she has served, None where there is none yet, ``others`` those that may be as good,
    by promise; ``untried`` the best of the rest where that promises more, None where it does not.
    """

    best: Promise | None
    others: tuple[Promise, ...]
    untried: Promise | None = None


@dataclass(frozen=True, eq=False)
class MatchCard:
    """Servers (S) against formations (F): ``cells[s][f]``; nobody where nothing can be told yet."""

    servers: tuple[MatchServer, ...]
    formations: tuple[Formation, ...]
    cells: tuple[tuple[MatchCell, ...], ...]
    quality: PassQuality


def match_card(
    table: pandas.DataFrame,
    court: Court,
    scheme: AreaScheme,
    formations: Mapping[str, Formation],
    settings: StudySettings,
) -> MatchCard:
    """Return the card of the servers of a table, by what they served this season."""
    rows = this_season(table[table["court"] == court.name])
    against = formations_to_meet(rows, formations, court)
    servers = tuple(match_servers(rows, court, scheme))
    quality = pass_quality(rows)
    aims = named_aims(court, scheme)
    cells = tuple(tuple(match_cells(server, against, aims, quality, court, settings)) for server in servers)
    return MatchCard(servers, against, cells, quality)


def named_aims(court: Court, scheme: AreaScheme) -> list[Aim]:
    """Return all areas and seams of a court, deep 1 (or what stands for it) first."""
    found = [parse_aim(name, court, scheme) for name in (*area_names(court.name), *seam_names(court.name))]
    return [aim for aim in found if aim is not None]


def formations_to_meet(
    table: pandas.DataFrame, formations: Mapping[str, Formation], court: Court
) -> tuple[Formation, ...]:
    """Return the formations that were set, each name once; without any the usual two or three passers.

    Those nobody has served at yet were set for what is to come: where there are any, they alone.
    """
    dated = table.sort_values("date", kind="stable", ascending=False)
    faced = [key for key in dict.fromkeys(dated["formation_id"]) if key in formations]
    ahead = [key for key in reversed(list(formations)) if key not in faced and formations[key].passers]
    by_name: dict[str, Formation] = {}
    for key in ahead or faced:
        if formations[key].passers:
            by_name.setdefault(formations[key].name, formations[key])
    usual = preset(BEACH_PASSERS if court.name == "beach" else USUAL_PASSERS, "up", court)
    return tuple(by_name.values())[:MOST_FORMATIONS] or (usual,)


def match_cells(
    server: MatchServer,
    formations: Sequence[Formation],
    aims: Sequence[Aim],
    quality: PassQuality,
    court: Court,
    settings: StudySettings,
) -> Iterator[MatchCell]:
    """Return what each of the aims promises one server against each of the formations."""
    drawn = np.random.default_rng(SEED)
    cells_m = court_cells(court)
    times, often = server.usual.shares(DRAWS, drawn)
    flights = [server.usual.slower(share, court).to(cells_m, court, settings.movement) for share in times]
    possible = list(server.possible(DRAWS, drawn))
    shares = np.array([[landing_shares(*one, aim.centre_m, cells_m, CELL_M) for aim in aims] for one in possible])
    everybody = tuple(dict.fromkeys(passer.label for formation in formations for passer in formation.passers))
    qualities = quality.with_passers(everybody).possible(DRAWS, drawn)
    for formation in formations:
        met = [receive(cells_m, formation, court, settings.seam_width_m, one, settings.movement) for one in flights]
        wins = np.array([qualities.chance(told.demand, told.passer) for told in met])
        promised = np.einsum("dan,df,fdn->da", shares, often, wins, optimize=True)
        low, high = np.quantile(promised[1:], [TAIL, 1 - TAIL], axis=0)
        tried = np.array([server.served.get(aim.text, 0) >= FEWEST for aim in aims])
        top = np.max(promised[1:], axis=1, where=tried, initial=0.0)
        as_good = tried & ((promised[1:] >= top[:, None] - NEAR).mean(axis=0) >= 2 * TAIL)
        promises = [
            Promise(
                aim.text,
                chance=float(promised[0, at]),
                low=float(low[at]),
                high=float(high[at]),
                served=server.served.get(aim.text, 0),
            )
            for at, aim in enumerate(aims)
        ]
        order = np.argsort(-promised[0])
        best, *_ = [*(at for at in order if tried[at]), None]
        others = tuple(promises[at] for at in order if as_good[at] and at != best)
        untried = None if tried[order[0]] else promises[order[0]]
        yield MatchCell(None if best is None else promises[best], others, untried)


def court_cells(court: Court) -> Floats:
    """Return the centres (N, 2) of the square cells of a court's half."""
    along = [np.arange(CELL_M / 2, length_m, CELL_M) for length_m in (court.width_m, court.half_length_m)]
    return np.stack(np.meshgrid(*along, indexing="ij"), axis=-1).reshape(-1, 2)
