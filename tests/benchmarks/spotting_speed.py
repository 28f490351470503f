"""How long finding serves takes beside bare decoding of the same film in the same run, and how much memory.

Run from the project's folder with `python -m tests.benchmarks.spotting_speed FOLDER [--runs N]`. The folder keeps the
film: two minutes at 1920x1080, 30 and 60 frames a second, a key frame each second as telephones write it, a serve every
20 s (two hours that hold some 300 have one every 24 s), people walking and balls thrown back. It is rendered at
1280x720 and made larger. Both ways decode with as many threads as the decoder takes by itself.
"""

from __future__ import annotations

import argparse
import json
import resource
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import av
import numpy as np

from serve_marker.spotting.spot import spot
from serve_marker.video.clip import open_clip
from tests.benchmarks.spotting import Tally, bare_decoding, fitted_view, timed
from tests.benchmarks.spotting_films import THROWN_EVERY_S, PracticeStage, drawn_filming, told_truth
from tests.benchmarks.views import TrueClip, true_clips

SIZE, LARGER = (1920, 1080), 1.5
NUMBER, EVERY_S, RATES = 240, 20.0, (30, 60)
DURATION_S = 120.0


def larger(camera: dict[str, Any]) -> dict[str, Any]:
    """A camera whose pictures are made larger; pixel centres are whole numbers."""
    focal = {name: camera[name] * LARGER for name in ("fx", "fy")}
    return camera | focal | {name: (camera[name] + 0.5) * LARGER - 0.5 for name in ("cx", "cy")}


def rendered(folder: Path, rate: int) -> TrueClip:
    """The film and its truth, unless they are there."""
    name = f"rare-{rate}"
    path = folder / f"{name}.truth.json"
    if not path.exists():
        drawn, _, noise_share = drawn_filming(NUMBER)
        count = int((DURATION_S - drawn.first_contact_s) / EVERY_S)
        filming = replace(
            drawn, file=f"{name}.mp4", every_s=EVERY_S, attempts=drawn.attempts[:count], duration_s=DURATION_S
        )
        stage = PracticeStage(filming, NUMBER, THROWN_EVERY_S, noise_share)
        _write(stage, rate, folder / filming.file)
        truth = told_truth(stage, name)
        truth["display_size"], segment = list(SIZE), truth["segments"][0]
        segment["camera"] = larger(segment["camera"])
        path.write_text(json.dumps(truth), encoding="utf-8")
    return next(clip for clip in true_clips(folder) if clip.name == name)


def _write(stage: PracticeStage, rate: int, path: Path) -> None:
    with av.open(str(path), "w") as container:
        options = {"crf": "21", "preset": "veryfast", "g": str(rate)}
        stream = container.add_stream("libx264", rate=rate, options=options)
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        for k in range(int(DURATION_S * rate)):
            frame = av.VideoFrame.from_ndarray(stage.frame(k / rate), format="rgb24")
            container.mux(stream.encode(frame.reformat(*SIZE, "yuv420p", interpolation="BICUBIC")))
        container.mux(stream.encode())


def main() -> None:
    """Print the times, run after run, and what was found."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--rate", type=int, action="append", help="frames a second; 30 and 60 where none is given")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    for rate in asked.rate or RATES:
        clip = rendered(asked.folder, rate)
        film, view = open_clip(asked.folder / clip.truth["file"]), fitted_view(clip)
        shares = []
        for _ in range(asked.runs):
            _, bare_s, bare_wall_s = timed(partial(bare_decoding, film))
            proposals, took_s, wall_s = timed(partial(spot, film, view))
            shares.append((took_s / bare_s, wall_s / bare_wall_s, wall_s / film.duration_s))
        processor, wall, of_film = np.median(shares, axis=0)
        memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
        print(f"1080p at {rate}, {film.duration_s:.0f} s: {processor:.1f} times decoding in processor time", end=", ")
        print(f"{wall:.1f} times on the wall, {of_film:.2f} of the film's own time; {memory_mb:.0f} MB")
        tally = Tally()
        tally.add(clip, film, proposals)
        tally.show(f"of {asked.runs} runs, the middle one; what was found")


if __name__ == "__main__":
    main()
