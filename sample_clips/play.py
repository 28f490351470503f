"""How the people move: servers at their posts, passers on the floor, a coach beside the court."""

from __future__ import annotations

import numpy as np

from sample_clips.action import Delivery
from sample_clips.people import COACH_SHIRT, Look, Pose
from sample_clips.scenario import Filming, Passer, Player

Hand = tuple[float, float, float]

HANGING: Hand = (0.06, 0.07, -0.60)
HOLDING: Hand = (0.34, -0.10, -0.34)
OFF_HAND = (
    (-1.2, HOLDING),
    (-0.75, (0.36, -0.05, -0.15)),
    (-0.5, (0.36, -0.02, 0.25)),
    (-0.25, (0.34, 0.0, 0.42)),
    (0.0, (0.25, 0.02, -0.15)),
    (0.35, (0.05, 0.10, -0.55)),
    (0.7, HANGING),
)
HITTING_HAND = (
    (-1.2, HOLDING),
    (-0.7, (-0.05, 0.25, -0.30)),
    (-0.4, (-0.25, 0.22, 0.22)),
    (-0.12, (-0.28, 0.12, 0.30)),
    (0.0, (0.16, 0.02, 0.64)),
    (0.10, (0.50, -0.08, 0.15)),
    (0.25, (0.30, -0.20, -0.45)),
    (0.7, HANGING),
)
SHOULDER_HEIGHT_M, SHOULDER_OUT_M = 1.42, 0.18
JUMP_S = 0.30


def keyed(keys: tuple[tuple[float, Hand], ...], moment: float) -> Hand:
    """Hand place between key moments."""
    times = [time for time, _ in keys]
    values = np.array([hand for _, hand in keys])
    x, y, z = (float(np.interp(moment, times, values[:, k])) for k in range(3))
    return x, y, z


def server_look(player: Player) -> Look:
    """A server's figure."""
    return Look(player.height_m, player.skin, player.hair, number=player.number)


def server_pose(player: Player, own: list[Delivery], time_s: float) -> Pose:
    """A server at a moment: waiting, holding the next ball, tossing, hitting, walking back."""
    serve = min(own, key=lambda each: abs(each.contact_s - time_s + 0.5))
    moment = time_s - serve.contact_s
    jumps = serve.attempt.serve_type != "float"
    s = player.height_m / 1.75
    hit_x = serve.contact_m[0] + (1 if player.hand == "right" else -1) * (SHOULDER_OUT_M + 0.02) * s
    hit_y = serve.contact_m[1] + 0.22 * s
    reach = (SHOULDER_HEIGHT_M + 0.64) * s + 0.10
    top = max(0.0, float(serve.contact_m[2]) - reach)
    lift = top * max(0.0, 1 - (moment / JUMP_S) ** 2) if jumps else top * max(0.0, 1 - abs(moment) / 0.15)
    if jumps:
        back = float(np.interp(moment, (-1.5, -0.9, -0.3, 0.3, 0.8, 2.6), (2.4, 1.9, 0.45, -0.45, -0.5, 2.4)))
        swing = 0.24 * np.sin(7.5 * moment) * (-1.4 < moment < -0.3 or 0.8 < moment < 2.6)
    else:
        back = float(np.interp(moment, (-1.0, -0.35, 0.1, 1.0, 2.0), (0.45, 0.3, 0.0, 0.0, 0.45)))
        swing = float(np.interp(moment, (-0.9, -0.4, 0.0, 0.6, 1.6), (0.05, -0.10, 0.18, 0.18, 0.05)))
    sway = 0.015 * np.sin(1.3 * time_s + player.number)
    crouch = 0.14 * float(np.interp(moment, (-0.65, -0.35, -0.3, 0.3, 0.42, 0.7), (0, 1, 0, 0, 1, 0))) * jumps
    off, hitting = keyed(OFF_HAND, moment), keyed(HITTING_HAND, moment)
    left, right = (off, hitting) if player.hand == "right" else (hitting, off)
    if not has_ball(serve, moment) and abs(moment) > 1.2:
        left = right = HANGING
    lean = 0.03 + 0.16 * float(np.interp(moment, (-0.5, -0.1, 0.15, 0.6), (-0.6, -1.0, 1.6, 0.0)))
    return Pose(hit_x + sway, hit_y + back, -1.0, left, right, lift, crouch, lean, float(swing))


def has_ball(serve: Delivery, moment: float) -> bool:
    """Whether the server holds the ball for this serve, a moment [s] after its contact."""
    return -3.0 < moment < serve.toss_s - serve.contact_s


def passer_look(passer: Passer) -> Look:
    """A passer's figure, in the light practice shirt."""
    return Look(passer.height_m, passer.skin, passer.hair, shirt=(196, 176, 92), number=passer.number)


def passer_pose(passer: Passer, serves: list[Delivery], time_s: float) -> Pose:
    """A passer at a moment: ready while a serve flies, one step towards it, arms out when she plays it."""
    serve = min(serves, key=lambda each: abs(each.end_s - 0.4 - time_s))
    flown = (time_s - serve.contact_s) / (serve.end_s - serve.contact_s)
    late = time_s - serve.end_s
    mine = serve.attempt.passer == passer.name
    ready = float(np.clip(np.interp(late, (-2.0, -1.5, 0.3, 0.9), (0, 1, 1, 0)), 0, 1))
    aside = float(serve.end_m[0] - passer.x_m)
    near = 1.0 if mine else 0.35 * float(np.exp(-((aside / 1.8) ** 2)))
    go = float(np.clip((flown - 0.35) / 0.6, 0, 1)) * float(np.interp(late, (0.0, 0.5, 1.1), (1, 1, 0))) * near
    goal_y = float(serve.end_m[1]) - 0.45 if mine else passer.y_m - 0.35
    x = passer.x_m + go * (aside * (1.0 if mine else 0.4))
    y = passer.y_m + go * (goal_y - passer.y_m)
    platform = float(np.interp(late, (-0.25, -0.08, 0.15, 0.4), (0, 1, 1, 0))) if mine else 0.0
    hands = tuple(np.array(HANGING) + ready * (np.array([0.38, -0.08, -0.30]) - np.array(HANGING)))
    arms = tuple(np.array(hands) + platform * (np.array([0.52, -0.17, -0.30]) - np.array(hands)))
    hand: Hand = (float(arms[0]), float(arms[1]), float(arms[2]))
    bob = 0.01 * np.sin(3.1 * time_s + passer.number)
    stride = 0.12 * go * np.sin(9 * time_s) + 0.06 * ready
    return Pose(x, y, 1.0, hand, hand, 0.0, 0.16 * ready + float(bob), 0.05 + 0.36 * ready, float(stride))


def bystanders(filming: Filming, time_s: float) -> list[tuple[Look, Pose]]:
    """The coach beside the net and a player who waits with her arms folded."""
    coach = Look(1.79, (222, 178, 150), (92, 88, 86), shirt=COACH_SHIRT)
    turn = 0.02 * np.sin(0.9 * time_s)
    folded: Hand = (0.22, -0.20, -0.22)
    board: Hand = (0.30, -0.08, -0.22 + 0.03 * float(np.sin(1.7 * time_s)))
    coach_pose = Pose(6.9 + float(turn), 1.6, -1.0, board, (0.10, 0.10, -0.55))
    waiting = Look(1.76, (206, 158, 128), (70, 46, 30), number=9 if filming.passers else 2)
    waiting_pose = Pose(-6.6 - float(turn), 3.4, -1.0, folded, folded)
    return [(coach, coach_pose), (waiting, waiting_pose)]
