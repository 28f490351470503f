"""How near the arc that is drawn of a serve lies to the ball on the film, and how often its band holds it.

python -m tests.benchmarks.flight_arcs

Contact and landing are marked where the truth of the rendered clips has them (the foot point of the hit, the touch),
with the true moments, through the true view, as long as the camera stands still; the ball's centre is known on the
clips beside the project alone. Pixels are those of a picture 720 high.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.logbook.records import ClipEntry, Mark, Serve
from serve_marker.marking.landing import place
from serve_marker.report.still_overlay import arc_and_band_px
from serve_marker.study.flight_path import flight_path
from tests.truths import TYPES, is_own, true_view, truths, turn_of


def marked_serve(told: dict[str, Any], view: View, turn: float, gap_s: float) -> Serve:
    """The record of a serve marked at its true places and moments."""
    foot_px, landing_px = view.project(turn * np.array([told["contact_pos"][:2], told["landing_xy"]]))
    serve = Serve(
        id="s",
        clip_id="c",
        view_id="v",
        serve_type={long: short for short, long in TYPES.items()}[told["type"]],
        outcome="floor",
        contact=Mark(told["contact_time"], (float(foot_px[0]), float(foot_px[1])), gap_s, gap_s),
        landing=Mark(told["landing_time"], (float(landing_px[0]), float(landing_px[1])), gap_s, gap_s),
    )
    return place(serve, view)


def seen_px(told: dict[str, Any], times_s: list[float]) -> Floats:
    """The ball's true centre (N, 2) in each frame of its flight."""
    flown = [row for row in told["ball_track"] if told["contact_time"] <= times_s[row[0]] <= told["landing_time"]]
    return np.array([row[1:3] for row in flown], dtype=float)


def main() -> None:
    """Print for each clip how far the arc is off and what its band holds."""
    print("clip                       serves  median px  p90 px  in the band")
    for name, truth in truths().items():
        if is_own(truth):
            continue
        view, times_s = true_view(truth), truth["frame_times"]
        scale = 720 / min(truth["display_size"])
        gap_s = float(np.median(np.diff(times_s)))
        clip = ClipEntry(id="c", practice_id="p", path=truth["file"], size_bytes=1, fingerprint="f")
        away, held, count = [], [], 0
        for told in truth["serves"]:
            if told["outcome"] != "floor" or told["landing_frame"] > truth["segments"][0]["frames"][1]:
                continue
            path = flight_path(marked_serve(told, view, turn_of(truth), gap_s), view, clip, {}, 0)
            if path is None:
                continue
            count += 1
            arc_px, half_wide_px = arc_and_band_px(view, path)
            for ball_px in seen_px(told, times_s):
                off_px = np.hypot(*(arc_px - ball_px).T)
                nearest = int(np.argmin(off_px))
                away.append(scale * off_px[nearest])
                held.append(off_px[nearest] <= half_wide_px[nearest] + 0.5)
        off_p50, off_p90 = np.quantile(away, [0.5, 0.9])
        print(f"{name:26s} {count:6d} {off_p50:10.1f} {off_p90:7.1f} {np.mean(held):12.1%}", flush=True)


if __name__ == "__main__":
    main()
