"""Render the two sample clips and write what is true of them.

Run from the project's folder: ``python -m sample_clips.render [FOLDER]``.
"""

from __future__ import annotations

import sys
import time
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np

from sample_clips.action import Delivery, deliveries
from sample_clips.ball import EXPOSURES, ball_shadow, draw_ball
from sample_clips.flight import Array
from sample_clips.lens import Camera
from sample_clips.people import Look, Picture, Pose, draw_figure, figure_shadow
from sample_clips.play import (
    SHOULDER_OUT_M,
    bystanders,
    has_ball,
    passer_look,
    passer_pose,
    server_look,
    server_pose,
)
from sample_clips.room import empty_hall, net_layer
from sample_clips.scenario import FILMINGS, NET_HEIGHT_M, PLAYERS, Filming
from sample_clips.truth import write_truth

TICKS_PER_S = 90000
NOISE_SIGMA = 2.6
GAIN_UNIT = 230.0


def frame_ticks(filming: Filming) -> list[int]:
    """Presentation times in ticks of 1/90000 s: an even 30 fps, or 60 fps that jitters and loses runs of frames."""
    if not filming.variable:
        return [k * TICKS_PER_S // 30 for k in range(round(filming.duration_s * 30))]
    rng = np.random.default_rng(filming.seed)
    ticks, k, count = [], 0, round(filming.duration_s * 60)
    while k < count:
        jitter = float(np.clip(rng.normal(0.0, 0.0009), -0.0025, 0.0025)) if k else 0.0
        ticks.append(round((k / 60 + jitter) * TICKS_PER_S))
        k += 1 + (int(rng.integers(1, 4)) if rng.random() < 0.035 else 0)
    return ticks


class Stage:
    """Everything of a clip that stays the same from frame to frame, and the way one frame is painted."""

    def __init__(self, filming: Filming) -> None:
        self.filming = filming
        self.camera: Camera = filming.camera
        self.serves: list[Delivery] = deliveries(filming)
        self.hall = empty_hall(self.camera, filming.mats, filming.daylight)
        colour, opacity = net_layer(self.camera, NET_HEIGHT_M)
        rows, columns = np.nonzero(opacity[..., 0] > 0.004)
        self.net_box = (slice(rows.min(), rows.max() + 1), slice(columns.min(), columns.max() + 1))
        self.net_paint = (colour * opacity)[self.net_box]
        self.net_through = (1.0 - opacity)[self.net_box]
        width, height = self.camera.size
        x, y = np.meshgrid(np.linspace(-1, 1, width), np.linspace(-1, 1, height))
        tint = np.array([1.0, 0.99, 0.97]) if filming.daylight > 0.5 else np.array([0.97, 0.93, 0.86])
        gain = (1 - 0.10 * (x**2 + y**2) ** 1.2)[..., None] * tint * GAIN_UNIT
        self.gain = np.round(gain).astype(np.uint8)
        self.rng = np.random.default_rng(filming.seed + 1)
        noise = self.rng.normal(0, 1, (height + 80, width + 80, 3)).astype(np.float32)
        noise = np.asarray(cv2.GaussianBlur(noise, (0, 0), 0.55), dtype=np.float32)
        noise *= NOISE_SIGMA / noise.std()
        self.brighter = np.clip(np.round(noise), 0, 20).astype(np.uint8)
        self.darker = np.clip(np.round(-noise), 0, 20).astype(np.uint8)

    def figures(self, time_s: float) -> list[tuple[Look, Pose]]:
        """Everyone in the hall at a moment."""
        everyone = bystanders(self.filming, time_s)
        for player in PLAYERS:
            own = [serve for serve in self.serves if serve.player is player]
            everyone.append((server_look(player), server_pose(player, own, time_s)))
        for passer in self.filming.passers:
            everyone.append((passer_look(passer), passer_pose(passer, self.serves, time_s)))
        return everyone

    def balls(self, time_s: float) -> list[tuple[Array, Array]]:
        """Centres (EXPOSURES, 3) and turns (EXPOSURES,) of every ball to be seen while the shutter is open."""
        moments = time_s + self.filming.shutter_s * ((np.arange(EXPOSURES) + 0.5) / EXPOSURES - 0.5)
        seen = []
        for order, serve in enumerate(self.serves):
            if has_ball(serve, time_s - serve.contact_s):
                held = self.in_hand(serve, time_s)
                seen.append((np.repeat(held[None], EXPOSURES, axis=0), np.full(EXPOSURES, 0.7 * order)))
            elif serve.toss_s <= time_s < serve.path.times_s[-1]:
                spinning = -serve.spin_radps * np.clip(moments - serve.contact_s, 0, None)
                seen.append((serve.path.at(moments), 0.7 * order + spinning))
        return seen

    def in_hand(self, serve: Delivery, time_s: float) -> Array:
        """Centre (3,) of the ball that waits in the server's off hand."""
        pose = server_pose(serve.player, [serve], time_s)
        right_handed = serve.player.hand == "right"
        hand, side = (pose.left, 1.0) if right_handed else (pose.right, -1.0)
        s = serve.player.height_m / 1.75
        held = np.array(
            [
                pose.x_m + side * (SHOULDER_OUT_M + hand[1]) * s,
                pose.y_m - (hand[0] + 0.08) * s,
                (1.42 + hand[2]) * s - pose.crouch_m + 0.09,
            ]
        )
        near = float(np.clip(1 - (serve.toss_s - time_s) / 0.2, 0, 1))
        return np.asarray(held + near * (serve.path.places_m[0] - held))

    def frame(self, time_s: float) -> Picture:
        """One frame (height, width, 3) RGB, exposed around time_s."""
        picture = self.hall.copy()
        figures, balls = self.figures(time_s), self.balls(time_s)
        for look, pose in figures:
            figure_shadow(picture, self.camera, look, pose)
        for places, _ in balls:
            ball_shadow(picture, self.camera, places.mean(axis=0))
        near_side = np.sign(self.camera.position[1])
        things: list[tuple[bool, float, tuple[Look, Pose] | tuple[Array, Array]]] = []
        for look, pose in figures:
            depth = self.camera.depth_m(np.array([pose.x_m, pose.y_m, 1.0]))
            things.append((bool(pose.y_m * near_side > 0), -depth, (look, pose)))
        for places, turns in balls:
            middle = places.mean(axis=0)
            things.append((bool(middle[1] * near_side > 0), -self.camera.depth_m(middle), (places, turns)))
        things.sort(key=lambda thing: thing[:2])
        net_drawn = False
        for is_near, _, thing in things:
            if is_near and not net_drawn:
                self.draw_net(picture)
                net_drawn = True
            if isinstance(thing[0], Look) and isinstance(thing[1], Pose):
                draw_figure(picture, self.camera, thing[0], thing[1])
            elif isinstance(thing[0], np.ndarray) and isinstance(thing[1], np.ndarray):
                draw_ball(picture, self.camera, thing[0], thing[1])
        if not net_drawn:
            self.draw_net(picture)
        return self.developed(picture, time_s)

    def draw_net(self, picture: Picture) -> None:
        """Lay the net over what stands behind it."""
        patch = picture[self.net_box]
        patch[:] = (patch * self.net_through + self.net_paint + 0.5).astype(np.uint8)

    def developed(self, picture: Picture, time_s: float) -> Picture:
        """Light fall-off, flicker of the lamps and the sensor's noise."""
        flicker = 1 + 0.006 * np.sin(4.3 * time_s) + 0.004 * np.sin(11.9 * time_s + 1)
        lit = cv2.multiply(picture, self.gain, scale=float(flicker) / GAIN_UNIT)
        dy, dx = (int(value) for value in self.rng.integers(0, 80, 2))
        window = (slice(dy, dy + picture.shape[0]), slice(dx, dx + picture.shape[1]))
        noisy = cv2.subtract(cv2.add(lit, self.brighter[window]), self.darker[window])
        return np.asarray(noisy, dtype=np.uint8)


def render(filming: Filming, folder: Path) -> None:
    """Render one clip and write it with its truth and marks into a folder."""
    began = time.perf_counter()
    stage = Stage(filming)
    ticks = frame_ticks(filming)
    path = folder / filming.file
    distance = str(filming.keyframe_distance)
    options = {
        "crf": str(filming.crf),
        "preset": "veryfast",
        "g": distance,
        "keyint_min": distance,
        "sc_threshold": "0",
        "bf": "2",
        "tune": "film",
        "threads": "2",
    }
    with av.open(str(path), "w", options={"movflags": "+faststart"}) as container:
        stream = container.add_stream("libx264", rate=60 if filming.variable else 30, options=options)
        stream.width, stream.height = filming.camera.size
        stream.pix_fmt = "yuv420p"
        stream.codec_context.time_base = Fraction(1, TICKS_PER_S)
        for tick in ticks:
            frame = av.VideoFrame.from_ndarray(stage.frame(tick / TICKS_PER_S), format="rgb24")
            frame.pts, frame.time_base = tick, Fraction(1, TICKS_PER_S)
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    write_truth(filming, stage.serves, [tick / TICKS_PER_S for tick in ticks], folder)
    size_mb, took_s = path.stat().st_size / 1e6, time.perf_counter() - began
    print(f"{filming.file}: {len(ticks)} frames, {size_mb:.2f} MB, {took_s:.0f} s")


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    for one in FILMINGS:
        render(one, target)
