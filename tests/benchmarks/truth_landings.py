"""Landings clicked on the ball as seen, on the right frame or one beside it: do they lie where they are said to?

The rendered clips' own pictures of the ball are clicked at its underside with 1 px of noise, through a view of marks
with the same noise: single clicks, and with the ball marked on two frames before and two after.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.errors import UserError
from serve_marker.logbook.records import Half, Mark, Serve
from serve_marker.marking.judging import judge_all
from serve_marker.marking.landing import place_all
from tests.benchmarks.truth_views import CHI2_95, INDOOR
from tests.benchmarks.views import TrueClip

NOISE_PX = 1.0
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


def fitted(clip: TrueClip, rng: np.random.Generator) -> View | None:
    try:
        return clip.fitted(*clip.noisy(rng, False, NOISE_PX)).view
    except UserError:
        return None


def show(clips: list[TrueClip], draws: int) -> None:
    from serve_marker.court.areas import default_scheme

    for what, neighbours in (("single", ()), ("neighbours", NEIGHBOURS)):
        for off, words in ((0, "right frame"), (1, "one off")):
            rng = np.random.default_rng(4)
            held, away_m, stated_m, wrong, called, close = [], [], [], 0, 0, 0
            for clip in clips:
                for _ in range(draws):
                    view = fitted(clip, rng)
                    for side in (-1, 1) if off and view else (0,):
                        serves, places, inside = clicked_serves(clip, side, neighbours, rng)
                        if not serves or view is None:
                            continue
                        placed = place_all(serves, view)
                        told = judge_all(placed, INDOOR, default_scheme(INDOOR))["verdict"]
                        for serve, truth, is_in, verdict in zip(placed, places, inside, told, strict=True):
                            if serve.landing_point is None:
                                continue
                            point = serve.landing_point
                            off_m = np.array([point.x_m, point.y_m]) - truth
                            cov = [[point.cov_xx_m2, point.cov_xy_m2], [point.cov_xy_m2, point.cov_yy_m2]]
                            held.append(off_m @ np.linalg.solve(cov, off_m) < CHI2_95)
                            away_m.append(np.hypot(*off_m))
                            stated_m.append(point.error_m)
                            close += verdict == "too close"
                            if verdict in ("in", "out"):
                                called += 1
                                wrong += (verdict == "in") != is_in
            if held:
                print(
                    f"{what:10} {words:11} held {100 * np.mean(held):5.1f} %  off p50 {100 * np.median(away_m):5.1f} "
                    f"p95 {100 * np.quantile(away_m, 0.95):5.1f} cm  stated p50 {100 * np.median(stated_m):5.1f} cm  "
                    f"wide {1 / np.quantile(np.array(away_m) / stated_m, 0.95):4.2f}  {wrong} of {called} calls wrong, "
                    f"{100 * close / len(held):.0f} % too close  n {len(held)}",
                    flush=True,
                )
