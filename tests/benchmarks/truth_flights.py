"""What is told of flights held against simulated serves whose truth is known: gap, pace, clearance, received balls.

The flights are integrated here, apart from the program's own: drag that falls with speed as in wind tunnels, spin, and
floats that wobble.

Run: python3 -m tests.benchmarks.truth_flights
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import court_named, landmarks
from serve_marker.court.formations import preset
from serve_marker.logbook.records import Mark, Serve
from serve_marker.logbook.serve_arrays import columns_of
from serve_marker.marking.landing import place_all
from serve_marker.study.flight_columns import Timed, flight_columns, pace_columns, through_net_mask, timed
from serve_marker.study.pace_limits import impossible_mask
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

CAMERAS = {
    "behind receivers, 4 m": ((0.5, -15.0, 4.0), -1),
    "behind receivers, 1.8 m": ((-1.0, -14.0, 1.8), -1),
    "corner, 2.5 m": ((8.5, -14.5, 2.5), -1),
    "behind servers, 5 m": ((0.6, -16.5, 5.0), 1),
}
"""Place in the court frame [m], and whether the serves fly away from the camera (1) or towards it (-1)."""
SIZE_PX, FOCAL_PX = (1920, 1080), 1300.0
FOOT_SD_M = (0.1, 0.3)
RESTITUTION = 0.7


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
    lift = np.where(spun, rng.uniform(0.1, 0.2, len(kinds)), 0.0)
    fast_cd, critical = rng.uniform(0.13, 0.2, len(kinds)), rng.uniform(17, 24, len(kinds))
    wobble = rng.normal(0, 0.012, (len(kinds), 3, 2)) * ~spun[:, None, None]
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
        waves = np.sin(2 * np.pi * (now_s * np.array([0.7, 1.4, 2.1]))[None] + 3 * wobble[:, :, 0] / 0.012)
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
        *(np.zeros(count), np.zeros((count, 2))),
        *(np.ones((count, 2), dtype=bool), np.ones(count), np.full(count, RADIUS_M)),
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


@dataclass(frozen=True, eq=False)
class Camera:
    """A pinhole camera that looks down the court."""

    place_m: Floats

    def seen(self, points_m: Floats) -> Floats:
        """Pixels (N, 2) of points (N, 3)."""
        ahead = np.array([0.0, 0.5, 0.6]) - self.place_m
        ahead /= np.linalg.norm(ahead)
        aside = np.cross(ahead, [0.0, 0.0, 1.0])
        aside /= np.linalg.norm(aside)
        out_m = points_m - self.place_m
        depth = out_m @ ahead
        flat = np.column_stack([out_m @ aside, out_m @ np.cross(ahead, aside)]) / depth[:, None]
        return np.asarray(FOCAL_PX * flat + np.array(SIZE_PX) / 2)

    def view(self, rng: np.random.Generator) -> View:
        """The view fitted to the crossings in the picture, clicked with 1 px of error."""
        places = {name: place for name, place in landmarks(COURT).items() if not name.startswith(("net", "antenna"))}
        pixels = self.seen(np.array(list(places.values()), dtype=float)) + rng.normal(0, 1, (len(places), 2))
        shown = {name: (float(x), float(y)) for name, (x, y) in zip(places, pixels, strict=True)}
        marks = {name: (x, y) for name, (x, y) in shown.items() if 3 < x < SIZE_PX[0] - 3 and 3 < y < SIZE_PX[1] - 3}
        return fit_view(marks, COURT, SIZE_PX, 2.24).view


def clicked(
    told: Serves, camera: Camera, turn: int, fps: float, rng: np.random.Generator, received: Floats | None
) -> list[Serve]:
    """The serves as a coach marks them: on the nearest frames, where the ball is seen, feet judged by eye.

    ``received`` (N,) are the heights at which they were played [m]; the coach leaves the height at 0.8 m.
    """
    count, gap_s = len(told.kinds), 1 / fps
    flip = np.array([turn, turn, 1.0])
    first_s = rng.uniform(0, gap_s, count)
    ended_s = told.landed_s if received is None else told.fallen_to(received)
    framed_s = first_s + np.round((ended_s - first_s) / gap_s) * gap_s
    contact_s = first_s - np.round(first_s / gap_s) * gap_s
    feet_m = told.ways_m[:, 0] * (1, 1, 0) + np.column_stack([rng.normal(0, FOOT_SD_M, (count, 2)), np.zeros(count)])
    if received is None:
        late_s = np.maximum(framed_s - told.landed_s, 0)[:, None]
        touch_m = told.at(told.landed_s)
        down = (touch_m - told.at(told.landed_s - 0.01)) / 0.01
        after_m = touch_m + RESTITUTION * late_s * down * (1, 1, -1) - np.array([0, 0, 9.81 / 2]) * late_s**2
        seen_m = np.where(late_s > 0, after_m, told.at(np.minimum(framed_s, told.landed_s))) - [0, 0, RADIUS_M]
    else:
        seen_m = told.at(np.minimum(framed_s, ended_s))
    noise = rng.normal(0, 1, (2, count, 2))
    feet_px, end_px = camera.seen(feet_m * flip) + noise[0], camera.seen(seen_m * flip) + noise[1]
    of = {"outcome": "floor"} if received is None else {"outcome": "received", "landing_height_m": 0.8}
    return [
        Serve(
            id=f"{k}",
            clip_id="c",
            serve_type=str(told.kinds[k]),
            served_to="b" if turn > 0 else "a",
            contact=Mark(10 + float(contact_s[k]), tuple(feet_px[k].tolist()), gap_s, gap_s),
            landing=Mark(10 + float(framed_s[k]), tuple(end_px[k].tolist()), gap_s, gap_s, received is not None),
            **of,
        )
        for k in range(count)
    ]


def truth_of(told: Serves, turn: int, received: Floats | None) -> dict[str, Floats]:
    """What was true of each serve, under the names it is told by."""
    rows, ended_s = np.arange(len(told.kinds)), told.landed_s if received is None else told.fallen_to(received)
    start_m, end_m = told.ways_m[:, 0], told.at(ended_s)
    at_net = np.abs(told.ways_m[:, :, 1]).argmin(axis=1)
    launched = (told.ways_m[:, 1] - start_m) / STEP_S
    landed_m = turn * told.at(told.landed_s)[:, :2]
    return {
        "pace_mps": np.hypot(*(end_m - start_m)[:, :2].T) / ended_s,
        "net_clearance_m": told.ways_m[rows, at_net, 2] - 2.24,
        "launch_mps": np.linalg.norm(launched, axis=1),
        "launch_deg": np.degrees(np.arctan2(launched[:, 2], np.hypot(*launched[:, :2].T))),
        "apex_m": told.ways_m[:, :, 2].max(axis=1),
        "landing_x_m": landed_m[:, 0],
        "landing_y_m": landed_m[:, 1],
    }


def told_of(marked: list[Serve], view: View) -> dict[str, tuple[Floats, Floats, Floats]]:
    """What the program tells of marked serves: value, low and high."""
    placed = place_all(marked, view)
    columns = columns_of(placed)
    of = timed(columns, [(view, np.arange(len(placed)))], {})
    found = pace_columns(of) | flight_columns(of, {}, np.full(len(placed), 2.24))
    told = {}
    for name in ("pace_mps", "net_clearance_m", "launch_mps", "launch_deg", "apex_m"):
        stem, unit = name.rsplit("_", 1)
        if f"{stem}_low_{unit}" in found:
            told[name] = (found[name], found[f"{stem}_low_{unit}"], found[f"{stem}_high_{unit}"])
    for axis, cov in (("x", "xx"), ("y", "yy")):
        reach_m = 1.96 * np.sqrt(columns[f"landing_cov_{cov}_m2"])
        value = columns[f"landing_{axis}_m"]
        told[f"landing_{axis}_m"] = (value, value - reach_m, value + reach_m)
    return told


def show_late_contacts(count: int = 200) -> None:
    """Share of serves whose contact is marked some frames late that are asked about, and of those marked right."""
    for fps in (30, 60, 120):
        camera, rng = Camera(np.array(CAMERAS["behind receivers, 4 m"][0])), np.random.default_rng(9)
        marked = clicked(serves(count, rng), camera, -1, fps, rng, None)
        view, asked = camera.view(rng), []
        for late in (0, 6, 12, 18):
            hits = [replace(s.contact, time_s=s.contact.time_s + late / fps) for s in marked if s.contact]
            placed = place_all([replace(s, contact=hit) for s, hit in zip(marked, hits, strict=True)], view)
            of = timed(columns_of(placed), [(view, np.arange(count))], {})
            odd = impossible_mask(pace_columns(of)["pace_mps"])
            odd |= through_net_mask(flight_columns(of, {}, np.full(count, 2.24)))
            asked.append(f"{late} frames late {odd.mean():.1%}")
        print(f"{fps} frames a second, asked about: {', '.join(asked)}")


def show_marked(rounds: int, count: int, received: bool) -> None:
    """Share held, median stated half width and the width needed of everything told, by camera and frame rate."""
    for name, (place_m, turn) in CAMERAS.items():
        for fps in (30, 120):
            rng = np.random.default_rng(7)
            cells: dict[str, list[Floats]] = {}
            for _ in range(rounds):
                flown = serves(count, rng)
                heights = np.clip(rng.normal(0.8, 0.2, len(flown.kinds)), 0.3, 1.4) if received else None
                camera = Camera(np.array(place_m))
                marked = clicked(flown, camera, turn, fps, rng, heights)
                truth = truth_of(flown, turn, heights)
                for what, (value, low, high) in told_of(marked, camera.view(rng)).items():
                    known = np.isfinite(low) & (np.hypot(*flown.at(flown.landed_s)[:, :2].T) > 0)
                    held = (low <= truth[what]) & (truth[what] <= high)
                    rows = np.stack([held, (high - low) / 2, value - truth[what]])[:, known]
                    cells.setdefault(what, []).append(rows)
            print(f"{name}, {fps} frames a second, {'received' if received else 'floor'}:")
            for what, parts in cells.items():
                held, half, off = np.concatenate(parts, axis=1)
                needed = np.quantile(np.abs(off), 0.95)
                told = f"{held.mean():6.1%} held, stated {np.median(half):.2f}, needed {needed:.2f}"
                over = f"({np.median(half) / needed:.2f} x), bias {off.mean():+.2f}, RMS {np.sqrt(np.mean(off**2)):.2f}"
                print(f"  {what:16} {len(held):5} {told} {over}")


if __name__ == "__main__":
    show_gaps()
    show_late_contacts()
    for at_passers in (False, True):
        show_marked(6, 60, at_passers)
