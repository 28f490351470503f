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
from pathlib import Path

import numpy as np

from sample_clips.scenario import AUTUMN
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.marking.view_check import ClipSegment
from serve_marker.spotting.found_so_far import FoundSoFar
from serve_marker.spotting.frames_around import FramesAround
from serve_marker.spotting.proposals import Proposal, with_serving_end
from serve_marker.spotting.spot import spot, spotted_in
from serve_marker.video.clip import open_clip
from serve_marker.video.progress import ProgressReporter
from tests.benchmarks.spotting_films import PracticeStage, drawn_ticks, render_stage
from tests.benchmarks.views import CLIPS
from tests.spotting.films import gallery_view

RATE = 30
EVERY_S = 1.1
REAL = CLIPS.parent / "real" / "people-still-camera.avi"


def rendered(path: Path, minutes: float) -> Path:
    """Render the film without a serve."""
    idle = replace(AUTUMN, attempts=(), duration_s=60 * minutes, seed=7)
    render_stage(PracticeStage(idle, idle.seed, EVERY_S), drawn_ticks(idle, RATE), RATE, path)
    return path


def spotted_through(path: Path, view: View) -> list[Proposal]:
    """What is proposed on a film that the view has nothing to do with."""
    clip = open_clip(path)
    sized = replace(view, image_size=(clip.width, clip.height))
    segment = ClipSegment(0.0, clip.duration_s, 0.0, 0.0, sized, np.zeros((1, 1), np.uint8))
    with FramesAround(clip) as reader:
        after_blocks = list(spotted_in(clip, segment, reader, ProgressReporter(None, None), FoundSoFar()))
    return with_serving_end(after_blocks[-1].proposals)


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
