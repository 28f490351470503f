"""Is a moved camera found, when, and how well do the re-aligned lines hold? On the shared clips and on films made here.

Run from the project's folder with `python -m tests.benchmarks.moved [--clips FOLDER] [--films FOLDER] [--only-films]`
(some minutes: each picture of the hand-held film is rendered from another place). The view is made of exact marks and
traces of the clip's first camera; landings after the bump are exact pixels of its later one, with no new click. Films
are made by the sample clips' renderer: one knocked, one let go of after it began, one hand-held.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np

from sample_clips.lens import Camera, looking
from sample_clips.render import Stage
from sample_clips.scenario import AUTUMN, NET_HEIGHT_M, WINTER, Filming
from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import read_marks
from serve_marker.court.dimensions import Floats, court_named, landmarks
from serve_marker.marking.view_check import ClipCheck, check_clip
from serve_marker.video.clip import open_clip
from tests.benchmarks.views import CLIPS, TrueClip, true_clips

CameraAt = Callable[[float], Camera]

COURT = court_named("indoor")
SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips"
RATE = 10
KNOCKED_S = 11.3
KNOCKED = looking((5.66, -14.26, 3.03), -22.6, 13.1, 820.0)
RELEASED_S = 0.8
HEARTBEATS = ((0.9, 0.35, 0.0), (0.6, 0.9, 1.0), (0.35, 1.7, 2.0))
"""Sway of a hand [deg], its frequency [Hz] and its phase."""


def knocked(time_s: float) -> Camera:
    """The stand's camera, knocked by 1.1 degrees and 9 cm."""
    return WINTER.camera if time_s < KNOCKED_S else KNOCKED


def released(time_s: float) -> Camera:
    """The gallery's camera, let go of 0.8 s after the film began."""
    sway_deg = 0.8 * max(0.0, 1 - time_s / RELEASED_S)
    return looking((0.8, -16.0, 4.5), -2.6 + sway_deg, 17.0 + 0.5 * sway_deg, 900.0)


def hand_held(time_s: float) -> Camera:
    """The gallery's camera in a hand."""
    yaw, pitch = (
        sum(size * np.sin(2 * np.pi * beat * time_s + phase + turn) for size, beat, phase in HEARTBEATS)
        for turn in (0.0, 1.3)
    )
    place = np.array([0.8, -16.0, 4.5]) + 0.03 * np.array([np.sin(2.1 * time_s), np.cos(1.7 * time_s), yaw])
    return looking((float(place[0]), float(place[1]), float(place[2])), -2.6 + yaw, 17.0 + 0.7 * pitch, 900.0)


def film(path: Path, filming: Filming, camera_at: CameraAt, seconds: float, rate: int = RATE) -> Path:
    """Render a film whose camera moves as told."""
    stages: dict[tuple[float, ...], Stage] = {}
    with av.open(str(path), "w") as out:
        stream: Any = out.add_stream("libx264", rate=rate, options={"crf": "22", "preset": "veryfast"})
        stream.width, stream.height, stream.pix_fmt = 1280, 720, "yuv420p"
        stream.codec_context.time_base = Fraction(1, rate)
        for k in range(round(seconds * rate)):
            camera = camera_at(k / rate)
            key = (*camera.position.tolist(), *camera.rotation.ravel().tolist())
            if key not in stages:
                stages = {key: Stage(replace(filming, camera=camera))}
            frame = av.VideoFrame.from_ndarray(stages[key].frame(k / rate), format="rgb24")
            frame.pts, frame.time_base = k, Fraction(1, rate)
            out.mux(stream.encode(frame))
        out.mux(stream.encode())
    return path


def view_of(camera: Camera) -> View:
    """The view of exact marks on a rendered film's camera."""
    places = landmarks(COURT)
    pixels = camera.project(np.array(list(places.values())))
    shown = [camera.inside(pixel) for pixel in pixels]
    marks = {name: (float(x), float(y)) for name, (x, y), ok in zip(places, pixels, shown, strict=True) if ok}
    return fit_view(marks, COURT, camera.size, NET_HEIGHT_M).view


def show(name: str, check: ClipCheck, truth: str, landings: tuple[Floats, Floats] | None = None) -> None:
    """One line of the table, and what the coach is told; landings are floor points [m] and pixels after the bump."""
    print(f"{name:24}{len(check.segments):3d} stretches", end="")
    if len(check.segments) > 1:
        last = check.segments[-1]
        print(f", moved at {last.from_s:.2f} s, turned {last.turned_deg:.2f} deg", end="")
        if landings and last.view:
            off_m = np.hypot(*(last.view.locate(landings[1])[0] - landings[0]).T)
            print(f", {len(off_m)} landings after it {100 * np.median(off_m):.1f} cm off", end="")
            print(f" (worst {100 * off_m.max():.1f})", end="")
    print(f"   [{truth}]", flush=True)
    for sentence in check.warnings:
        print(f"    {sentence}")


def shared(clip: TrueClip, folder: Path) -> None:
    """A shared clip, with the landings after its bump where it has one."""
    view = clip.fitted(clip.marks, clip.traces).view
    check = check_clip(view, open_clip(folder / clip.truth["file"]))
    segments = clip.truth["segments"]
    if len(segments) == 1:
        show(clip.name, check, "stands still")
        return
    moved_s = clip.truth["frame_times"][segments[1]["frames"][0]]
    later = replace(clip, truth=clip.truth | {"segments": segments[-1:]})
    seen = [s for s in clip.truth["serves"] if s["outcome"] == "floor" and s["landing_time"] > moved_s]
    floor = np.array([s["landing_xy"] for s in seen]) * clip.turn
    show(clip.name, check, f"knocked at {moved_s:.2f} s", (floor, later.project(floor)))


def grid_seen_by(camera: Camera) -> tuple[Floats, Floats]:
    """Floor points (N, 2) of the receiving half and their pixels."""
    floor = np.array([(x, y) for x in np.linspace(-4.4, 4.4, 6) for y in np.linspace(-8.9, -0.5, 6)])
    pixels = camera.project(np.column_stack([floor, np.zeros(len(floor))]))
    shown = np.array([camera.inside(pixel) for pixel in pixels])
    return floor[shown], pixels[shown]


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser()
    options.add_argument("--clips", type=Path, default=CLIPS)
    options.add_argument("--films", type=Path, help="where to keep the films made here")
    options.add_argument("--only-films", action="store_true", help="leave out the shared clips")
    asked = options.parse_args()
    for clip in true_clips(asked.clips) if not asked.only_films else []:
        shared(clip, asked.clips)
    for name in ("autumn-gallery", "winter-stand"):
        sheet = read_marks(SAMPLES / f"{name}.marks.json")
        view = fit_view(sheet.marks, sheet.court, sheet.image_size, sheet.net_height_m, traces=sheet.traces).view
        show(name, check_clip(view, open_clip(SAMPLES / f"{name}.mp4")), "stands still")
    with tempfile.TemporaryDirectory() as temporary:
        folder = asked.films or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        path = film(folder / "knocked.mp4", WINTER, knocked, 24.0)
        check = check_clip(view_of(WINTER.camera), open_clip(path))
        show("knocked, made here", check, f"knocked at {KNOCKED_S} s", grid_seen_by(KNOCKED))
        path = film(folder / "let-go-of.mp4", AUTUMN, released, 14.0)
        check = check_clip(view_of(AUTUMN.camera), open_clip(path))
        show("let go of, made here", check, f"still from {RELEASED_S} s on")
        path = film(folder / "hand-held.mp4", AUTUMN, hand_held, 12.0, rate=4)
        check = check_clip(view_of(hand_held(0.0)), open_clip(path))
        show("hand-held, made here", check, "never still")


if __name__ == "__main__":
    main()
