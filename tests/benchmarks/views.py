"""How far views made of noisy marks and traces are from the truth, on the shared clips.

Run with `python tests/benchmarks/views.py [--draws N] [--clips FOLDER]`. Marks of all visible landmarks and six points
along every visible line have 1 px of noise. The known lens is the truth's own (bend and principal point), fitted to the
same clicks. The tests of the camera take their clips from here.
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

from serve_marker.camera.adjust import Known, adjust
from serve_marker.camera.choice import start_camera
from serve_marker.camera.fit import Fit, fit_view
from serve_marker.camera.homography import homography_covariance, map_points, solve_homography
from serve_marker.camera.lens import Lens
from serve_marker.camera.model import CameraModel
from serve_marker.camera.observed import line_ends, of_marks, of_traces, together
from serve_marker.camera.view import View
from serve_marker.court.calls import call_lines
from serve_marker.court.dimensions import court_named, landmarks, net_landmarks, to_half

Floats = NDArray[np.float64]
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

    def noisy(self, rng: np.random.Generator, traced: bool, noise_px: float = NOISE_PX) -> tuple[Clicks, Traces]:
        def off(pixel: tuple[float, float]) -> tuple[float, float]:
            x, y = rng.normal(pixel, noise_px)
            return float(x), float(y)

        marks = {name: off(pixel) for name, pixel in self.marks.items()}
        traces = {line: tuple(off(p) for p in trace) for line, trace in self.traces.items()} if traced else {}
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


def measured(clip: TrueClip, draws: int, traced: bool, seed: int = 1, landings: int = 20) -> dict[str, Held]:
    """Floor errors over both halves of the court and how often the 95 % ellipse of a noisy click holds the truth."""
    rng = np.random.default_rng(seed)
    rows: dict[str, list[tuple[Floats, Floats, Floats]]] = {"a": [], "b": []}
    for _ in range(draws):
        marks, traces = clip.noisy(rng, traced)
        view = clip.fitted(marks, traces).view
        known = clip.fitted_with_known_lens(marks, traces)
        floor = rng.uniform((-4.5, -9.0), (4.5, 9.0), (landings, 2))
        pixels = clip.project(floor)
        shown = clip.inside(pixels)
        floor, pixels = floor[shown], pixels[shown]
        exact, _ = view.locate(pixels)
        by_known = map_points(np.linalg.inv(known.homography), known.lens.straighten(pixels))
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
class Called:
    """Calls near the lines: shares wrong though confident, too close, and too close where all errors are known."""

    wrong: float
    too_close: float
    too_close_known: float
    landings: int


def called(clip: TrueClip, landings: int, per_view: int = 20, seed: int = 2) -> Called:
    """Landings drawn within 20 cm of the outer lines of both halves, clicked with 1 px of noise."""
    rng = np.random.default_rng(seed)
    perfect = _true_view(clip)
    wrong = close = close_known = total = 0
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
            wrong += int((((calls.verdict == "in") & ~truly_in) | ((calls.verdict == "out") & truly_in)).sum())
            close += int((calls.verdict == "too close").sum())
            close_known += int((known.verdict == "too close").sum())
            total += len(points)
    return Called(wrong / total, close / total, close_known / total, total)


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


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--draws", type=int, default=1000)
    parser.add_argument("--clips", type=Path, default=CLIPS)
    asked = parser.parse_args()
    for clip in true_clips(asked.clips):
        view = clip.fitted(clip.marks, clip.traces).view
        off_m = np.linalg.norm(np.array(view.camera_position_m) - clip.place_m)
        print(
            f"{clip.name}: exact clicks, focal {view.focal_px:.1f} of {clip.camera['fx']:.1f}, camera {off_m:.2f} m off"
        )
        for traced in (True, False):
            for end, found in measured(clip, asked.draws, traced).items():
                ours = np.percentile(found.errors_m, [50, 95]) * 100
                known = np.percentile(found.known_m, [50, 95]) * 100
                print(
                    f"  {'marks and traces' if traced else 'marks alone':16} end {end}: "
                    f"median {ours[0]:.1f} p95 {ours[1]:.1f} cm; known lens {known[0]:.1f} {known[1]:.1f} cm, "
                    f"ratio {ours[0] / known[0]:.2f} {ours[1] / known[1]:.2f}; ellipse holds {100 * found.held:.1f} %",
                    flush=True,
                )
        calls = called(clip, 2000)
        print(
            f"  calls near lines: {100 * calls.wrong:.2f} % wrong, {100 * calls.too_close:.1f} % too close "
            f"({100 * calls.too_close_known:.1f} % with known errors), {calls.landings} landings",
            flush=True,
        )


if __name__ == "__main__":
    main()
