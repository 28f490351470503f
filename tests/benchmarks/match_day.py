"""Who serves whom, against a truth that is known: what the card's aims win, beside always deep 1 and the true best.

python tests/benchmarks/match_day.py [--teams 20]

Each team has six servers with a scatter, a share into the net, a pace and steadiness of their own, and three passers,
each better or worse by her own amount. The card sees so many serves of each, shared by all aims, and as many rated
passes as these make; the truth is the mean of 4,000 serves drawn at every aim.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import astuple, dataclass, replace

import numpy as np
import pandas as pd
from scipy.stats import norm

from serve_marker.court.aims import Aim
from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import Floats, court_named
from serve_marker.court.formations import Formation, preset
from serve_marker.court.reception import Playable, receive
from serve_marker.study.intraclass import EVENING_COLUMNS, codes_of
from serve_marker.study.match_day import match_card, named_aims
from serve_marker.study.pass_quality import PERFECT_WINS
from serve_marker.study.settings import StudySettings
from serve_marker.study.usual_serve import UsualServe
from serve_marker.study.whole_scatter import net_cut_sd
from serve_marker.study.worth_map import centre_beyond

COURT = court_named("indoor")
SCHEME = default_scheme(COURT)
AIMS = named_aims(COURT, SCHEME)
SETTINGS = StudySettings()
EVENINGS = 4
TRUE_SERVES = 4_000


@dataclass(frozen=True, eq=False)
class Truth:
    """One server and how passes go against her."""

    deviations_m: Floats
    into_net: float
    usual: UsualServe
    pace_sd: float
    formation: Formation
    passers: dict[str, float]
    line: Floats

    def serves(
        self, aim: Aim, count: int, chance: np.random.Generator
    ) -> tuple[Floats, Floats, Floats, list[str], Floats]:
        """Landings (N, 2), ratings (N,) with NaN for no pass, demands (N,), who took them, times (N,); net: NaN."""
        away_m = chance.normal(0.0, self.deviations_m, (count, 2))
        cut_sd = net_cut_sd(self.into_net)
        landed_m = aim.centre_m + away_m - centre_beyond(np.diag(self.deviations_m**2), cut_sd)
        landed_m[away_m[:, 1] < cut_sd * self.deviations_m[1]] = np.nan
        flights = self.flights(landed_m, chance)
        told = receive(landed_m, self.formation, COURT, 1.0, flights)
        own = np.array([self.passers.get(str(name), 0.0) for name in told.passer])
        passed = self.line[0] + self.line[1] * told.demand + own + chance.normal(0.0, 0.33, count)
        ratings = np.clip(np.round(3 * passed), 0, 3)
        out = ~((landed_m >= 0).all(axis=1) & (landed_m <= 9).all(axis=1))
        ratings[out | ~(told.demand <= 1)] = np.nan
        return landed_m, ratings, told.demand, told.passer.tolist(), landing_s(flights)

    def flights(self, landed_m: Floats, chance: np.random.Generator) -> Playable:
        """Flights to landings (N, 2), each at one of nine paces of hers."""
        times = 1 + self.pace_sd * norm.ppf((np.arange(9) + 0.5) / 9)
        each = [replace(self.usual, flight_s=self.usual.flight_s * share) for share in times]
        flown = [usual.to(landed_m, COURT, SETTINGS.movement) for usual in each]
        which = chance.integers(len(times), size=len(landed_m))
        at = np.arange(len(landed_m))
        return Playable(*(np.stack(parts)[which, at] for parts in zip(*(astuple(one) for one in flown), strict=True)))

    def wins(self, aim: Aim, chance: np.random.Generator) -> float:
        """The share of rallies that serves at an aim win."""
        landed_m, ratings, demand, *_ = self.serves(aim, TRUE_SERVES, chance)
        inside = (landed_m >= 0).all(axis=1) & (landed_m <= 9).all(axis=1)
        won = np.where(np.isfinite(ratings), 1 - (1 - PERFECT_WINS) * ratings / 3, inside & (demand > 1))
        return float(np.nan_to_num(won).mean())


def team(chance: np.random.Generator) -> list[Truth]:
    """Six servers against three passers."""
    formation = preset(3, str(chance.choice(["up", "back"])), COURT)
    passers = {passer.label: float(chance.normal(0.0, 0.08)) for passer in formation.passers}
    line = np.array([chance.normal(0.87, 0.08), chance.normal(-0.45, 0.15)])
    return [
        Truth(
            chance.uniform(0.6, 1.6, 2),
            float(chance.uniform(0.02, 0.15)),
            UsualServe(16.2, 16.2 / float(chance.uniform(14.0, 20.0)), float(chance.uniform(2.0, 7.0)), "float", 1),
            float(chance.uniform(0.02, 0.06)),
            formation,
            passers,
            line,
        )
        for _ in range(6)
    ]


def table_of(servers: list[Truth], count: int, chance: np.random.Generator) -> pd.DataFrame:
    """The serve table of a team's practices, ``count`` serves of each server shared by all aims."""
    parts = []
    for number, server in enumerate(servers, 1):
        for aim in AIMS:
            some = count // len(AIMS)
            landed_m, ratings, demand, passers, flight_s = server.serves(aim, some, chance)
            net = np.isnan(landed_m[:, 0])
            way_m = landed_m - (server.usual.from_x_m, -9.0)
            length_m = np.hypot(*way_m.T)
            columns = {
                "player_id": f"p{number}",
                "server": f"{number} Server",
                "number": float(number),
                "name": f"Server {number:02d}",
                "aim": aim.text,
                "aim_x_m": aim.centre_m[0],
                "aim_y_m": aim.centre_m[1],
                "aim_has_depth": aim.has_depth,
                "x_m": landed_m[:, 0],
                "y_m": landed_m[:, 1],
                "outcome": np.where(net, "net", np.where(np.isfinite(ratings), "received", "floor")),
                "flight_s": flight_s,
                "course_x": way_m[:, 0] / length_m,
                "course_y": way_m[:, 1] / length_m,
                "pass_rating": ratings,
                "demand": demand,
                "passer": passers,
                "practice_id": [f"e{n % EVENINGS}" for n in range(some)],
            }
            parts.append(pd.DataFrame(columns))
    table = pd.concat(parts, ignore_index=True)
    table = table.assign(date="2026-11-03", season="", half="b", serve_type="float", formation_id="f", court="indoor")
    table = table.assign(verdict="", reception="played", target_kind="people")
    return table.assign(evening=codes_of(table, EVENING_COLUMNS))


def landing_s(flights: Playable) -> Floats:
    """When balls land (N,): they go on from low play as fast as they came from high play."""
    (high_s, low_s), (high_m, low_m) = flights.at_s.T, flights.before_m.T
    return np.asarray(low_s + low_m * (low_s - high_s) / (high_m - low_m))


def main() -> None:
    """Print what the card's aims win by how many serves it knows."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--teams", type=int, default=20)
    teams = parser.parse_args().teams
    print("serves  card lost  deep 1 lost  best told  true in interval  aims as good")
    for count in (55, 110, 330):
        chance = np.random.default_rng(3)
        lost, plain, held, within, many = [], [], [], [], []
        for _ in range(teams):
            servers = team(chance)
            formation = servers[0].formation
            card = match_card(table_of(servers, count, chance), COURT, SCHEME, {"f": formation}, SETTINGS)
            for server, (cell,) in zip(servers, card.cells, strict=True):
                truth = {aim.text: server.wins(aim, chance) for aim in AIMS}
                best = max(truth.values())
                named = (cell.best, *cell.others)
                lost.append(best - truth[cell.best.aim])
                plain.append(best - truth["deep 1"])
                held.append(any(truth[one.aim] >= best - 0.01 for one in named))
                within.append(cell.best.low <= truth[cell.best.aim] <= cell.best.high)
                many.append(len(named))
        print(
            f"{count:6d}  {np.mean(lost):9.3f}  {np.mean(plain):11.3f}  {np.mean(held):9.1%}  {np.mean(within):16.1%}  "
            f"{np.mean(many):12.1f}",
            flush=True,
        )
    six = {f"f{n}": Formation(f"rotation {n}", formation.passers) for n in range(6)}
    table = table_of(servers, 60, chance)
    table["formation_id"] = [f"f{n % 6}" for n in range(len(table))]
    begun_s = time.process_time()
    card = match_card(table, COURT, SCHEME, six, SETTINGS)
    cells = len(card.servers) * len(card.formations)
    print(f"a card of {cells} cells: {time.process_time() - begun_s:.1f} s of processor time")


if __name__ == "__main__":
    main()
