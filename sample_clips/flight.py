"""Flights of a volleyball: quadratic drag and topspin, launches solved for a landing, rebounds and rolling.

Equations: a = -k |v| v + l |v| (side x v) - g with k = 0.0772 Cd (0.27 kg, radius 0.105 m, air 1.204 kg/m3).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

GRAVITY_MPS2 = 9.81
RADIUS_M = 0.105
RESTITUTION = 0.7
STEPS = 120


@dataclass(frozen=True, eq=False)
class Path:
    """Where a ball's centre is: times_s (N,) rising and places_m (N, 3), straight in between."""

    times_s: Array
    places_m: Array

    def at(self, time_s: Array) -> Array:
        """Centres (M, 3) at times (M,); the ends are held."""
        return np.stack([np.interp(time_s, self.times_s, self.places_m[:, k]) for k in range(3)], axis=1)

    def then(self, later: Path) -> Path:
        """One path continued by another that starts where it ends."""
        return Path(
            np.concatenate([self.times_s, later.times_s[1:]]), np.concatenate([self.places_m, later.places_m[1:]])
        )


def acceleration(velocity: Array, drag: float, lift: float) -> Array:
    """Acceleration (N, 3) [m/s2] at velocities (N, 3) [m/s]."""
    ahead, left, up = velocity[:, 0], velocity[:, 1], velocity[:, 2]
    level = np.maximum(np.hypot(ahead, left), 1e-9)
    speed = np.hypot(level, up)
    magnus = np.stack([ahead * up / level, left * up / level, -level], axis=1)
    pull = speed[:, None] * (lift * magnus - drag * velocity)
    pull[:, 2] -= GRAVITY_MPS2
    return pull


def fly(
    start_m: Array, velocity: Array, duration_s: float, drag: float, lift: float, steps: int = STEPS
) -> tuple[Array, Array]:
    """Runge-Kutta 4 from one start (3,) with launches (N, 3): places and velocities (steps + 1, N, 3)."""
    step = duration_s / steps
    place, speed = np.broadcast_to(start_m, velocity.shape).astype(np.float64), velocity.astype(np.float64)
    places, speeds = [place], [speed]
    for _ in range(steps):
        a1 = acceleration(speed, drag, lift)
        v2 = speed + a1 * step / 2
        a2 = acceleration(v2, drag, lift)
        v3 = speed + a2 * step / 2
        a3 = acceleration(v3, drag, lift)
        v4 = speed + a3 * step
        a4 = acceleration(v4, drag, lift)
        place = place + step * (speed + 2 * v2 + 2 * v3 + v4) / 6
        speed = speed + step * (a1 + 2 * a2 + 2 * a3 + a4) / 6
        places.append(place)
        speeds.append(speed)
    return np.array(places), np.array(speeds)


def launch_for_duration(
    start_m: Array, end_m: Array, duration_s: float, drag: float, lift: float, steps: int = STEPS
) -> Array:
    """The launch velocity (3,) that brings the ball from start to end in the given time (Newton's method)."""
    velocity = (end_m - start_m) / duration_s * 1.15
    velocity[2] += GRAVITY_MPS2 * duration_s / 2
    for _ in range(12):
        trial = np.vstack([velocity, velocity + np.eye(3) * 1e-4])
        ends = fly(start_m, trial, duration_s, drag, lift, steps)[0][-1]
        miss = end_m - ends[0]
        if np.linalg.norm(miss) < 1e-9:
            break
        velocity = velocity + np.linalg.solve((ends[1:] - ends[0]).T / 1e-4, miss)
    return np.asarray(velocity)


def height_at_net(places_m: Array) -> float:
    """Height of the ball's centre where it crosses y = 0 [m], for places (N, 3) with y falling."""
    return float(np.interp(0.0, places_m[::-1, 1], places_m[::-1, 2]))


def solve_flight(
    start_m: Array, end_m: Array, net_height_m: float, clearance_m: float, drag: float, lift: float
) -> tuple[Path, Array]:
    """Flight from start to end whose centre clears the net by clearance_m; also the velocity at the end (3,)."""

    def off(duration_s: float) -> float:
        launch = launch_for_duration(start_m, end_m, duration_s, drag, lift, 24)
        return height_at_net(fly(start_m, launch[None], duration_s, drag, lift, 24)[0][:, 0]) - goal_m

    goal_m = net_height_m + clearance_m
    before, now = 0.9, 1.0
    off_before, off_now = off(before), off(now)
    for _ in range(20):
        if abs(off_now) < 1e-3:
            break
        slope = (off_now - off_before) / (now - before)
        before, off_before = now, off_now
        now = float(np.clip(now - off_now / slope, 0.5, 2.0))
        off_now = off(now)
    else:
        raise ValueError(f"no flight from {start_m} to {end_m} clears the net by {clearance_m} m")
    launch = launch_for_duration(start_m, end_m, now, drag, lift)
    places, speeds = fly(start_m, launch[None], now, drag, lift)
    return Path(np.linspace(0.0, now, STEPS + 1), places[:, 0]), speeds[-1, 0]


def rebound(place_m: Array, velocity: Array, duration_s: float, drag: float = 0.025) -> Path:
    """Bounces and rolling from a place just off the floor or in the air, stepped at 240 Hz."""
    step = 1 / 240
    place, speed = place_m.astype(np.float64), velocity.astype(np.float64)
    places = [place]
    for _ in range(int(duration_s / step)):
        rolling = place[2] <= RADIUS_M + 1e-9 and abs(speed[2]) < 0.35
        if rolling:
            pace = np.linalg.norm(speed[:2])
            speed = speed * max(0.0, 1 - 0.5 * step / max(float(pace), 1e-6))
            speed[2] = 0.0
        else:
            speed = speed - drag * np.linalg.norm(speed) * speed * step
            speed[2] -= GRAVITY_MPS2 * step
        place = place + speed * step
        if place[2] < RADIUS_M:
            place = np.array([place[0], place[1], 2 * RADIUS_M - place[2]])
            speed = bounced(speed)
        if rolling:
            place[2] = RADIUS_M
        if place[1] < -17.2 and speed[1] < 0:
            speed = speed * np.array([0.6, -0.5, 0.8])
        places.append(place)
    return Path(np.arange(len(places), dtype=np.float64) * step, np.array(places, dtype=np.float64))


def bounced(velocity: Array) -> Array:
    """Velocity (3,) after a bounce: restitution on the vertical, friction on the rest."""
    return np.asarray(velocity * np.array([0.74, 0.74, -RESTITUTION]))
