"""Landings clicked on the ball as seen, on the right frame or one beside it: do they lie where they are said to?

The rendered clips' own pictures of the ball are clicked at its underside with 1 px of noise, through a view of marks
with the same noise, kept as clicked or moved to the crossings of the clip's own lines: single clicks, with the ball
marked on two frames before and two after, and with the film looked at.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import product

import numpy as np

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.errors import UserError
from serve_marker.logbook.records import Half, Mark, Serve
from serve_marker.marking.film_sharpening import with_film_marks
from serve_marker.marking.judging import judge_all
from serve_marker.marking.landing import place_all
from serve_marker.video.clip import open_clip
from tests.benchmarks.truth_snapped import snap_on_clip
from tests.benchmarks.truth_views import CHI2_95, INDOOR, of_clips
from tests.benchmarks.views import CLIPS, TrueClip

NOISE_PX = 1.0
FRAMES = ((0, "right frame"), (1, "one off"))
VIEWS = {False: "marks alone", True: "crossings"}
NEIGHBOURS = (-2, -1, 1, 2)
ON_LINE_M = -0.065
"""A ball touches with a disc: it is in from this margin of its middle on."""


def clicked_serves(
    clip: TrueClip, frames_off: int, neighbours: Sequence[int], rng: np.random.Generator
) -> tuple[list[Serve], Floats, list[bool]]:
    """Serves of a clip clicked ``frames_off`` the right frame, their true landings (N, 2) [m], and whether in."""
    truth, times = clip.truth, clip.truth["frame_times"]
    serves, places, inside = [], [], []
    for told in truth["serves"]:
        if told["outcome"] != "floor" or not told["landing_in_frame"]:
            continue
        track = {int(row[0]): row for row in told["ball_track"]}
        frame = told["landing_frame"] + frames_off
        if frame not in track or frame + 1 > truth["segments"][0]["frames"][1]:
            continue

        def mark(at: int, rows: dict[int, list[float]] = track) -> Mark:
            x, y = rng.normal((rows[at][1], rows[at][2] + rows[at][3]), NOISE_PX)
            return Mark(times[at], (float(x), float(y)), times[at] - times[at - 1], times[at + 1] - times[at])

        near = tuple(mark(frame + k) for k in neighbours if frame + k in track)
        to: Half = "b" if clip.turn < 0 else "a"
        serves.append(Serve(id=str(told["index"]), clip_id="c", served_to=to, landing=mark(frame), ball_marks=near))
        places.append(clip.turn * np.array(told["landing_xy"]))
        inside.append(told["margin_to_outer_edge_m"] >= ON_LINE_M)
    return serves, np.array(places).reshape(-1, 2), inside


def fitted(clip: TrueClip, rng: np.random.Generator, snapped: bool) -> View | None:
    """Return a view of marks with the hand's noise, of crossings beside them where ``snapped``."""
    clicks, _ = clip.noisy(rng, False, NOISE_PX)
    (camera,) = of_clips([clip])
    try:
        moved = snap_on_clip(camera, {}, clicks, rng) if snapped else {}
        return fit_view(
            {**clicks, **moved}, INDOOR, clip.size, clip.net_height_m, clicked=clicks if snapped else None
        ).view
    except UserError:
        return None


@dataclass
class Cell:
    """What placed landings of one kind come to."""

    held: list[bool] = field(default_factory=list)
    away_m: list[float] = field(default_factory=list)
    stated_m: list[float] = field(default_factory=list)
    wrong: int = 0
    called: int = 0
    close: int = 0

    def add(self, placed: Sequence[Serve], places: Floats, inside: Sequence[bool]) -> None:
        from serve_marker.court.areas import default_scheme

        told = judge_all(placed, INDOOR, default_scheme(INDOOR))["verdict"]
        for serve, truth, is_in, verdict in zip(placed, places, inside, told, strict=True):
            point = serve.landing_point
            if point is None:
                continue
            off_m = np.array([point.x_m, point.y_m]) - truth
            cov = [[point.cov_xx_m2, point.cov_xy_m2], [point.cov_xy_m2, point.cov_yy_m2]]
            self.held.append(bool(off_m @ np.linalg.solve(cov, off_m) < CHI2_95))
            self.away_m.append(float(np.hypot(*off_m)))
            self.stated_m.append(point.error_m)
            self.close += verdict == "too close"
            if verdict in ("in", "out"):
                self.called += 1
                self.wrong += (verdict == "in") != is_in

    def show(self, words: str) -> None:
        if self.held:
            wide = 1 / np.quantile(np.array(self.away_m) / self.stated_m, 0.95)
            print(
                f"{words:46} held {100 * np.mean(self.held):5.1f} %  off p50 {100 * np.median(self.away_m):5.1f} "
                f"p95 {100 * np.quantile(self.away_m, 0.95):5.1f} cm  stated p50 {100 * np.median(self.stated_m):5.1f} "
                f"cm  wide {wide:4.2f}  {self.wrong} of {self.called} calls wrong, "
                f"{100 * self.close / len(self.held):.0f} % too close  n {len(self.held)}",
                flush=True,
            )


def show(clips: list[TrueClip], draws: int) -> None:
    whats = (("single", ()), ("neighbours", NEIGHBOURS))
    for snapped, (what, neighbours), (off, words) in product(
        (False, True), whats, ((0, "right frame"), (1, "one off"))
    ):
        rng = np.random.default_rng(4)
        cell = Cell()
        for clip in clips:
            for _ in range(draws):
                view = fitted(clip, rng, snapped)
                for side in (-1, 1) if off and view else (0,):
                    serves, places, inside = clicked_serves(clip, side, neighbours, rng)
                    if serves and view is not None:
                        cell.add(place_all(serves, view), places, inside)
        cell.show(f"{VIEWS[snapped]}, {what}, {words}")


def show_film(clips: list[TrueClip], draws: int) -> None:
    """As `show`, with the film looked at: what it sharpened, apart from what it did not, and the time it takes."""
    for snapped, (off, words) in product((False, True), FRAMES):
        rng = np.random.default_rng(4)
        sharpened, others, took_s = Cell(), Cell(), 0.0
        for clip in clips:
            film = open_clip(CLIPS / clip.truth["file"])
            for _ in range(draws):
                view = fitted(clip, rng, snapped)
                for side in (-1, 1) if off and view else (0,):
                    serves, places, inside = clicked_serves(clip, side, (), rng)
                    if not serves or view is None:
                        continue
                    start = time.perf_counter()
                    looked_at = with_film_marks(serves, view, film, 1.0)
                    took_s += time.perf_counter() - start
                    seen = np.array([bool(serve.film_marks) for serve in looked_at])
                    placed = place_all(looked_at, view)
                    for cell, chosen in ((sharpened, seen), (others, ~seen)):
                        rows = np.flatnonzero(chosen)
                        if len(rows):
                            cell.add([placed[k] for k in rows], places[rows], [inside[k] for k in rows])
        count = len(sharpened.held) + len(others.held)
        what = f"{VIEWS[snapped]}, film, {words}"
        sharpened.show(f"{what}, sharpened")
        others.show(f"{what}, not sharpened")
        share = 100 * len(sharpened.held) / max(count, 1)
        print(f"{what}: {share:.0f} % sharpened, {1000 * took_s / max(count, 1):.0f} ms a click with decoding")
