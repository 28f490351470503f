"""How drawn serves fly from the hand to the floor: as fast as they are meant to, unless the net is in the way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import Court, Floats, from_half
from serve_marker.court.passer_movement import Movement
from serve_marker.court.reception import Playable
from serve_marker.demo_season.attempts import DrawnServes
from serve_marker.flight.forces import likely_drag, likely_lift
from serve_marker.flight.launch import solve_launch
from serve_marker.flight.launch_and_clearance import FLIGHT_MOMENTS
from serve_marker.flight.trajectory import PER_METRE, Motion, Track, before_the_end, track
from serve_marker.logbook.records import JUMP_SERVE_TYPES, Player

CONTACT_Y_M = {"float": 9.35, "jump float": 8.95, "jump topspin": 8.75}
"""Where types are hit, as in the sample clips: a jumper leaves the floor behind the end line."""
CONTACT_SD_M = (0.25, 0.12)
CLEARANCE_M = 0.25
"""The ball's middle passes at least this far above the net; a serve that would not is hit slower and higher, and one
for which that is not enough ends in the net."""
SLOWER, MOST_TIMES_SLOWER = 1.06, 8
"""Each time slower makes the flight last so much longer."""
PLAYED_AT_M = 0.8
"""Height at which a passer plays the ball."""


@dataclass(frozen=True, eq=False)
class DrawnFlights:
    """N flights to end a, court frame.

    Parameters
    ----------
    contact_m : (N, 2), floor points under the ball at the hit [m].
    landing_m : (N, 2), where it touches the floor [m].
    stopped : (N,), whether the net stops it before.
    flight_s : (N,), how long it flies [s].
    arrival_mps : (N, 3), its velocity at the touch, z up [m/s].
    playable : the stretch in which a passer plays it.
    played_m, played_s : (N, 2) and (N,), the floor point under it, and when, at the height of a passer's arms.
    """

    contact_m: Floats
    landing_m: Floats
    stopped: NDArray[np.bool_]
    flight_s: Floats
    arrival_mps: Floats
    playable: Playable
    played_m: Floats
    played_s: Floats


def flown(
    attempts: DrawnServes, players: Mapping[str, Player], court: Court, net_height_m: float, rng: np.random.Generator
) -> DrawnFlights:
    """Return how serves of players (by name) fly."""
    lift = likely_lift(attempts.serve_types)[0]
    posts_m = np.array([(spread.post_x_m, CONTACT_Y_M[spread.serve_type]) for spread in attempts.spreads])
    contact_m = posts_m + rng.normal(0, CONTACT_SD_M, posts_m.shape)
    landing_m = from_half(attempts.half_xy_m, "a", court)
    reaches_m = np.array([_reach_m(players[spread.server], spread.serve_type) for spread in attempts.spreads])
    way_m = landing_m - contact_m
    distance_m = np.hypot(*way_m.T)
    course = way_m / distance_m[:, None]
    to_net_m = distance_m * contact_m[:, 1] / (contact_m[:, 1] - landing_m[:, 1])
    flight_s, low = _over_the_net(distance_m, to_net_m, attempts.pace_mps, reaches_m, lift, net_height_m)
    way, air = _solved(distance_m, flight_s, reaches_m, lift)
    end = Motion(*(getattr(way.motion, part.name)[-1] for part in fields(Motion)))
    (high_m, high_s), (low_m, low_s), (played_m, played_s) = (
        before_the_end(end, *air, height_m) for height_m in (Movement.highest_m, Movement.lowest_m, PLAYED_AT_M)
    )
    at_s = np.column_stack([flight_s - high_s, flight_s - low_s])
    return DrawnFlights(
        contact_m,
        landing_m,
        attempts.into_net | low,
        flight_s,
        np.column_stack([end.along_mps[:, None] * course, end.rise_mps]),
        Playable(np.column_stack([high_m, low_m]), at_s, -course),
        landing_m - played_m[:, None] * course,
        flight_s - played_s,
    )


def _over_the_net(
    distance_m: Floats, to_net_m: Floats, pace_mps: Floats, height_m: Floats, lift: Floats, net_height_m: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """Flight times (N,) [s], and which balls do not clear the net all the same."""
    flight_s, low = distance_m / pace_mps, np.full(len(distance_m), True)
    for times in range(MOST_TIMES_SLOWER + 1):
        flight_s = np.where(low & (times > 0), flight_s * SLOWER, flight_s)
        way, _ = _solved(distance_m[low], flight_s[low], height_m[low], lift[low])
        passed_m = way.height_at(np.minimum(to_net_m[low], distance_m[low]))
        low[low] = ~(passed_m >= net_height_m + CLEARANCE_M)
    return flight_s, low


def _solved(
    distance_m: Floats, flight_s: Floats, height_m: Floats, lift: Floats
) -> tuple[Track, tuple[Floats, Floats]]:
    """The flights that take so long, with their drag and lift per metre."""
    drag = likely_drag(distance_m / flight_s)[0]
    air = (drag * PER_METRE, lift * PER_METRE)
    launch = solve_launch(distance_m, flight_s, height_m, drag, lift, steps=FLIGHT_MOMENTS)
    return track(launch, flight_s, *air, FLIGHT_MOMENTS), air


def _reach_m(player: Player, serve_type: str) -> float:
    reach_m = player.jump_reach_m if serve_type in JUMP_SERVE_TYPES else player.standing_reach_m
    return float(reach_m or np.nan)
