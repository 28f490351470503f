"""Film without a serve: how often is one proposed all the same?

Run from the project's folder with `python -m tests.benchmarks.spotting_negatives [--minutes N] [--real FILE]`. Film
is made by the sample clips' renderer in the folder for temporary files (rendering takes a few times as long as the film
lasts): people walk, balls are thrown over the net from both ends, lobbed, rolled and dropped, two in the air at once.
The film of people from a still camera is looked at through the gallery's view, with which it has nothing to do.
"""

from __future__ import annotations

import argparse
import tempfile
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

from sample_clips.ball import EXPOSURES
from sample_clips.flight import Array, fly, rebound
from sample_clips.flight import Path as BallPath
from sample_clips.people import Look, Pose
from sample_clips.render import Stage
from sample_clips.scenario import AUTUMN, Filming
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.marking.view_check import ClipSegment
from serve_marker.spotting.proposals import Proposal, with_serving_end
from serve_marker.spotting.spot import spot, spotted_in
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader
from serve_marker.video.progress import ProgressReporter
from tests.benchmarks.views import CLIPS
from tests.spotting.films import gallery_view

RATE = 30
DRAG = 0.0772 * 0.35
EVERY_S = 1.1
WALKERS = 5
REAL = CLIPS.parent / "real" / "people-still-camera.avi"


class IdleStage(Stage):
    """The gallery's hall with people walking about and balls that nobody serves."""

    def __init__(self, filming: Filming, minutes: float) -> None:
        super().__init__(replace(filming, attempts=()))
        rng = np.random.default_rng(7)
        count = int(60 * minutes / EVERY_S)
        self._throws = [_thrown(rng, EVERY_S * k + rng.uniform(0, EVERY_S)) for k in range(count)]
        self._walks = rng.uniform((-7, -8, 0.2, 0.2, 0, 0), (7, 12, 0.9, 0.9, 6.3, 6.3), (WALKERS, 6))

    def figures(self, time_s: float) -> list[tuple[Look, Pose]]:
        shirts = [Look(1.7 + 0.03 * k, (214, 168, 136), (58, 40, 30), number=4 + k) for k in range(WALKERS)]
        poses = []
        for x_m, y_m, slow, fast, early, late in self._walks:
            x = x_m + 2.5 * np.sin(slow * time_s + early)
            y = y_m + 2.5 * np.sin(fast * time_s + late)
            swing = 0.35 * np.sin(6 * time_s + early)
            arm = (0.25 + float(swing), 0.1, -0.3 + 0.7 * max(0.0, float(np.sin(0.7 * time_s + late))))
            poses.append(Pose(float(x), float(y), -1.0, arm, (0.1, 0.1, -0.5), stride=float(swing)))
        return list(zip(shirts, poses, strict=True))

    def balls(self, time_s: float) -> list[tuple[Array, Array]]:
        moments = time_s + self.filming.shutter_s * ((np.arange(EXPOSURES) + 0.5) / EXPOSURES - 0.5)
        return [
            (path.at(moments), np.full(EXPOSURES, 0.5))
            for path in self._throws
            if path.times_s[0] <= time_s < path.times_s[-1]
        ]


def _thrown(rng: np.random.Generator, start_s: float) -> BallPath:
    """A ball thrown over the net from anywhere but behind an end line, or along the floor, or dropped."""
    towards = rng.choice([-1.0, 1.0])
    kind = rng.choice(["throw", "lob", "roll", "drop"], p=[0.45, 0.25, 0.2, 0.1])
    start_m = np.array([rng.uniform(-4.5, 4.5), -towards * rng.uniform(0.5, 8.0), rng.uniform(1.2, 2.1)])
    aside = rng.uniform(-1.5, 1.5)
    if kind == "throw":
        velocity = np.array([aside, towards * rng.uniform(6, 11), rng.uniform(3, 6)])
    elif kind == "lob":
        velocity = np.array([aside, towards * rng.uniform(3, 6), rng.uniform(6, 8.5)])
    elif kind == "roll":
        start_m[2], velocity = 0.105, np.array([aside, towards * rng.uniform(2, 6), 0.0])
    else:
        velocity = np.zeros(3)
    places, speeds = fly(start_m, velocity[None], 3.0, DRAG, 0.0, 720)
    down = int(np.argmax(places[:, 0, 2] <= 0.105)) if (places[:, 0, 2] <= 0.105).any() else len(places) - 1
    flight = BallPath(np.arange(down + 1) / 240, places[: down + 1, 0])
    after = rebound(places[down, 0], speeds[down, 0] * (0.74, 0.74, -0.7), 3.0)
    path = flight.then(BallPath(after.times_s + flight.times_s[-1], after.places_m))
    return BallPath(path.times_s + start_s, path.places_m)


def rendered(path: Path, minutes: float) -> Path:
    """Render the film without a serve."""
    stage = IdleStage(AUTUMN, minutes)
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=RATE, options={"crf": "21", "preset": "veryfast"})
        stream.width, stream.height = AUTUMN.camera.size
        stream.pix_fmt, stream.codec_context.time_base = "yuv420p", Fraction(1, RATE)
        for k in range(int(60 * minutes * RATE)):
            container.mux(stream.encode(av.VideoFrame.from_ndarray(stage.frame(k / RATE), format="rgb24")))
        container.mux(stream.encode())
    return path


def spotted_through(path: Path, view: View) -> list[Proposal]:
    """What is proposed on a film that the view has nothing to do with."""
    clip = open_clip(path)
    sized = replace(view, image_size=(clip.width, clip.height))
    segment = ClipSegment(0.0, clip.duration_s, 0.0, 0.0, sized, np.zeros((1, 1), np.uint8))
    with FrameReader(clip) as reader:
        return with_serving_end(spotted_in(clip, segment, reader, ProgressReporter(None, None)))


def show(words: str, proposals: list[Proposal], duration_s: float) -> None:
    sure: Floats = np.sort([one.confidence for one in proposals])[::-1]
    confident = int((sure >= 0.9).sum())
    print(f"{words}, {duration_s:.0f} s: {len(sure)} proposed, {confident} confident; {sure.tolist()}", flush=True)


def main() -> None:
    """Print how many serves are proposed where there are none."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--real", type=Path, default=REAL)
    asked = parser.parse_args()
    if asked.real.exists():
        show("people, a still camera", spotted_through(asked.real, gallery_view()), open_clip(asked.real).duration_s)
    with tempfile.TemporaryDirectory() as folder:
        clip = open_clip(rendered(Path(folder) / "idle.mp4", asked.minutes))
        show("throws, lobs, rolls, people", spot(clip, gallery_view()), clip.duration_s)


if __name__ == "__main__":
    main()
