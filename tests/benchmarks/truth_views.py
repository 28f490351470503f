"""Views from few and many marks of careful and coarse hands, and from mistakes: is what they state true?

Marks, traced points and landings have the same hand's noise. *Held* is the share of true landings inside the stated
95 % ellipse; *wide* is how many times larger the stated errors are than 95 % of the true ones (1 / the 95 % quantile of
true over stated error); *told* is the share of views that say something of the kind the cell is about.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.fitting.observations import line_ends
from serve_marker.camera.fitting.usual_lenses import CENTRE_SHARE_SD, K1_SD, K2_SD
from serve_marker.camera.fitting.view_from_marks import Fit, fit_view
from serve_marker.camera.view.lens import Lens
from serve_marker.camera.view.view import longer_half_axis_m
from serve_marker.court.dimensions import COURTS, Court, Floats, landmarks
from serve_marker.errors import UserError
from tests.benchmarks.views import TrueClip
from tests.camera.conftest import CAMERAS, Pinhole

INDOOR = COURTS["indoor"]
NET_M = 2.24
COUNTS = (4, 5, 6, 8)
HANDS_PX = (1.0, 1.5, 2.5, 5.0)
LANDINGS = 12
TRACED_POINTS = 6
CHI2_95 = 5.991465
SLIP_M = 1.2
INNER_M = 0.05
Shown = Callable[[Floats], Floats]
"""Court points (N, 3) [m] to pixels (N, 2)."""


@dataclass(frozen=True)
class Camera:
    """A true camera; ``lens_drawn`` gives it another lens for each set of marks."""

    name: str
    size: tuple[int, int]
    shown: Shown
    lens_drawn: bool

    def with_a_lens(self, rng: np.random.Generator) -> Shown:
        if not self.lens_drawn:
            return self.shown
        middle = (np.array(self.size) - 1) / 2
        x_px, y_px = middle + rng.normal(0, CENTRE_SHARE_SD * max(self.size), 2)
        lens = Lens(rng.normal(0, K1_SD), rng.normal(0, K2_SD), (float(x_px), float(y_px)), max(self.size) / 2)
        return lambda points: lens.bend(self.shown(points) + lens.centre_px - middle)

    def inside(self, pixels: Floats) -> NDArray[np.bool_]:
        return np.asarray(((pixels > 2) & (pixels < np.array(self.size) - 3)).all(axis=1))


def simulated() -> list[Camera]:
    def camera(name: str, one: Pinhole) -> Camera:
        return Camera(name, one.size, one.project, True)

    return [camera(name, one) for name, one in CAMERAS.items()]


def of_clips(clips: list[TrueClip]) -> list[Camera]:
    return [Camera(clip.name, clip.size, clip.project, False) for clip in clips]


@dataclass(frozen=True)
class Marked:
    """Where the true landmarks and points along lines are shown."""

    marks: dict[str, tuple[float, float]]
    traces: dict[str, tuple[tuple[float, float], ...]]


def spread_out(places: Mapping[str, Floats], count: int) -> list[str]:
    """The marks a coach would choose: the four that span most floor, then those farthest from all chosen."""
    from itertools import combinations

    def area(names: tuple[str, ...]) -> float:
        points = np.array([places[name][:2] for name in names])
        turned = points[np.argsort(np.arctan2(*(points - points.mean(axis=0)).T))]
        x, y = turned.T
        return float(abs(x @ np.roll(y, 1) - y @ np.roll(x, 1)))

    fours: list[tuple[str, ...]] = list(combinations(places, 4))
    chosen = list(sorted(fours, key=area)[-1])
    while len(chosen) < count:
        left = [name for name in places if name not in chosen]
        chosen.append(max(left, key=lambda n: min(float(np.hypot(*(places[n] - places[c])[:2])) for c in chosen)))
    return chosen


def marked(camera: Camera, shown: Shown, court: Court, count: int, traced: bool, inner_m: float = 0.0) -> Marked | None:
    """Exact marks of ``count`` spread-out landmarks, None where the picture shows fewer.

    With ``inner_m`` they lie on the inner edges of sidelines and end lines.
    """
    painted = replace(court, length_m=court.length_m - 2 * inner_m, width_m=court.width_m - 2 * inner_m)
    places = {name: np.array(place) for name, place in landmarks(court).items()}
    pixels = shown(np.array(list(landmarks(painted).values())))
    seen = dict(zip(places, pixels, strict=True))
    there = {name: places[name] for name, ok in zip(places, camera.inside(pixels), strict=True) if ok}
    if len(there) < count:
        return None
    marks = {name: (float(seen[name][0]), float(seen[name][1])) for name in spread_out(there, count)}
    traces = {}
    for line, (start, stop) in line_ends(painted).items() if traced else ():
        share = np.linspace(0, 1, 200)[:, None]
        along = np.column_stack([(1 - share) * start + share * stop, np.zeros(200)])
        px = shown(along)
        ok = np.flatnonzero(camera.inside(px))
        if len(ok) > 40:
            picked = px[ok[np.linspace(0, len(ok) - 1, TRACED_POINTS + 2).astype(int)[1:-1]]]
            traces[line] = tuple((float(x), float(y)) for x, y in picked)
    return Marked(marks, traces)


def clicked(true: Marked, hand_px: float, rng: np.random.Generator) -> Marked:
    def off(pixel: tuple[float, float]) -> tuple[float, float]:
        x, y = rng.normal(pixel, hand_px)
        return float(x), float(y)

    return Marked(
        {name: off(px) for name, px in true.marks.items()},
        {line: tuple(off(px) for px in trace) for line, trace in true.traces.items()},
    )


@dataclass
class Cell:
    """What the views of one cell stated and what was true."""

    held: list[bool]
    true_m: list[float]
    stated_m: list[float]
    told: list[bool]
    held_or_told: list[bool]
    refused: int = 0

    @classmethod
    def empty(cls) -> Cell:
        return cls([], [], [], [], [])

    def line(self) -> str:
        if not self.held:
            return "no view"
        off, stated = np.array(self.true_m), np.array(self.stated_m)
        wide = 1 / np.quantile(off / stated, 0.95)
        return (
            f"held {100 * np.mean(self.held):5.1f} %  off p50 {100 * np.median(off):5.1f} p95 "
            f"{100 * np.quantile(off, 0.95):6.1f} cm  stated p50 {100 * np.median(stated):6.1f} cm  wide {wide:4.2f}  "
            f"told {100 * np.mean(self.told):5.1f} %  held or told {100 * np.mean(self.held_or_told):5.1f} %  "
            f"views {len(self.told)}, refused {self.refused}"
        )

    def add(self, fit: Fit, camera: Camera, shown: Shown, hand_px: float, told: bool, rng: np.random.Generator) -> None:
        court = fit.view.court
        floor = rng.uniform((-1, -1), (1, 1), (LANDINGS, 2)) * [court.half_width_m, court.half_length_m]
        pixels = shown(np.column_stack([floor, np.zeros(LANDINGS)]))
        ok = camera.inside(pixels)
        self.told.append(told)
        if not ok.any():
            return
        found, cov = fit.view.locate(rng.normal(pixels[ok], hand_px))
        known = np.isfinite(found).all(axis=1)
        away, cov = (found - floor[ok])[known], cov[known]
        inside = np.einsum("ni,nij,nj->n", away, np.linalg.inv(cov), away) < CHI2_95
        self.held += inside.tolist()
        self.true_m += np.hypot(*away.T).tolist()
        self.stated_m += longer_half_axis_m(cov).tolist()
        self.held_or_told += [bool(one or told) for one in inside]


Mistake = Callable[[Camera, Shown, int, bool, np.random.Generator], tuple[Marked, Callable[[Fit], bool]] | None]


def honest(camera: Camera, shown: Shown, count: int, traced: bool, _: np.random.Generator):
    true = marked(camera, shown, INDOOR, count, traced)
    return true and (
        true,
        lambda fit: any(
            "miss the" in told or "px off. Click it again" in told or "inner" in told for told in fit.warnings
        ),
    )


def wrong_court(name: str) -> Mistake:
    def mistake(camera: Camera, shown: Shown, count: int, traced: bool, _: np.random.Generator):
        true = marked(camera, shown, COURTS[name], count, traced)
        return true and (
            true,
            lambda fit: "the court is" in fit.taken_for_granted or any("They fit" in one for one in fit.warnings),
        )

    return mistake


def inner_edge(camera: Camera, shown: Shown, count: int, traced: bool, _: np.random.Generator):
    true = marked(camera, shown, INDOOR, count, traced, INNER_M)
    return true and (
        true,
        lambda fit: "outer edges" in fit.taken_for_granted or any("inner" in told for told in fit.warnings),
    )


SLIP_WORDS = ("marks a slip of one", "marks one slip")


def slipped(
    camera: Camera, shown: Shown, count: int, traced: bool, rng: np.random.Generator
) -> tuple[Marked, str] | None:
    """Marks of which one, named, lies 1.2 m beside its place on the floor."""
    true = marked(camera, shown, INDOOR, count, traced)
    if true is None:
        return None
    name = str(rng.choice(list(true.marks)))
    turn = rng.uniform(0, 2 * np.pi)
    place = np.array(landmarks(INDOOR)[name]) + SLIP_M * np.array([np.cos(turn), np.sin(turn), 0])
    x, y = shown(place[None])[0]
    return replace(true, marks={**true.marks, name: (float(x), float(y))}), name


def one_slip(camera: Camera, shown: Shown, count: int, traced: bool, rng: np.random.Generator):
    """One mark clicked beside its place; told where it is named, or that a slip can go unnoticed."""
    case = slipped(camera, shown, count, traced, rng)
    return case and (
        case[0],
        lambda fit: any(any(word in told for word in (case[1], *SLIP_WORDS)) for told in fit.warnings),
    )


def named_slip(camera: Camera, shown: Shown, count: int, traced: bool, rng: np.random.Generator):
    """One mark clicked beside its place; told only where it is named."""
    case = slipped(camera, shown, count, traced, rng)
    return case and (case[0], lambda fit: any(case[1] in told for told in fit.warnings))


def cell(
    cameras: list[Camera], mistake: Mistake, count: int, hand_px: float, traced: bool, draws: int, seed: int = 5
) -> Cell:
    rng = np.random.default_rng(seed)
    found = Cell.empty()
    for camera in cameras:
        for _ in range(draws):
            shown = camera.with_a_lens(rng)
            case = mistake(camera, shown, count, traced, rng)
            if case is None:
                continue
            true, is_told = case
            clicks = clicked(true, hand_px, rng)
            try:
                fit = fit_view(clicks.marks, INDOOR, camera.size, NET_M, clicks.traces)
            except UserError:
                found.refused += 1
                continue
            found.add(fit, camera, shown, hand_px, is_told(fit), rng)
    return found


def show(clips: list[TrueClip], draws: int, only: str = "") -> None:
    sets = (("simulated", simulated()), ("clips", of_clips(clips)))
    mistakes: dict[str, tuple[Mistake, tuple[float, ...]]] = {
        "honest": (honest, HANDS_PX),
        "beach": (wrong_court("beach"), (1.0,)),
        "60 x 30 ft": (wrong_court("high-school"), (1.0,)),
        "inner edge": (inner_edge, (1.0,)),
        "slip": (one_slip, (1.0,)),
    }
    for name, (mistake, hands) in mistakes.items():
        if only and only != name:
            continue
        for which, cameras in sets:
            for traced in (False, True):
                for count in COUNTS:
                    for hand_px in hands:
                        one = cell(cameras, mistake, count, hand_px, traced, draws)
                        words = "traces" if traced else "marks "
                        print(f"{name:10} {which:9} {words} {count} {hand_px:3.1f} px  {one.line()}", flush=True)
