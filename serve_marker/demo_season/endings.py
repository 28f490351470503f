"""What becomes of serves that flew: net, floor, a placed target, or a passer, who passes worse the further she goes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.aims import parse_aim
from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import Court
from serve_marker.court.formations import Formation
from serve_marker.court.reception import receive
from serve_marker.demo_season.attempts import DrawnServes
from serve_marker.demo_season.flights import DrawnFlights
from serve_marker.demo_season.scenario import Evening

LET_GO_M = 0.3
"""Passers play a ball that would come down nearer than this beyond a line."""
PASS_ON_THE_SPOT, WORSE_PER_METRE, PASS_SD = 3.0, 0.9, 0.8
"""A pass is rated 3.0 on the spot and 0.9 less for each metre to go, give or take 0.8, rounded; below 0 an ace."""
BEST_PASS = 3


@dataclass(frozen=True, eq=False)
class Endings:
    """How N serves ended.

    Parameters
    ----------
    outcomes : of OUTCOMES (N,).
    out : which came down beyond a line (N,).
    unplaced : which ended where no floor is touched (N,): in the net, or at an upright target.
    passers, ratings : whose ball each at passers was, and how a received one was passed (N,).
    """

    outcomes: NDArray[np.object_]
    out: NDArray[np.bool_]
    unplaced: NDArray[np.bool_]
    passers: NDArray[np.object_]
    ratings: NDArray[np.int64]


def ended(
    attempts: DrawnServes,
    flights: DrawnFlights,
    evening: Evening,
    formations: dict[str, Formation],
    court: Court,
    rng: np.random.Generator,
) -> Endings:
    """Return what became of serves; ``formations`` by name, as blocks name them."""
    count = len(attempts)
    outcomes, passers = np.full(count, "floor", dtype=object), np.full(count, "", dtype=object)
    ratings = np.zeros(count, dtype=np.int64)
    outcomes[_on_target(attempts, evening, court)] = "target"
    half_m = attempts.half_xy_m
    beyond_m = (np.abs(half_m - (court.half_width_m, 0.0)) - (court.half_width_m, court.half_length_m)).max(axis=1)
    noise = rng.standard_normal(count)
    for name, formation in formations.items():
        rows = np.flatnonzero([block.passers == name for block in attempts.blocks])
        told = receive(half_m[rows], formation, court, playable=flights.playable[rows])
        rated = PASS_ON_THE_SPOT - WORSE_PER_METRE * told.gap_m + PASS_SD * noise[rows]
        played = told.reached & (beyond_m[rows] < LET_GO_M) & (rated > 0)
        outcomes[rows[played]], passers[rows] = "received", told.passer
        ratings[rows] = np.clip(np.round(np.nan_to_num(rated)), 0, BEST_PASS).astype(np.int64)
    outcomes[flights.stopped] = "net"
    unplaced = (outcomes == "net") | ((outcomes == "target") & (evening.target_kind == "upright"))
    return Endings(outcomes, beyond_m > 0, unplaced, passers, ratings)


def _on_target(attempts: DrawnServes, evening: Evening, court: Court) -> NDArray[np.bool_]:
    """Which balls come down on a mat, or within an upright target."""
    from shapely import box, intersects_xy, union_all

    aims = {block.aim: parse_aim(block.aim, court, default_scheme(court)) for block in evening.blocks}
    upright = [aim.polygon for aim in aims.values() if aim and evening.target_kind == "upright"]
    mats = [
        box(x_m - width_m / 2, y_m - depth_m / 2, x_m + width_m / 2, y_m + depth_m / 2)
        for x_m, y_m, width_m, depth_m in evening.mats
    ]
    return np.asarray(intersects_xy(union_all([*upright, *mats]), *attempts.half_xy_m.T))
