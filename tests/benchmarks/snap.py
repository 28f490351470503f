"""How well clicks on landmarks snap, on the shared clips: every 30th frame, all landmarks that the picture shows.

Run with `python tests/benchmarks/snap.py [--clips FOLDER] [--every N] [--only CLIP]`. Clicks lie up to 6 px
off, evenly over the disc; the approximate view is fitted to these very clicks. Truth is each frame's own camera with
its lens.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.picture.snap import snap_all
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import court_named, landmarks
from serve_marker.errors import UserError
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader

CLIPS = Path(__file__).resolve().parents[3] / "shared" / "clips"
OFF_PX = 6.0
WRONG_PX = 2.5
MARGIN_PX = 2.0


def true_pixels(truth: dict[str, Any], frame: int) -> dict[str, tuple[float, float]]:
    """Pixels of the landmarks that a frame shows, by the truth's camera with its lens."""
    segment = next(s for s in truth["segments"] if s["frames"][0] <= frame <= s["frames"][1])
    whole = truth["segments"][0]["camera"]
    camera = segment.get("camera")
    if camera is None:
        camera = whole | next(c for c in segment["per_frame_camera"] if c["frame"] == frame)
    turn = -1 if whole["position"][1] > 0 else 1
    places = landmarks(court_named("indoor"))
    world = np.array([(turn * x, turn * y, z) for x, y, z in places.values()])
    lens = np.array([[camera["fx"], 0, camera["cx"]], [0, camera["fy"], camera["cy"]], [0, 0, 1]])
    pixels = cv2.projectPoints(
        world, np.array(camera["rvec"]), np.array(camera["tvec"]), lens, np.array(camera["dist"])
    )[0].reshape(-1, 2)
    width, height = truth["display_size"]
    return {
        name: (x, y)
        for name, (x, y) in zip(places, pixels.tolist(), strict=True)
        if MARGIN_PX < x < width - MARGIN_PX and MARGIN_PX < y < height - MARGIN_PX
    }


def rough_clicks(true: dict[str, tuple[float, float]], rng: np.random.Generator) -> dict[str, tuple[float, float]]:
    """Each pixel moved by up to 6 px."""
    moved = {}
    for name, (x, y) in true.items():
        away, angle = OFF_PX * np.sqrt(rng.random()), 2 * np.pi * rng.random()
        moved[name] = (float(x + away * np.cos(angle)), float(y + away * np.sin(angle)))
    return moved


def rough_view(clicks: dict[str, tuple[float, float]], truth: dict[str, Any]) -> View | None:
    """The view that the rough clicks make, None where they make none."""
    try:
        return fit_view(clicks, court_named("indoor"), tuple(truth["display_size"]), truth["net_height"]).view
    except UserError:
        return None


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser()
    options.add_argument("--clips", type=Path, default=CLIPS)
    options.add_argument("--every", type=int, default=30)
    options.add_argument("--only", default="", help="the name of one clip")
    options.add_argument("--without-view", action="store_true")
    options.add_argument("--landmarks", action="store_true", help="one line a landmark")
    asked = options.parse_args()
    rng = np.random.default_rng(4)
    print(f"{'clip':24}{'clicks':>8}{'snapped':>9}{'median':>8}{'p90':>7}{'wrong':>7}   [px]")
    every: list[tuple[str, float]] = []
    for path in sorted(asked.clips.glob("*.truth.json")):
        truth = json.loads(path.read_text())
        if asked.only not in (truth["clip"], ""):
            continue
        found: list[tuple[str, float]] = []
        with FrameReader(open_clip(asked.clips / truth["file"])) as reader:
            for frame in range(0, truth["n_frames"], asked.every):
                true = true_pixels(truth, frame)
                clicks = rough_clicks(true, rng)
                view = None if asked.without_view else rough_view(clicks, truth)
                picture = reader.frame(frame)
                for name, moved in snap_all(picture, clicks, view).items():
                    off = np.nan if moved is None else np.hypot(*np.subtract(moved.after_px, true[name]))
                    found.append((name, float(off)))
        show(truth["clip"], found)
        if asked.landmarks:
            for name in sorted({name for name, _ in found}):
                show(f"   {name}", [row for row in found if row[0] == name])
        every += found
    show("all", every)


def show(what: str, found: list[tuple[str, float]]) -> None:
    """One line of the table; a wrong snap lies more than 2.5 px from the landmark."""
    off = np.array([value for _, value in found])
    done = off[np.isfinite(off)]
    wrong = (done > WRONG_PX).sum() / max(len(done), 1)
    median, p90 = np.percentile(done, [50, 90]) if len(done) else (np.nan, np.nan)
    print(f"{what:24}{len(off):8d}{len(done) / len(off):9.1%}{median:8.2f}{p90:7.2f}{wrong:7.1%}")


if __name__ == "__main__":
    main()
