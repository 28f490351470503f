"""Film of practices that are drawn at random, for finding serves: rendered with its truth, a number telling all of it.

Run from the project's folder with `python -m tests.benchmarks.spotting_films FOLDER FIRST LAST`. The hall and
the people are those of the sample clips; camera, clock, noise, light, serves, walkers and balls thrown back are drawn
from the number. A film of 12 serves lasts half a minute, and rendering it a few times as long. Truth is written as
beside the clips rendered by others (`tests.benchmarks.views`). Films are not kept in the repository.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np

from sample_clips.action import Delivery, deliver
from sample_clips.ball import EXPOSURES
from sample_clips.flight import Array, fly, height_at_net, rebound
from sample_clips.flight import Path as BallPath
from sample_clips.lens import Camera, looking
from sample_clips.people import Look, Pose
from sample_clips.render import Stage
from sample_clips.scenario import AUTUMN, NET_HEIGHT_M, PLAYERS, WINTER, Attempt, Filming

SERVES = 12
TICKS_PER_S = 90000
OUTCOMES, SHARES = ("floor", "received", "net"), (0.68, 0.16, 0.16)
TYPES = ("float", "jump float", "jump topspin")
DRAG = 0.0772 * 0.35
THROWN_EVERY_S = 3.5
GAPS_S = (2.1, 2.6)
RATES = ((30, False), (30, False), (30, False), (60, False), (30, False), (60, True))
"""Frames a second, and whether the clock varies."""
PLACES = {
    "gallery": ((-4.0, -17.0, 3.4), (4.0, -13.5, 5.5), (780.0, 950.0)),
    "stand": ((4.5, -15.5, 2.4), (7.5, -12.5, 4.0), (760.0, 900.0)),
    "tripod": ((-3.5, -16.5, 1.5), (3.5, -13.0, 2.2), (800.0, 980.0)),
    "behind the servers": ((-4.0, 13.5, 2.6), (4.0, 16.0, 5.2), (780.0, 950.0)),
}
"""Where the camera may stand, from and to [m], and its focal length [px]."""


class PracticeStage(Stage):
    """A hall in which people walk about beside the serves, and balls are thrown back."""

    def __init__(self, filming: Filming, number: int, thrown_every_s: float, noise_share: float = 1.0) -> None:
        super().__init__(filming)
        rng = np.random.default_rng([number, 1])
        count = int(filming.duration_s / thrown_every_s)
        self._throws = [_thrown(rng, thrown_every_s * (k + rng.uniform())) for k in range(count)]
        self._walks = rng.uniform((5.5, -8, 0.2, 0.2, 0, 0), (8.5, 12, 0.9, 0.9, 6.3, 6.3), (rng.integers(1, 5), 6))
        self._walks[:, 0] *= rng.choice([-1, 1], len(self._walks))
        self.brighter = np.round(self.brighter * noise_share).astype(np.uint8)
        self.darker = np.round(self.darker * noise_share).astype(np.uint8)

    def figures(self, time_s: float) -> list[tuple[Look, Pose]]:
        everyone = super().figures(time_s) if self.serves else []
        for k, (x_m, y_m, slow, fast, early, late) in enumerate(self._walks):
            shirt = Look(1.68 + 0.03 * k, (214, 168, 136), (58, 40, 30), number=20 + k)
            x = x_m + 2.0 * np.sin(slow * time_s + early)
            y = y_m + 2.5 * np.sin(fast * time_s + late)
            swing = 0.35 * np.sin(6 * time_s + early)
            arm = (0.25 + float(swing), 0.1, -0.3 + 0.7 * max(0.0, float(np.sin(0.7 * time_s + late))))
            everyone.append((shirt, Pose(float(x), float(y), -1.0, arm, (0.1, 0.1, -0.5), stride=float(swing))))
        return everyone

    def balls(self, time_s: float) -> list[tuple[Array, Array]]:
        moments = time_s + self.filming.shutter_s * ((np.arange(EXPOSURES) + 0.5) / EXPOSURES - 0.5)
        thrown = [
            (path.at(moments), np.full(EXPOSURES, 0.5))
            for path in self._throws
            if path.times_s[0] <= time_s < path.times_s[-1]
        ]
        return [*super().balls(time_s), *thrown]


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


def drawn_filming(number: int) -> tuple[Filming, int, float]:
    """A practice drawn from its number, its frames a second, and how noisy it is beside the sample clips."""
    rng = np.random.default_rng([number, 0])
    rate, variable = RATES[number % len(RATES)]
    filming = replace(
        AUTUMN,
        file=f"practice-{number}.mp4",
        camera=drawn_camera(rng),
        seed=number,
        first_contact_s=float(rng.uniform(1.4, 2.0)),
        every_s=float(rng.uniform(*GAPS_S)),
        shutter_s=1 / float(rng.uniform(80, 250)),
        variable=variable,
        crf=int(rng.integers(20, 26)),
        daylight=float(rng.uniform(0.1, 1.0)),
        mats=AUTUMN.mats if rng.random() < 0.3 else (),
        passers=WINTER.passers,
        attempts=(),
    )
    filming = replace(filming, attempts=tuple(_drawn_attempt(rng, filming, order) for order in range(SERVES)))
    duration_s = filming.first_contact_s + SERVES * filming.every_s + 1.0
    return replace(filming, duration_s=duration_s), rate, float(rng.uniform(0.7, 1.7))


def drawn_camera(rng: np.random.Generator) -> Camera:
    """A camera that sees both end lines."""
    low, high, focal_px = PLACES[str(rng.choice(list(PLACES)))]
    x, y, z = rng.uniform(low, high).tolist()
    x *= float(rng.choice([-1.0, 1.0]))
    yaw_deg = float(np.degrees(np.arctan2(-x, -y))) + float(rng.uniform(-2, 2))
    pitch_deg = float(np.degrees(np.arctan2(z - 1.3, abs(y)))) + float(rng.uniform(-1, 2))
    return looking((x, y, z), yaw_deg, pitch_deg, float(rng.uniform(*focal_px)))


def _drawn_attempt(rng: np.random.Generator, filming: Filming, order: int) -> Attempt:
    """A serve that can be flown."""
    while True:
        player, outcome = PLAYERS[order % len(PLAYERS)], str(rng.choice(OUTCOMES, p=SHARES))
        passer = filming.passers[rng.integers(len(filming.passers))]
        half_xy = float(rng.uniform(0.2, 8.8)), float(rng.uniform(3.5, 9.4))
        clearance_m = float(rng.uniform(0.25, 1.1))
        if outcome == "received":
            half_xy = 4.5 - passer.x_m + float(rng.normal(0, 0.4)), -passer.y_m + float(rng.normal(0, 0.4))
        if outcome == "net":
            half_xy, clearance_m = (float(rng.uniform(1.0, 8.0)), 0.0), float(rng.uniform(-0.6, -0.12))
        name = passer.name if outcome == "received" else ""
        attempt = Attempt(player.number, str(rng.choice(TYPES)), "", outcome, half_xy, clearance_m, passer=name)
        try:
            deliver(filming, order, attempt)
        except ValueError:
            continue
        return attempt


def drawn_ticks(filming: Filming, rate: int) -> list[int]:
    """Presentation times in ticks; a clock that varies jitters and loses runs of frames."""
    rng, ticks, k = np.random.default_rng(filming.seed), [], 0
    while k < filming.duration_s * rate:
        jitter = float(np.clip(rng.normal(0.0, 0.0009), -0.0025, 0.0025)) if filming.variable and k else 0.0
        ticks.append(round((k / rate + jitter) * TICKS_PER_S))
        k += 1 + (int(rng.integers(1, 4)) if filming.variable and rng.random() < 0.035 else 0)
    return ticks


def render_stage(stage: Stage, ticks: list[int], rate: int, path: Path) -> None:
    """Render frames at such times and write them."""
    with av.open(str(path), "w") as container:
        options = {"crf": str(stage.filming.crf), "preset": "veryfast", "g": "90"}
        stream = container.add_stream("libx264", rate=rate, options=options)
        stream.width, stream.height = stage.camera.size
        stream.pix_fmt, stream.codec_context.time_base = "yuv420p", Fraction(1, TICKS_PER_S)
        for tick in ticks:
            frame = av.VideoFrame.from_ndarray(stage.frame(tick / TICKS_PER_S), format="rgb24")
            frame.pts, frame.time_base = tick, Fraction(1, TICKS_PER_S)
            container.mux(stream.encode(frame))
        container.mux(stream.encode())


def told_truth(stage: Stage, name: str) -> dict[str, Any]:
    """What is true of a film, as the clips rendered by others tell it."""
    camera = stage.camera
    rotation, _ = cv2.Rodrigues(camera.rotation)
    told = {
        "fx": camera.matrix[0, 0],
        "fy": camera.matrix[1, 1],
        "cx": camera.matrix[0, 2],
        "cy": camera.matrix[1, 2],
        "dist": [0.0] * 5,
        "rvec": rotation.ravel().tolist(),
        "tvec": camera.translation.tolist(),
        "position": camera.position.tolist(),
    }
    return {
        "clip": name,
        "file": stage.filming.file,
        "display_size": list(camera.size),
        "net_height": NET_HEIGHT_M,
        "segments": [{"camera": told}],
        "serves": [_told_serve(serve) for serve in stage.serves],
    }


def _told_serve(serve: Delivery) -> dict[str, Any]:
    told: dict[str, Any] = {"contact_time": serve.contact_s, "outcome": serve.attempt.outcome, "end_time": serve.end_s}
    if serve.landing_s is None or serve.landing_m is None:
        return told
    way_m = float(np.hypot(*(serve.landing_m - serve.contact_m)[:2]))
    flown = (serve.path.times_s >= serve.contact_s) & (serve.path.times_s <= serve.landing_s)
    return told | {
        "landing_time": serve.landing_s,
        "landing_xy": serve.landing_m[:2].tolist(),
        "avg_horizontal_speed_contact_to_landing": way_m / (serve.landing_s - serve.contact_s),
        "net_clearance_center_m": height_at_net(serve.path.places_m[flown]) - NET_HEIGHT_M,
    }


def render_practice(number: int, folder: Path) -> Path:
    """Render the practice of a number into a folder with its truth, unless it is there; return the truth's path."""
    filming, rate, noise_share = drawn_filming(number)
    path = folder / f"practice-{number}.truth.json"
    if not path.exists():
        stage = PracticeStage(filming, number, THROWN_EVERY_S, noise_share)
        render_stage(stage, drawn_ticks(filming, rate), rate, folder / filming.file)
        path.write_text(json.dumps(told_truth(stage, path.name.split(".")[0])), encoding="utf-8")
    return path


def main() -> None:
    """Render the practices of some numbers."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folder", type=Path)
    parser.add_argument("first", type=int)
    parser.add_argument("last", type=int)
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    for number in range(asked.first, asked.last + 1):
        print(render_practice(number, asked.folder), flush=True)


if __name__ == "__main__":
    main()
