"""The ball near a place on one frame, for a hand that looks for it by keys."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from serve_marker.camera.picture.ball_spots import ball_response, difference, still_picture, strongest
from serve_marker.camera.view.view import View
from serve_marker.marking.ball_search import SURE_RESPONSE, still_frames
from serve_marker.video.frames import FrameReader

MOST_SPOTS = 6
LARGER = (1.0, 1.3)
"""A ball in the air is nearer to the camera, and so larger, than one on the floor behind it."""
SHADOW_SHARE, SHADOW_RADII = 0.6, 2.0
"""A ball stands this much out at least of what its shadow does, and at most this far aside above it."""
SMALLEST_RADIUS_PX = 1.0
AROUND = np.linspace(0.0, np.pi, 8, endpoint=False)


@dataclass(frozen=True)
class SeenBall:
    """Centre and radius of a ball on one frame [px]."""

    x_px: float
    y_px: float
    radius_px: float


def ball_near(
    pixel: tuple[float, float], reach_px: float, frame: int, view: View, reader: FrameReader, time_scale: float
) -> SeenBall | None:
    """Return what looks most like a ball near a pixel, and not like a ball's shadow; None where nothing does.

    Parameters
    ----------
    pixel : where to look, and ``reach_px`` how far from it across and down.
    reader : of the clip.
    time_scale : what the clip's time is multiplied by to be true.

    Raises
    ------
    UserError
        Where the film cannot be read there.
    """
    radius_px = _radius_px(pixel, view)
    if not SMALLEST_RADIUS_PX <= radius_px < min(view.image_size) / 4:
        return None
    edges = np.array(view.image_size)
    margin_px = reach_px + 3 * radius_px
    left, top = np.clip(np.floor(np.array(pixel) - margin_px), 0, edges - 1).astype(int)
    right, bottom = np.clip(np.ceil(np.array(pixel) + margin_px), 1, edges).astype(int)
    times_s = reader.clip.times_s * time_scale
    crop = np.s_[top:bottom, left:right]
    behind = still_picture(np.stack([reader.grey(int(i))[crop] for i in still_frames(times_s - times_s[frame])]))
    away = difference(reader.grey(frame)[crop], behind)
    seen: list[tuple[float, SeenBall]] = []
    for size_px in (larger * radius_px for larger in LARGER):
        places, responses = strongest(ball_response(away, size_px), MOST_SPOTS, radius_px)
        for (x_px, y_px), response in zip((places + np.array([left, top])).tolist(), responses.tolist(), strict=True):
            if max(abs(x_px - pixel[0]), abs(y_px - pixel[1])) <= reach_px and response >= SURE_RESPONSE:
                seen.append((response, SeenBall(x_px, y_px, size_px)))
    if not seen:
        return None
    most, clearest = max(seen, key=lambda one: one[0])
    upright = [
        ball
        for response, ball in seen
        if response >= SHADOW_SHARE * most and abs(ball.x_px - clearest.x_px) <= SHADOW_RADII * radius_px
    ]
    return min(upright, key=lambda ball: ball.y_px)


def _radius_px(pixel: tuple[float, float], view: View) -> float:
    """How large a ball on the floor at that pixel is seen."""
    middle_m = view.locate([pixel])[0]
    ways_m = view.court.ball.radius_m * np.column_stack([np.cos(AROUND), np.sin(AROUND)])
    half_px = (view.project(middle_m + ways_m) - view.project(middle_m - ways_m)) / 2
    return float(np.hypot(*half_px.T).max())
