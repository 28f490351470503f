"""From the scenario to what the camera will see: timed flights, and the ball's whole path from hand to rolling away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_clips.flight import RADIUS_M, Array, Path, bounced, rebound, solve_flight
from sample_clips.scenario import NET_HEIGHT_M, PLAYERS, Attempt, Filming, Player

DRAG_CD, TOPSPIN_LIFT_CL = 0.30, 0.16
DRAG_PER_CD = 0.0772255834
CONTACT_Y_M = {"float": 9.35, "jump float": 8.95, "jump topspin": 8.75}
TOSS_S = {"float": 0.55, "jump float": 0.72, "jump topspin": 1.0}
TOSS_FALL_MPS = {"float": -0.8, "jump float": -1.4, "jump topspin": -3.2}
TOSS_RUN_M = {"float": 0.24, "jump float": 1.3, "jump topspin": 1.75}
SPIN_RADPS = {"float": 1.5, "jump float": 1.5, "jump topspin": 38.0}


@dataclass(frozen=True, eq=False)
class Delivery:
    """One serve, worked out. Times [s] on the clip's clock, places [m] in the court frame."""

    attempt: Attempt
    player: Player
    contact_s: float
    contact_m: Array
    end_s: float
    end_m: Array
    landing_s: float | None
    landing_m: Array | None
    path: Path
    toss_s: float

    @property
    def spin_radps(self) -> float:
        """How fast the ball turns about its horizontal axis."""
        return SPIN_RADPS[self.attempt.serve_type]


def player_numbered(number: int) -> Player:
    """The server with this shirt number."""
    return next(player for player in PLAYERS if player.number == number)


def contact_height_m(player: Player, serve_type: str) -> float:
    """Height of the ball's centre at the hit [m]."""
    if serve_type == "float":
        return player.standing_reach_m + 0.06
    return player.jump_reach_m - (0.10 if serve_type == "jump float" else 0.02)


def toss_path(contact_m: Array, serve_type: str, towards: float) -> Path:
    """The ball held before the body, tossed to meet the hand at time 0; ``towards`` is the off hand's side in x."""
    toss_s, fall = TOSS_S[serve_type], TOSS_FALL_MPS[serve_type]
    times = np.linspace(-toss_s, 0.0, 60)
    places = np.empty((60, 3))
    places[:, 0] = contact_m[0] - towards * 0.30 * times / toss_s
    places[:, 1] = contact_m[1] - TOSS_RUN_M[serve_type] * times / toss_s
    places[:, 2] = contact_m[2] + fall * times - 9.81 / 2 * times**2
    return Path(times, places)


def deliveries(filming: Filming) -> list[Delivery]:
    """Every serve of a clip, in order."""
    return [deliver(filming, order, attempt) for order, attempt in enumerate(filming.attempts)]


def deliver(filming: Filming, order: int, attempt: Attempt) -> Delivery:
    """One serve: solved flight, then floor, net or passer."""
    player = player_numbered(attempt.number)
    contact_s = filming.first_contact_s + order * filming.every_s + 0.013 * ((order * 7) % 5)
    contact = np.array([player.post_x_m, CONTACT_Y_M[attempt.serve_type], contact_height_m(player, attempt.serve_type)])
    x_m, y_m = 4.5 - attempt.half_xy_m[0], -attempt.half_xy_m[1]
    drag = DRAG_PER_CD * DRAG_CD
    lift = DRAG_PER_CD * TOPSPIN_LIFT_CL if "topspin" in attempt.serve_type else 0.0
    goal = np.array([x_m, -3.0 if attempt.outcome == "net" else y_m, RADIUS_M])
    if attempt.outcome == "received":
        goal[2] = 0.75
    path, end_velocity = solve_flight(contact, goal, NET_HEIGHT_M, attempt.clearance_m, drag, lift)
    landing_s: float | None = contact_s + float(path.times_s[-1])
    landing: Array | None = goal
    if attempt.outcome == "net":
        path, after = stopped_by_net(path)
    elif attempt.outcome == "received":
        after = rebound(goal, passed_velocity(goal), 5.0)
    else:
        after = rebound(goal, bounced(end_velocity), 6.0)
    if attempt.outcome in ("net", "received"):
        landing_s, landing = None, None
    end_s = contact_s + float(path.times_s[-1])
    toss = toss_path(contact, attempt.serve_type, 1.0 if player.hand == "right" else -1.0)
    whole = toss.then(path).then(Path(after.times_s + path.times_s[-1], after.places_m))
    return Delivery(
        attempt, player, contact_s, contact, end_s, path.places_m[-1], landing_s, landing,
        Path(whole.times_s + contact_s, whole.places_m), contact_s - TOSS_S[attempt.serve_type],
    )  # fmt: skip


def stopped_by_net(path: Path) -> tuple[Path, Path]:
    """Cut a flight where the ball's front meets the net, then let it drop back on the server's side."""
    last = int(np.argmax(path.places_m[:, 1] < RADIUS_M))
    share = (path.places_m[last - 1, 1] - RADIUS_M) / (path.places_m[last - 1, 1] - path.places_m[last, 1])
    moment = path.times_s[last - 1] + share * (path.times_s[last] - path.times_s[last - 1])
    touch = path.at(np.array([moment]))
    flown = Path(np.append(path.times_s[:last], moment), np.vstack([path.places_m[:last], touch]))
    return flown, rebound(touch[0], np.array([0.1, 1.3, -0.4]), 5.0)


def passed_velocity(place_m: Array) -> Array:
    """Velocity (3,) off the platform of a passer towards the setter near the net, 1.3 s up and down."""
    setter = np.array([0.8, -1.2, 2.0])
    velocity = (setter - place_m) / 1.3
    velocity[2] += 9.81 * 1.3 / 2
    return np.asarray(velocity)
