"""Serves found by themselves on film with its truth: how many, how exactly, how surely, and how long it takes.

Run from the project's folder with
`python -m tests.benchmarks.spotting [--clips FOLDER] [--only CLIP] [--backwards] [--ablate]`.
Views are fitted to marks of all landmarks in the picture with 0.7 px of noise. Time is that of the processor and that
on the wall, beside bare decoding of the same clip in the same run. Backwards every proposal is a false one. Ablated,
each clip is gone through once more without each of the stages that could be left out.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any, TypeVar
from unittest.mock import patch

import av
import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.spotting import ends, free_flights, serve_fit, serves
from serve_marker.spotting.proposals import Proposal
from serve_marker.spotting.spot import spot
from serve_marker.video.clip import Clip, open_clip
from serve_marker.video.frames import FrameReader
from serve_marker.video.seeking_decoder import Decoder
from tests.benchmarks.views import CHI2_95, CLIPS, TrueClip, true_clips

NOISE_PX = 0.7
SAME_S = 0.4
CONFIDENT = 0.9
OUTCOMES = ("floor", "received", "net")
Result = TypeVar("Result")


@dataclass
class Tally:
    """What proposals of some clips come to."""

    found: dict[str, int] = field(default_factory=lambda: dict.fromkeys(OUTCOMES, 0))
    missed: dict[str, int] = field(default_factory=lambda: dict.fromkeys(OUTCOMES, 0))
    told_rightly: int = 0
    sure_floor: int = 0
    false: list[float] = field(default_factory=list)
    right: list[tuple[float, bool]] = field(default_factory=list)
    landing_m: list[float] = field(default_factory=list)
    landing_frames: list[float] = field(default_factory=list)
    contact_frames: list[float] = field(default_factory=list)
    seen_contact_frames: list[float] = field(default_factory=list)
    held: list[bool] = field(default_factory=list)
    pace_share: list[float] = field(default_factory=list)
    clearance_m: list[float] = field(default_factory=list)

    def add(self, clip: TrueClip, film: Clip, proposals: Sequence[Proposal]) -> None:
        """Hold the proposals of one clip against its truth."""
        left = list(proposals)
        for serve in clip.truth["serves"]:
            near = [one for one in left if abs(one.contact_s - serve["contact_time"]) < SAME_S]
            if not near:
                self.missed[serve["outcome"]] += 1
                continue
            one = max(near, key=lambda proposal: proposal.confidence)
            left.remove(one)
            self.found[serve["outcome"]] += 1
            self.sure_floor += serve["outcome"] == "floor" and one.confidence >= CONFIDENT
            self.told_rightly += one.outcome == serve["outcome"]
            self.right.append((one.confidence, one.outcome == serve["outcome"]))
            self._measure(one, serve, clip, film.shown_fps)
        self.false += [one.confidence for one in left]
        self.right += [(one.confidence, False) for one in left]

    def _measure(self, one: Proposal, serve: dict[str, Any], clip: TrueClip, fps: float) -> None:
        contact_off = abs(one.contact_s - serve["contact_time"]) * fps
        self.contact_frames.append(contact_off)
        if not any("toss" in doubt.why for doubt in one.doubts):
            self.seen_contact_frames.append(contact_off)
        if serve["outcome"] != "floor" or one.outcome != "floor":
            return
        off_m = one.xy_m - clip.turn * np.array(serve["landing_xy"])
        self.landing_m.append(float(np.hypot(*off_m)))
        self.held.append(bool(off_m @ np.linalg.solve(one.cov_m2, off_m) < CHI2_95))
        self.landing_frames.append(abs(one.landing_s - serve["landing_time"]) * fps)
        self.pace_share.append(abs(one.pace_mps / serve["avg_horizontal_speed_contact_to_landing"] - 1))
        self.clearance_m.append(abs(one.net_clearance_m - serve["net_clearance_center_m"]))

    def show(self, words: str) -> None:
        """Print one block."""
        counts = ", ".join(f"{kind} {self.found[kind]} of {self.found[kind] + self.missed[kind]}" for kind in OUTCOMES)
        sure = [right for confidence, right in self.right if confidence >= CONFIDENT]
        print(f"{words}\n  found: {counts}; outcome told rightly {self.told_rightly} of {sum(self.found.values())}")
        print(f"  false: {len(self.false)}, as sure as {max(self.false, default=0.0):.2f}", end="; ")
        print(f"confident {len(sure)}, of them right {sum(sure)}; of floor serves {self.sure_floor}")
        for name, values, scale in (
            ("landing [m]", self.landing_m, 1.0),
            ("landing [frames]", self.landing_frames, 1.0),
            ("contact [frames]", self.contact_frames, 1.0),
            ("contact, toss seen [frames]", self.seen_contact_frames, 1.0),
            ("pace [%]", self.pace_share, 100.0),
            ("clearance [m]", self.clearance_m, 1.0),
        ):
            if values:
                p50, p90 = scale * np.quantile(values, [0.5, 0.9])
                print(f"  {name:28} median {p50:6.3f}  p90 {p90:6.3f}  n {len(values)}")
        if self.held:
            print(f"  95 % regions hold {100 * np.mean(self.held):.0f} % of {len(self.held)}", flush=True)


def fitted_view(clip: TrueClip, seed: int = 1) -> View:
    """The view of noisy marks of a clip's first camera."""
    marks, _ = clip.noisy(np.random.default_rng(seed), False, NOISE_PX)
    return clip.fitted(marks, {}).view


def bare_decoding(film: Clip) -> None:
    """Decode every frame once."""
    decoder = Decoder(film)
    for index in range(film.frame_count):
        for _ in decoder.run_to(index):
            pass
    decoder.close()


def timed(work: Callable[[], Result]) -> tuple[Result, float, float]:
    """What work returns, and its time [s] of the processor and on the wall."""
    start_s, start_wall_s = time.process_time(), time.perf_counter()
    done = work()
    return done, time.process_time() - start_s, time.perf_counter() - start_wall_s


def show_times(film: Clip, took_s: float, took_wall_s: float) -> None:
    """Print how long a clip took beside bare decoding, and the most memory held so far."""
    _, bare_s, bare_wall_s = timed(lambda: bare_decoding(film))
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    print(f"  {took_s:.1f} s of the processor, {took_s / bare_s:.1f} times bare decoding ({bare_s:.1f} s)", end="; ")
    print(f"{took_wall_s:.1f} s on the wall, {took_wall_s / bare_wall_s:.1f} times; {memory_mb:.0f} MB", flush=True)


ABLATIONS: dict[str, tuple[Any, str, Any]] = {
    "without the test before the fits": (
        free_flights,
        "may_be_served",
        lambda states, covs, first_seen_s, view: np.ones(len(states), dtype=bool),
    ),
    "with all ends fitted": (serves, "_near_ends", lambda fit, view: list(serve_fit.OUTCOMES)),
    "with one moment tried for the touch": (ends, "TRIED_S", ()),
    "without a closer look at the landing": (ends, "_landing_near", lambda *told: None),
    "without a closer look at the contact": (ends, "_contact_seen", lambda *told: None),
    "without what the ball did next": (serves, "_after_squares", lambda *told: np.inf),
}


def show_ablated(clip: TrueClip, film: Clip, view: View) -> None:
    """Print what each stage that could be left out brings, and takes."""
    for words, (module, name, instead) in ABLATIONS.items():
        with patch.object(module, name, instead):
            proposals, took_s, _ = timed(lambda: spot(film, view))
        tally = Tally()
        tally.add(clip, film, proposals)
        tally.show(f"{clip.name}, {words}: {took_s:.1f} s of the processor")


def played_backwards(film: Clip, path: Path) -> Clip:
    """The film from its last frame to its first, written to a path."""
    with av.open(str(path), "w") as container, FrameReader(film) as reader:
        stream = container.add_stream("libx264", rate=Fraction(film.shown_fps).limit_denominator(1000))
        stream.width, stream.height, stream.pix_fmt = film.width, film.height, "yuv420p"
        stream.options = {"crf": "18", "preset": "ultrafast"}
        for first in range(film.frame_count - 1, -1, -CHUNK):
            some = [reader.frame(index) for index in range(max(first - CHUNK + 1, 0), first + 1)]
            for picture in some[::-1]:
                container.mux(stream.encode(av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24")))
        container.mux(stream.encode())
    return open_clip(path)


CHUNK = 60


def main() -> None:
    """Print the tables, a clip at a time, then all together."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--clips", type=Path, default=CLIPS)
    parser.add_argument("--only", default="", help="the name of one clip")
    parser.add_argument("--backwards", action="store_true")
    parser.add_argument("--ablate", action="store_true")
    asked = parser.parse_args()
    together = Tally()
    for clip in true_clips(asked.clips):
        if asked.only not in (clip.name, ""):
            continue
        film, view = open_clip(asked.clips / clip.truth["file"]), fitted_view(clip)
        if asked.backwards:
            with tempfile.TemporaryDirectory() as folder:
                proposals = spot(played_backwards(film, Path(folder) / f"{clip.name}.mp4"), view)
            print(f"{clip.name} backwards, {film.duration_s:.0f} s: {len(proposals)} false, as sure as", end=" ")
            print(sorted((one.confidence for one in proposals), reverse=True), flush=True)
            continue
        proposals, *took = timed(partial(spot, film, view))
        alone = Tally()
        for tally in (alone, together):
            tally.add(clip, film, proposals)
        alone.show(f"{clip.name}, {film.duration_s:.0f} s")
        show_times(film, *took)
        if asked.ablate:
            show_ablated(clip, film, view)
    if not asked.backwards and not asked.only:
        together.show("all clips")


if __name__ == "__main__":
    main()
