"""How far views made of noisy marks and traces are from the truth, on the shared clips.

Run with `python tests/benchmarks/views.py [--draws N] [--clips FOLDER] [--only CLIP]`. Marks of all visible landmarks
and six points along every visible line have 1 px of noise; fewer draws are made with six points in all (along the near
end line and one sideline) and with marks alone. The known lens is the truth's own (bend and principal point), fitted to
the same clicks. The tests of the camera take their clips from here.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from serve_marker.camera.fitting.bundle_adjustment import Known, adjust
from serve_marker.camera.fitting.lens_choice import start_camera
from serve_marker.camera.fitting.observations import line_ends, of_marks, of_traces, together
from serve_marker.camera.fitting.view_from_marks import Fit, fit_view
from serve_marker.camera.view.homography import homography_covariance, map_points, solve_homography
from serve_marker.camera.view.lens import Lens
from serve_marker.camera.view.model import CameraModel
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats, court_named, landmarks, net_landmarks, to_half
from serve_marker.court.line_calls import call_lines

Clicks = dict[str, tuple[float, float]]
Traces = dict[str, tuple[tuple[float, float], ...]]

CLIPS = Path(__file__).resolve().parents[3] / "shared" / "clips"
COURT = court_named("indoor")
MARGIN_PX = 2.0
TRACED_POINTS = 6
NOISE_PX = 1.0
CHI2_95 = 5.991465
NEAR_LINE_M = 0.2
CONTACT_M, CONTACT_SD_M = 0.065, 0.02


@dataclass(frozen=True)
class TrueClip:
    """A rendered clip's camera, in the court frame of this program."""

    name: str
    truth: dict[str, Any]

    @property
    def size(self) -> tuple[int, int]:
        width, height = self.truth["display_size"]
        return width, height

    @property
    def net_height_m(self) -> float:
        return float(self.truth["net_height"])

    @property
    def camera(self) -> dict[str, Any]:
        found: dict[str, Any] = self.truth["segments"][0]["camera"]
        return found

    @property
    def turn(self) -> int:
        return -1 if self.camera["position"][1] > 0 else 1

    @property
    def place_m(self) -> Floats:
        x, y, z = self.camera["position"]
        return np.array([self.turn * x, self.turn * y, z])

    @property
    def lens(self) -> Lens:
        c = self.camera
        return Lens(c["dist"][0], c["dist"][1], (c["cx"], c["cy"]), c["fx"])

    def project(self, points_m: ArrayLike) -> Floats:
        points = np.asarray(points_m, dtype=float)
        if points.shape[1] == 2:
            points = np.column_stack([points, np.zeros(len(points))])
        c = self.camera
        K = np.array([[c["fx"], 0, c["cx"]], [0, c["fy"], c["cy"]], [0, 0, 1.0]])
        turned = points * (self.turn, self.turn, 1)
        seen = cv2.projectPoints(turned, np.array(c["rvec"]), np.array(c["tvec"]), K, np.array(c["dist"]))[0]
        return np.asarray(seen.reshape(-1, 2))

    def inside(self, pixels: Floats) -> NDArray[np.bool_]:
        return np.asarray(((pixels > MARGIN_PX) & (pixels < np.array(self.size) - 1 - MARGIN_PX)).all(axis=1))

    def named(self, places: dict[str, tuple[float, float, float]]) -> Clicks:
        pixels = self.project(list(places.values()))
        shown = self.inside(pixels)
        return {n: (float(x), float(y)) for n, (x, y), ok in zip(places, pixels, shown, strict=True) if ok}

    @cached_property
    def marks(self) -> Clicks:
        return self.named(landmarks(COURT))

    @cached_property
    def net(self) -> Clicks:
        return self.named(net_landmarks(COURT, self.net_height_m))

    @cached_property
    def traces(self) -> Traces:
        found: Traces = {}
        for line, (start, stop) in line_ends(COURT).items():
            share = np.linspace(0, 1, 400)[:, None]
            pixels = self.project((1 - share) * start + share * stop)
            shown = np.flatnonzero(self.inside(pixels))
            if len(shown) > 40:
                chosen = pixels[shown[np.linspace(0, len(shown) - 1, TRACED_POINTS + 2).astype(int)[1:-1]]]
                found[line] = tuple((float(x), float(y)) for x, y in chosen)
        return found

    @property
    def six_traced(self) -> Traces:
        """Three points along the near end line and three along a sideline."""
        sides = [line for line in ("right", "left") if line in self.traces]
        return {line: self.traces[line][::2] for line in ("end-a", sides[0])}

    def noisy(
        self, rng: np.random.Generator, traced: bool, noise_px: float = NOISE_PX, six: bool = False
    ) -> tuple[Clicks, Traces]:
        def off(pixel: tuple[float, float]) -> tuple[float, float]:
            x, y = rng.normal(pixel, noise_px)
            return float(x), float(y)

        marks = {name: off(pixel) for name, pixel in self.marks.items()}
        true = {} if not traced else self.six_traced if six else self.traces
        traces = {line: tuple(off(p) for p in trace) for line, trace in true.items()}
        return marks, traces

    def fitted(self, marks: Clicks, traces: Traces) -> Fit:
        return fit_view(marks, COURT, self.size, self.net_height_m, traces)

    def fitted_with_known_lens(self, marks: Clicks, traces: Traces) -> CameraModel:
        """The camera of the same clicks when bend and principal point are known."""
        names = list(marks)
        floor = np.array([landmarks(COURT)[name] for name in names])
        pixels = np.array([marks[name] for name in names])
        H = solve_homography(floor[:, :2], pixels)
        cov = homography_covariance(H, floor[:, :2], np.broadcast_to(np.eye(2), (len(names), 2, 2)))
        start = start_camera(H, cov, self.size)
        assert start is not None
        seen = together(
            of_marks(floor, pixels, np.ones(len(names))), of_traces(traces, COURT, H, 1.0, 0.03 * max(self.size))
        )
        found = adjust(replace(start, lens=self.lens), seen, Known(self.lens.centre_px, 0.0, 0.0, 0.0, 0.0))
        assert found is not None
        return found.camera


def true_clips(folder: Path = CLIPS) -> list[TrueClip]:
    """All clips that have their truth beside them."""
    found = [(path, json.loads(path.read_text())) for path in sorted(folder.glob("*.truth.json"))]
    return [TrueClip(truth["clip"], truth) for _, truth in found]


@dataclass(frozen=True)
class Held:
    """Of one clip and end: errors of exact clicks [m] with our lens and the known one, and shares held by ellipses."""

    errors_m: Floats
    known_m: Floats
    held: float


def measured(
    clip: TrueClip, draws: int, traced: bool, seed: int = 1, landings: int = 20, six: bool = False
) -> dict[str, Held]:
    """Floor errors over both halves of the court and how often the 95 % ellipse of a noisy click holds the truth."""
    rng = np.random.default_rng(seed)
    rows: dict[str, list[tuple[Floats, Floats, Floats]]] = {"a": [], "b": []}
    for _ in range(draws):
        marks, traces = clip.noisy(rng, traced, six=six)
        view = clip.fitted(marks, traces).view
        known = clip.fitted_with_known_lens(marks, traces)
        floor = rng.uniform((-4.5, -9.0), (4.5, 9.0), (landings, 2))
        pixels = clip.project(floor)
        shown = clip.inside(pixels)
        floor, pixels = floor[shown], pixels[shown]
        exact, _ = view.locate(pixels)
        by_known = map_points(np.linalg.inv(known.homography).astype(np.float64), known.lens.straighten(pixels))
        clicked, cov = view.locate(rng.normal(pixels, NOISE_PX))
        away = (clicked - floor)[:, :, None]
        within = (away.transpose(0, 2, 1) @ np.linalg.solve(cov, away)).ravel() < CHI2_95
        for end, chosen in (("a", floor[:, 1] < 0), ("b", floor[:, 1] >= 0)):
            rows[end].append(
                (
                    np.hypot(*(exact - floor)[chosen].T),
                    np.hypot(*(by_known - floor)[chosen].T),
                    within[chosen].astype(float),
                )
            )
    joined = {end: [np.concatenate(part) for part in zip(*found, strict=True)] for end, found in rows.items()}
    return {end: Held(errors, known, float(held.mean())) for end, (errors, known, held) in joined.items()}


@dataclass(frozen=True)
class Posed:
    """Errors (draws,) of the camera's height and distance as shares, and of the net's tops [px]."""

    height: Floats
    distance: Floats
    net_px: Floats


def posed(clip: TrueClip, draws: int, noise_px: float = NOISE_PX, seed: int = 3) -> Posed:
    """How far off the camera's place is, and how far from their true pixels the net's tops are drawn."""
    rng = np.random.default_rng(seed)
    tops = np.array(list(net_landmarks(COURT, clip.net_height_m).values()))
    true_px = clip.project(tops)
    shown = clip.inside(true_px)
    rows = []
    for _ in range(draws):
        view = clip.fitted(*clip.noisy(rng, True, noise_px)).view
        place_m = np.array(view.camera_position_m)
        away_m, true_away_m = np.hypot(*place_m[:2]), np.hypot(*clip.place_m[:2])
        off_px = np.hypot(*(view.project(tops) - true_px)[shown].T)
        rows.append((place_m[2] / clip.place_m[2] - 1, away_m / true_away_m - 1, max(off_px, default=np.nan)))
    return Posed(*np.array(rows).T)


@dataclass(frozen=True)
class Called:
    """Calls near the lines: shares wrong though confident and too close, the same where all errors are known."""

    wrong: float
    wrong_known: float
    too_close: float
    too_close_known: float
    landings: int


def called(clip: TrueClip, landings: int, per_view: int = 20, seed: int = 2) -> Called:
    """Landings drawn within 20 cm of the outer lines of both halves, clicked with 1 px of noise."""
    rng = np.random.default_rng(seed)
    perfect = _true_view(clip)
    wrong = wrong_known = close = close_known = total = 0
    while total < landings:
        view = clip.fitted(*clip.noisy(rng, traced=True)).view
        for end in ("a", "b"):
            points = _near_lines(rng, per_view // 2, end)
            pixels = clip.project(points)
            shown = clip.inside(pixels)
            points, pixels = points[shown], rng.normal(pixels[shown], NOISE_PX)
            xy_m, cov = view.locate(pixels)
            calls = call_lines(to_half(xy_m, end, COURT), cov, COURT)
            known = call_lines(to_half(perfect.locate(pixels)[0], end, COURT), perfect.locate(pixels)[1], COURT)
            half = to_half(points, end, COURT)
            inside_m = np.minimum(np.minimum(half[:, 0], 9.0 - half[:, 0]), 9.0 - half[:, 1])
            truly_in = inside_m + rng.normal(CONTACT_M, CONTACT_SD_M, len(half)) > 0
            wrong += _wrong(calls.verdict, truly_in)
            wrong_known += _wrong(known.verdict, truly_in)
            close += int((calls.verdict == "too close").sum())
            close_known += int((known.verdict == "too close").sum())
            total += len(points)
    return Called(wrong / total, wrong_known / total, close / total, close_known / total, total)


def _wrong(verdict: NDArray[np.object_], truly_in: NDArray[np.bool_]) -> int:
    return int((((verdict == "in") & ~truly_in) | ((verdict == "out") & truly_in)).sum())


def _true_view(clip: TrueClip) -> View:
    """The clip's own camera as a view that knows itself exactly and every click's deviation."""
    floor = np.array([(x, y) for x in (-4.0, 0.0, 4.0) for y in (-2.0, 0.0, 8.0)])
    straight = clip.lens.straighten(clip.project(floor))
    return View(
        court=COURT,
        image_size=clip.size,
        net_height_m=clip.net_height_m,
        homography=solve_homography(floor, straight),
        homography_cov=np.zeros((9, 9)),
        marks={},
        rms_px=0.0,
        misfit_sd_px=0.0,
        camera_position_m=None,
        lens=clip.lens,
        own_click_sd_px=NOISE_PX,
    )


def _near_lines(rng: np.random.Generator, count: int, end: str) -> Floats:
    """Points (N, 2) within 20 cm of the end line or of a sideline of one half."""
    sign = -1.0 if end == "a" else 1.0
    off = rng.uniform(-NEAR_LINE_M, NEAR_LINE_M, count)
    line = rng.integers(0, 3, count)
    along_side = sign * rng.uniform(0.5, 9.0, count)
    x = np.where(line == 0, rng.uniform(-4.5, 4.5, count), np.where(line == 1, -4.5 - off, 4.5 + off))
    y = np.where(line == 0, sign * (9.0 + off), along_side)
    return np.column_stack([x, y])


WAYS = (("six a line", True, False, 1.0), ("six in all", True, True, 0.1), ("marks alone", False, False, 0.1))
"""What is traced beside the marks, and which share of the draws is made of it."""


def main() -> None:
    """Print the tables, a clip at a time."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--draws", type=int, default=4000)
    parser.add_argument("--clips", type=Path, default=CLIPS)
    parser.add_argument("--only", default="", help="the name of one clip")
    asked = parser.parse_args()
    for clip in true_clips(asked.clips):
        if asked.only in (clip.name, ""):
            print(f"\n{clip.name}")
            _show_exact(clip)
            _show_pose(clip, max(asked.draws // 10, 10))
            _show_errors(clip, asked.draws)
            _show_calls(clip)


def _show_exact(clip: TrueClip) -> None:
    seen = [s for s in clip.truth["serves"] if s["outcome"] == "floor" and s.get("landing_in_frame")]
    floor = np.array([s["landing_xy"] for s in seen]) * clip.turn
    for what, traces in (("with traces", clip.traces), ("marks alone", {})):
        view = clip.fitted(clip.marks, traces).view
        off_m = np.hypot(*(view.locate(clip.project(floor))[0] - floor).T)
        print(f"  exact clicks, {what}: landings {100 * np.median(off_m):.1f} cm off in the middle", end="; ")
        print(f"focal {view.focal_px:.1f} of {clip.camera['fx']:.1f} px")


def _show_pose(clip: TrueClip, draws: int) -> None:
    for noise_px in (0.0, NOISE_PX):
        found = posed(clip, draws if noise_px else 1, noise_px)
        height, distance = (100 * np.percentile(np.abs(off), [50, 95]) for off in (found.height, found.distance))
        net_px = np.percentile(found.net_px, [50, 95]) if np.isfinite(found.net_px).all() else (np.nan, np.nan)
        print(
            f"  pose, {noise_px:g} px: height {height[0]:.1f} (p95 {height[1]:.1f}) %, distance {distance[0]:.1f} "
            f"(p95 {distance[1]:.1f}) % off, net's tops {net_px[0]:.1f} (p95 {net_px[1]:.1f}) px off",
            flush=True,
        )


def _show_errors(clip: TrueClip, draws: int) -> None:
    print("  floor error [cm]   end  median   p95 | known   p95 | ratio   p95 | ellipse holds")
    for what, traced, six, share in WAYS:
        for end, found in measured(clip, max(int(share * draws), 10), traced, six=six).items():
            ours, known = (np.percentile(part, [50, 95]) * 100 for part in (found.errors_m, found.known_m))
            print(
                f"  {what:18} {end:>3} {ours[0]:7.1f}{ours[1]:6.1f} |{known[0]:6.1f}{known[1]:6.1f} |"
                f"{ours[0] / known[0]:6.2f}{ours[1] / known[1]:6.2f} |{100 * found.held:7.1f} %",
                flush=True,
            )


def _show_calls(clip: TrueClip) -> None:
    calls = called(clip, 2000)
    print(
        f"  {calls.landings} calls near lines: {100 * calls.wrong:.2f} % wrong ({100 * calls.wrong_known:.2f} % with "
        f"all errors known), {100 * calls.too_close:.1f} % too close ({100 * calls.too_close_known:.1f} %), "
        f"ratio {calls.too_close / calls.too_close_known:.2f}",
        flush=True,
    )


if __name__ == "__main__":
    main()
