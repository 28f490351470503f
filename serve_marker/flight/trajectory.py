"""A volleyball's flight in its own vertical plane: gravity, quadratic drag and the lift of spin.

With the speed ``s`` along the path, and ``k`` and ``l`` the drag and lift per metre::

        z ^     . - ' ' - .                  x'' = -k s x' + l s z'
          |  o-'            ' .              z'' = -g - k s z' - l s x'
        h |                     ' .
          +--------------------------o--> x, from contact towards the landing

``k = rho Cd A / (2 m)`` and ``l = rho CL A / (2 m)``; CL > 0 is topspin. Closed forms of a flight without air, a
level one, a fall and a rise: Goshen College, Physics 302, 2.4, and any mechanics course.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from serve_marker.court.balls import INDOOR_BALL, Ball
from serve_marker.court.dimensions import Floats
from serve_marker.flight.forces import AIR_DENSITY_KG_M3, GRAVITY_MPS2

BALL_RADIUS_M = INDOOR_BALL.radius_m
PER_METRE = AIR_DENSITY_KG_M3 * INDOOR_BALL.area_per_mass_m2_kg / 2
"""Drag (or lift) per metre of path [1/m] of a coefficient of 1, for the indoor ball."""
FLIGHT_STEPS = 32
"""Moments per flight: serves come out right to 2e-8 s and 2e-7 m (against independent integrations, see the tests)."""
LANDING_PASSES = 12
LANDED_M = 1e-9
PASSES_BACK, STEPS_BACK = 3, 4
SLOWEST_FALL_MPS = 0.5


def against_indoor(ball: Ball) -> float:
    """Return how much more (or less) than the indoor ball a ball feels the air: its coefficients count that many times.

    Examples
    --------
    >>> from serve_marker.court.balls import BEACH_BALL, LIGHT_BALL
    >>> round(against_indoor(BEACH_BALL), 3), round(against_indoor(LIGHT_BALL), 3)
    (1.031, 1.271)
    """
    return ball.area_per_mass_m2_kg / INDOOR_BALL.area_per_mass_m2_kg


def air_free_flight(
    speed_mps: ArrayLike, angle_deg: ArrayLike, height_m: ArrayLike, landing_height_m: ArrayLike = 0.0
) -> tuple[Floats, Floats, Floats]:
    """Flight time [s], distance [m] and apex [m] without air; NaN where the landing height is never reached.

    Examples
    --------
    >>> [round(float(part), 6) for part in air_free_flight(20, 5, 2.6)]
    [0.927117, 18.471777, 2.754865]
    """
    speed, angle = np.asarray(speed_mps, dtype=float), np.radians(np.asarray(angle_deg, dtype=float))
    height = np.asarray(height_m, dtype=float)
    rise = speed * np.sin(angle)
    with np.errstate(invalid="ignore"):
        time_s = (rise + np.sqrt(rise**2 + 2 * GRAVITY_MPS2 * (height - landing_height_m))) / GRAVITY_MPS2
    return time_s, speed * np.cos(angle) * time_s, height + np.maximum(rise, 0.0) ** 2 / (2 * GRAVITY_MPS2)


def level_flight(speed_mps: ArrayLike, drag_per_m: ArrayLike, distance_m: ArrayLike) -> tuple[Floats, Floats]:
    """Time [s] and end speed [m/s] over a distance with drag alone.

    Examples
    --------
    >>> [round(float(part), 6) for part in level_flight(20, 0.15 * PER_METRE, 18)]
    [1.000705, 16.235873]
    """
    speed, drag = np.asarray(speed_mps, dtype=float), np.asarray(drag_per_m, dtype=float)
    slowed = drag * np.asarray(distance_m, dtype=float)
    with np.errstate(invalid="ignore", divide="ignore"):
        longer = np.where(slowed == 0, 1.0, np.expm1(slowed) / slowed)
    return np.asarray(distance_m, dtype=float) / speed * longer, speed * np.exp(-slowed)


def fall(height_m: ArrayLike, drag_per_m: ArrayLike) -> tuple[Floats, Floats]:
    """Time [s] and end speed [m/s] of a fall from rest through a height, with drag above 0.

    Examples
    --------
    >>> [round(float(part), 6) for part in fall(3, 0.15 * PER_METRE)]
    [0.786599, 7.54063]
    """
    drag = np.asarray(drag_per_m, dtype=float)
    terminal = np.sqrt(GRAVITY_MPS2 / drag)
    time_s = terminal / GRAVITY_MPS2 * np.arccosh(np.exp(drag * np.asarray(height_m, dtype=float)))
    return time_s, terminal * np.tanh(GRAVITY_MPS2 * time_s / terminal)


def rise(speed_mps: ArrayLike, drag_per_m: ArrayLike) -> tuple[Floats, Floats]:
    """Time [s] and height [m] of a throw straight up until it turns, with drag above 0.

    Examples
    --------
    >>> [round(float(part), 6) for part in rise(10, 0.45 * PER_METRE)]
    [0.919495, 4.363043]
    """
    terminal = np.sqrt(GRAVITY_MPS2 / np.asarray(drag_per_m, dtype=float))
    share = np.asarray(speed_mps, dtype=float) / terminal
    return terminal / GRAVITY_MPS2 * np.arctan(share), terminal**2 / (2 * GRAVITY_MPS2) * np.log1p(share**2)


@dataclass(frozen=True, eq=False)
class Motion:
    """Where balls are and how they move, four arrays of one shape; ``along`` is the distance from contact."""

    along_m: Floats
    height_m: Floats
    along_mps: Floats
    rise_mps: Floats

    @property
    def speed_mps(self) -> Floats:
        """Speed along the path."""
        return np.hypot(self.along_mps, self.rise_mps)

    @property
    def angle_deg(self) -> Floats:
        """Angle of the path over the level, falling balls below 0."""
        return np.degrees(np.arctan2(self.rise_mps, self.along_mps))

    @property
    def energy_j_per_kg(self) -> Floats:
        """Energy of motion and height per mass."""
        return self.speed_mps**2 / 2 + GRAVITY_MPS2 * self.height_m


def launched(speed_mps: ArrayLike, angle_deg: ArrayLike, height_m: ArrayLike) -> Motion:
    """Return the motion at contact."""
    speed, angle, height = np.broadcast_arrays(
        np.asarray(speed_mps, dtype=float),
        np.radians(np.asarray(angle_deg, dtype=float)),
        np.asarray(height_m, dtype=float),
    )
    return Motion(np.zeros_like(height), height, speed * np.cos(angle), speed * np.sin(angle))


def stages(
    start: Motion, duration_s: ArrayLike, drag_per_m: ArrayLike, lift_per_m: ArrayLike, steps: int = FLIGHT_STEPS
) -> Iterator[Motion]:
    """Yield the motion at ``steps`` + 1 even moments from start to ``duration_s`` (classical Runge-Kutta, order 4)."""
    step_s = np.asarray(duration_s, dtype=float) / steps
    half_s, drag, lift = step_s / 2, np.asarray(drag_per_m, dtype=float), np.asarray(lift_per_m, dtype=float)

    def pull(vx: Floats, vz: Floats) -> tuple[Floats, Floats]:
        speed = np.sqrt(vx * vx + vz * vz)
        drag_s, lift_s = drag * speed, lift * speed
        return lift_s * vz - drag_s * vx, -GRAVITY_MPS2 - drag_s * vz - lift_s * vx

    yield start
    x, z, vx, vz = start.along_m, start.height_m, start.along_mps, start.rise_mps
    for _ in range(steps):
        ax1, az1 = pull(vx, vz)
        vx2, vz2 = vx + half_s * ax1, vz + half_s * az1
        ax2, az2 = pull(vx2, vz2)
        vx3, vz3 = vx + half_s * ax2, vz + half_s * az2
        ax3, az3 = pull(vx3, vz3)
        vx4, vz4 = vx + step_s * ax3, vz + step_s * az3
        ax4, az4 = pull(vx4, vz4)
        x = x + step_s / 6 * (vx + 2 * (vx2 + vx3) + vx4)
        z = z + step_s / 6 * (vz + 2 * (vz2 + vz3) + vz4)
        vx = vx + step_s / 6 * (ax1 + 2 * (ax2 + ax3) + ax4)
        vz = vz + step_s / 6 * (az1 + 2 * (az2 + az3) + az4)
        yield Motion(x, z, vx, vz)


def advance(
    start: Motion, duration_s: ArrayLike, drag_per_m: ArrayLike, lift_per_m: ArrayLike, steps: int = FLIGHT_STEPS
) -> Motion:
    """Return the motion after ``duration_s``."""
    return deque(stages(start, duration_s, drag_per_m, lift_per_m, steps), maxlen=1)[0]


def come_down(
    start: Motion, drag_per_m: ArrayLike, lift_per_m: ArrayLike, landing_height_m: ArrayLike = 0.0
) -> tuple[Floats, Motion]:
    """Flight time [s] and motion where the ball comes down to a height; NaN where it never does.

    Examples
    --------
    >>> time_s, landing = come_down(launched(20, 5, 2.6), 0.15 * PER_METRE, 0.0)
    >>> round(float(time_s), 6), round(float(landing.along_m), 5)
    (0.943167, 16.98739)
    """
    target_m = np.asarray(landing_height_m, dtype=float)
    time_s = air_free_flight(start.speed_mps, start.angle_deg, start.height_m, target_m)[0]
    with np.errstate(all="ignore"):
        for _ in range(LANDING_PASSES):
            landing = advance(start, time_s, drag_per_m, lift_per_m)
            above_m = landing.height_m - target_m
            if not (np.abs(above_m) > LANDED_M).any():
                break
            late_s = above_m / np.minimum(landing.rise_mps, -0.5)
            time_s = time_s - np.clip(late_s, -time_s / 2, time_s / 2)
        reached = (np.abs(landing.height_m - target_m) < 1e-6) & (time_s > 0)
    parts = (landing.along_m, landing.height_m, landing.along_mps, landing.rise_mps)
    return np.where(reached, time_s, np.nan), Motion(*(np.where(reached, part, np.nan) for part in parts))


def before_the_end(
    end: Motion, drag_per_m: ArrayLike, lift_per_m: ArrayLike, height_m: ArrayLike
) -> tuple[Floats, Floats]:
    """How far [m] and how long [s] before the end of a flight a falling ball passed a height; below it, - after it.

    The flight is followed back from its end: within 1 mm up to 1.2 m, 1 cm up to 2 m in 99 of 100 serves (see the
    tests). A ball that hardly was so high is taken near its highest.

    Examples
    --------
    >>> _, end = come_down(launched(17.0, 12.0, 2.6), 0.4 * PER_METRE, 0.0, BALL_RADIUS_M)
    >>> [round(float(part), 2) for part in before_the_end(end, 0.4 * PER_METRE, 0.0, 1.2)]
    [1.82, 0.17]
    """
    target_m = np.asarray(height_m, dtype=float)
    with np.errstate(all="ignore"):
        room = np.maximum(end.rise_mps**2 - 2 * GRAVITY_MPS2 * (target_m - end.height_m), 0.0)
        before_s = (-end.rise_mps - np.sqrt(room)) / GRAVITY_MPS2
        for _ in range(PASSES_BACK):
            there = advance(end, -before_s, drag_per_m, lift_per_m, STEPS_BACK)
            before_s = before_s + (target_m - there.height_m) / np.maximum(-there.rise_mps, SLOWEST_FALL_MPS)
        return end.along_m - advance(end, -before_s, drag_per_m, lift_per_m, STEPS_BACK).along_m, before_s


@dataclass(frozen=True, eq=False)
class Track:
    """Whole flights of N balls: motions (K, N) at K even moments, ``step_s`` (N,) apart."""

    motion: Motion
    step_s: Floats

    def height_at(self, distance_m: ArrayLike) -> Floats:
        """Height [m] where the ball passes a distance (N,) from contact; NaN beyond either end.

        Between two moments the path is the cubic that fits places and speeds at both (Hermite).
        """
        distance = np.broadcast_to(np.asarray(distance_m, dtype=float), self.step_s.shape)
        along = self.motion.along_m
        with np.errstate(invalid="ignore"):
            before = np.clip((along <= distance).sum(axis=0) - 1, 0, len(along) - 2)
            level = np.take_along_axis(along, np.stack([before, before + 1]), axis=0)
            share = (distance - level[0]) / (level[1] - level[0])
            for _ in range(3):
                place, change = self._between(before, share, along, self.motion.along_mps)
                share = share - (place - distance) / change
            height = self._between(before, share, self.motion.height_m, self.motion.rise_mps)[0]
            return np.where((distance >= along[0]) & (distance <= along[-1]), height, np.nan)

    def apex_m(self) -> Floats:
        """Greatest height (N,) [m] on the way."""
        rise = self.motion.rise_mps
        with np.errstate(invalid="ignore", divide="ignore"):
            before = np.clip((rise > 0).sum(axis=0) - 1, 0, len(rise) - 2)
            rises = np.take_along_axis(rise, np.stack([before, before + 1]), axis=0)
            share = np.clip(rises[0] / (rises[0] - rises[1]), 0.0, 1.0)
            return self._between(before, share, self.motion.height_m, rise)[0]

    def _between(
        self, before: NDArray[np.int_], share: Floats, places: Floats, speeds: Floats
    ) -> tuple[Floats, Floats]:
        """Place between two moments, and its change per share of a step."""
        both = np.stack([before, before + 1])
        p0, p1 = np.take_along_axis(places, both, axis=0)
        m0, m1 = np.take_along_axis(speeds, both, axis=0) * self.step_s
        second, third = 3 * (p1 - p0) - 2 * m0 - m1, m0 + m1 - 2 * (p1 - p0)
        return p0 + share * (m0 + share * (second + share * third)), m0 + share * (2 * second + share * 3 * third)


def track(
    start: Motion, duration_s: ArrayLike, drag_per_m: ArrayLike, lift_per_m: ArrayLike, steps: int = FLIGHT_STEPS
) -> Track:
    """Follow N balls for ``duration_s`` (N,) and keep the whole way.

    Examples
    --------
    >>> way = track(launched([20.0], [5.0], [2.6]), [0.943167], 0.15 * PER_METRE, 0.0)
    >>> way.height_at(9.0).round(6).tolist(), way.apex_m().round(3).tolist()
    ([2.313072], [2.751])
    """
    passed = list(stages(start, duration_s, drag_per_m, lift_per_m, steps))
    names = ("along_m", "height_m", "along_mps", "rise_mps")
    motion = Motion(*(np.stack([getattr(moment, name) for moment in passed]) for name in names))
    step_s = np.broadcast_to(np.asarray(duration_s, dtype=float) / steps, motion.along_m.shape[1:])
    return Track(motion, step_s)
