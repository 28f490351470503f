"""What is told of flights held against simulated serves whose truth is known: the gap to the passers.

The flights are integrated here, apart from the program's own: drag that falls with speed as in wind tunnels, spin, and
floats that wobble.

Run: python3 tests/benchmarks/truth_flights.py
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import court_named
from serve_marker.court.formations import preset
from serve_marker.study.flight_columns import Timed, flight_columns
from serve_marker.study.reception_columns import playable_of, reception_columns
from serve_marker.study.settings import StudySettings

Floats = NDArray[np.float64]
COURT = court_named("indoor")
STEP_S = 0.002
RADIUS_M = 0.105
PER_METRE = 1.204 * np.pi * RADIUS_M**2 / (2 * 0.27)
KINDS = ("float", "jump float", "topspin", "jump topspin")
CONTACT_M = {"float": 2.4, "jump float": 2.7, "topspin": 2.45, "jump topspin": 2.95}
SPEED_MPS = {"float": (13.0, 18.0), "jump float": (15.0, 20.0), "topspin": (15.0, 20.0), "jump topspin": (18.0, 26.0)}


@dataclass(frozen=True, eq=False)
class Serves:
    """N serves in the court frame, served to end b: whole ways (N, K, 3) at ``times_s`` (K,), and when they landed."""

    kinds: NDArray[np.object_]
    times_s: Floats
    ways_m: Floats
    landed_s: Floats

    def at(self, moments_s: Floats) -> Floats:
        """Places (N, 3) at one moment each."""
        k = np.clip(moments_s / STEP_S, 0, len(self.times_s) - 1.001)
        below, share = k.astype(int), (k % 1)[:, None]
        rows = np.arange(len(k))
        return np.asarray(self.ways_m[rows, below] * (1 - share) + self.ways_m[rows, below + 1] * share)

    def fallen_to(self, height_m: Floats | float) -> Floats:
        """When (N,) each ball, falling, passes a height."""
        above = self.ways_m[:, :, 2] > np.broadcast_to(np.asarray(height_m, dtype=float), len(self.kinds))[:, None]
        last = above.shape[1] - 1 - above[:, ::-1].argmax(axis=1)
        return np.asarray(self.times_s[last] + STEP_S / 2)


def serves(count: int, rng: np.random.Generator, deepest_m: float = 9.5) -> Serves:
    """Return serves that cross the net and land between 2 m and ``deepest_m`` from it."""
    kinds = rng.choice(KINDS, 6 * count)
    low, high = np.array([SPEED_MPS[kind] for kind in kinds]).T
    speed, rise = rng.uniform(low, high), np.radians(rng.uniform(0, 22, len(kinds)))
    aside = np.radians(rng.uniform(-14, 14, len(kinds)))
    height = np.array([CONTACT_M[kind] for kind in kinds]) + rng.normal(0, 0.12, len(kinds))
    spun = np.char.endswith(kinds.astype(str), "topspin")
    lift = np.where(spun, rng.normal(0.13, 0.04, len(kinds)), 0.0)
    fast_cd, critical = rng.uniform(0.13, 0.2, len(kinds)), rng.uniform(17, 24, len(kinds))
    wobble = rng.normal(0, 0.03, (len(kinds), 3, 2)) * ~spun[:, None, None]
    place = np.column_stack([rng.uniform(-3.5, 3.5, len(kinds)), -9 - rng.uniform(0.0, 1.2, len(kinds)), height])
    velocity = speed[:, None] * np.column_stack(
        [np.cos(rise) * np.sin(aside), np.cos(rise) * np.cos(aside), np.sin(rise)]
    )
    times_s = np.arange(0, 2.2, STEP_S)
    ways = np.empty((len(kinds), len(times_s), 3))
    for k, now_s in enumerate(times_s):
        ways[:, k] = place
        v = np.linalg.norm(velocity, axis=1, keepdims=True)
        cd = fast_cd + (0.45 - fast_cd) / (1 + np.exp((v[:, 0] - critical) / 1.5))
        across = np.cross(velocity, [0.0, 0.0, 1.0])
        across /= np.linalg.norm(across, axis=1, keepdims=True)
        up = np.cross(across, velocity) / v
        waves = np.sin(2 * np.pi * (now_s * np.array([0.7, 1.4, 2.1]))[None] + 3 * wobble[:, :, 0] / 0.03)
        sway = (wobble * waves[:, :, None]).sum(axis=1)
        pull = -cd[:, None] * v * velocity + v**2 * ((sway[:, :1] - lift[:, None]) * up + sway[:, 1:] * across)
        velocity = velocity + STEP_S * (PER_METRE * pull + [0, 0, -9.81])
        place = place + STEP_S * velocity
    flown = Serves(kinds, times_s, ways, np.zeros(len(kinds)))
    landed_s = flown.fallen_to(RADIUS_M)
    flown = Serves(kinds, times_s, ways, landed_s)
    net_m = ways[np.arange(len(kinds)), np.abs(ways[:, :, 1]).argmin(axis=1), 2]
    end_m = flown.at(landed_s)
    good = (net_m > 2.24) & (net_m < 4) & (end_m[:, 1] > 2) & (end_m[:, 1] < deepest_m) & (np.abs(end_m[:, 0]) < 4.7)
    kept = np.flatnonzero(good)[:count]
    return Serves(kinds[kept].astype(object), times_s, ways[kept], landed_s[kept])


def known_exactly(told: Serves) -> Timed:
    """The serves as if both ends were marked without any error."""
    count, still, gaps_s = len(told.kinds), np.zeros((len(told.kinds), 2, 2)), np.full((len(told.kinds), 2), 1e-6)
    return Timed(
        *(told.kinds, np.full(count, "", dtype=object), told.ways_m[:, 0, :2], still),
        *(told.at(told.landed_s)[:, :2], still, told.landed_s, gaps_s, gaps_s, np.full(count, RADIUS_M)),
        *(np.ones(count), np.full(count, RADIUS_M)),
    )


def show_gaps() -> None:
    """Gaps on the floor and on the flight, told and true, by depth and formation; and what nobody reaches."""
    told = serves(1500, np.random.default_rng(3), 9.0)
    half_m = told.at(told.landed_s)[:, :2] + (4.5, 0.0)
    rows, whole = np.arange(len(half_m)), [(COURT, np.arange(len(half_m)))]
    solved = flight_columns(known_exactly(told), {}, np.full(len(rows), 2.24))
    halves = np.full(len(rows), "b", dtype=object)
    stretch_s = np.linspace(told.fallen_to(1.2), told.fallen_to(0.3), 60)
    for depth in ("up", "back"):
        formation = preset(3, depth, COURT)
        columns = reception_columns(
            np.full(len(rows), "f", dtype=object),
            half_m,
            whole,
            {"f": formation},
            StudySettings(),
            playable_of(solved, halves),
        )
        places = np.array([(p.x_m, p.y_m) for p in formation.passers])
        balls = np.stack([told.at(moments)[:, :2] + (4.5, 0.0) for moments in stretch_s], axis=1)
        away_m = np.linalg.norm(balls[:, :, None] - places, axis=3)
        true_m = away_m.min(axis=(1, 2))
        in_time = (away_m.min(axis=2) <= StudySettings().movement.radius_m(stretch_s.T)).any(axis=1)
        floor_late = columns["floor_gap_m"] > StudySettings().movement.radius_m(told.landed_s)
        deep = half_m[:, 1] > 6
        late = np.array([value is False for value in columns["reached"]])
        print(
            f"three passers {depth}, {deep.sum()} deep: floor gap {np.median(columns['floor_gap_m'][deep]):.2f} m, "
            f"gap told {np.median(columns['gap_m'][deep]):.2f} m, true {np.median(true_m[deep]):.2f} m (off by at most "
            f"{np.quantile(np.abs(columns['gap_m'] - true_m), 0.95):.2f} m in 95 of 100); out of reach on the floor "
            f"{floor_late[deep].mean():.0%}, told {late[deep].mean():.0%}, true {(~in_time)[deep].mean():.0%}"
        )


if __name__ == "__main__":
    show_gaps()
