"""What may be a ball on each frame: small parts brighter, or darker, than the frame before and the frame after both.

A ball in flight is at a place on one frame only, so that both differences have the same sign there; where it was and
where it will be they have not, and no ghosts are left (three-frame difference). Frames are taken about thirty times a
second, however fast the film runs: nearer to each other a slow ball covers itself. They are made smaller where the
smallest ball that the view expects stays large enough.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Generator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Court, Floats
from serve_marker.video.clip import Clip
from serve_marker.video.picture import brightness, divided
from serve_marker.video.seeking_decoder import Decoder

LOOKS_PER_S, EARLY_SHARE = 30.0, 0.75
"""A frame that comes after this share of the usual gap is looked at too: clocks are uneven."""
LOOKS_AHEAD, TOLD_AT_ONCE = 900, 15
"""So many looks are made before they are asked for: as long as a block is worked on."""
LEAST_GREY = 12
"""Lower thresholds lose balls: parts of people and noise run together with them (own study on rendered film)."""
SMALL_BALL_PX = 2.0
"""Pictures are made smaller as long as the smallest ball keeps this radius: at half of it one in seven was lost (own
study on rendered film)."""
AREA_SHARES = (0.25, 6.0)
"""Areas of candidates, over those of the smallest and the largest ball: half hidden, or drawn out by its way."""
LEAST_AREA_PX = 3
MOST_CANDIDATES = 400
"""Where more stands out the whole picture has jumped (a knock, a lamp switched on), and nothing there is told."""
FREE_ZONE_M, HIGHEST_M = 4.0, 4.0
NEAREST_M = 1.5
"""A ball nearer to the camera than this is no serve."""


@dataclass(frozen=True, eq=False)
class Look:
    """One frame by its index and time [s], and what may be a ball there.

    Centres (N, 2) and areas (N,) are in pixels of the full picture.
    """

    index: int
    time_s: float
    centres_px: Floats
    areas_px2: Floats


def radius_range_px(view: View) -> tuple[float, float]:
    """The radius [px] of the smallest and the largest ball over the court and around it that the picture can show.

    ``view`` must know the camera's place.
    """
    places = _places_over(view.court)
    away_m = np.linalg.norm(places - np.array(view.camera_position_m), axis=1)
    shown = view.project(places)
    inside = ((shown >= 0) & (shown <= np.array(view.image_size))).all(axis=1) & (away_m > NEAREST_M)
    radii_px = ball_radii_px(view, places[inside])
    if not len(radii_px):
        return SMALL_BALL_PX, SMALL_BALL_PX
    return float(radii_px.min()), float(radii_px.max())


@lru_cache(maxsize=8)
def pixels_per_radian(view: View) -> float:
    """How many pixels a ball over the court's middle takes, over the angle it does."""
    middle_m = np.array([0.0, 0.0, 1.0])
    away_m = float(np.linalg.norm(middle_m - np.array(view.camera_position_m)))
    return float(ball_radii_px(view, middle_m[None])[0]) * away_m / view.court.ball.radius_m


def ball_radii_px(view: View, places_m: Floats) -> Floats:
    """Radius (N,) [px] of balls at places (N, 3) as the picture shows them."""
    sight = places_m - np.array(view.camera_position_m)
    across = np.column_stack([-sight[:, 1], sight[:, 0], np.zeros(len(sight))])
    across *= view.court.ball.radius_m / np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-9)
    return np.asarray(np.hypot(*(view.project(places_m + across) - view.project(places_m - across)).T) / 2)


def _places_over(court: Court) -> Floats:
    """A grid (N, 3) [m] of places in which a serve can be."""
    x_m = np.linspace(-1, 1, 9) * (court.half_width_m + 1.0)
    y_m = np.linspace(-1, 1, 15) * (court.half_length_m + FREE_ZONE_M)
    z_m = np.linspace(court.ball.radius_m, HIGHEST_M, 5)
    return np.array(np.meshgrid(x_m, y_m, z_m)).reshape(3, -1).T


def divisor_for(smallest_px: float) -> int:
    """Return by how much pictures are made smaller, 1, 2 or 4, where the smallest ball has that radius.

    Examples
    --------
    >>> [divisor_for(radius_px) for radius_px in (2.5, 4.2, 9.0)]
    [1, 2, 4]
    """
    return next((d for d in (4, 2) if smallest_px / d >= SMALL_BALL_PX), 1)


def frames_looked_at(times_s: Floats, first: int, last: int) -> NDArray[np.int_]:
    """Return which of the frames first to last of a film are looked at, by the times [s] of all its frames.

    Examples
    --------
    >>> frames_looked_at(np.arange(8) / 60, 0, 7).tolist()
    [0, 2, 4, 6]
    """
    chosen, due_s = [], -np.inf
    for index, time_s in enumerate(times_s[first : last + 1].tolist(), start=first):
        if time_s >= due_s:
            chosen.append(index)
            due_s = time_s + EARLY_SHARE / LOOKS_PER_S
    return np.array(chosen, dtype=int)


def looks(clip: Clip, view: View, frames: NDArray[np.int_]) -> Generator[Look]:
    """Decode frames (N,) of a clip in order and yield all but the first and the last, each with its candidates.

    A thread of its own decodes ahead, while those told are worked on.

    Raises
    ------
    UserError
        Where the film cannot be read.
    """
    decoded = _decoded_looks(clip, view, frames)

    def some() -> list[Look]:
        return list(islice(decoded, TOLD_AT_ONCE))

    worker = ThreadPoolExecutor(1)
    try:
        awaited = deque(worker.submit(some) for _ in range(LOOKS_AHEAD // TOLD_AT_ONCE))
        while told := awaited.popleft().result():
            awaited.append(worker.submit(some))
            yield from told
    finally:
        worker.shutdown(cancel_futures=True)
        decoded.close()


def _decoded_looks(clip: Clip, view: View, frames: NDArray[np.int_]) -> Generator[Look]:
    smallest_px, largest_px = radius_range_px(view)
    divisor = divisor_for(smallest_px)
    finder = _Finder(divisor, smallest_px, largest_px)
    decoder = Decoder(clip)
    try:
        for wanted in frames.tolist():
            for index, frame in decoder.run_to(wanted):
                if index == wanted:
                    picture = brightness(divided(frame, divisor), clip.orientation)
                    look = finder.add(index, float(clip.times_s[index]), picture)
                    if look is not None:
                        yield look
    finally:
        decoder.close()


class _Finder:
    """Compares each picture with the one before and the one after it."""

    def __init__(self, divisor: int, smallest_px: float, largest_px: float) -> None:
        areas_px2 = np.pi * (np.array([smallest_px, largest_px]) / divisor) ** 2 * AREA_SHARES
        self._least_px2, self._most_px2 = max(float(areas_px2[0]), LEAST_AREA_PX), float(areas_px2[1])
        self._divisor = divisor
        self._kept: list[tuple[int, float, NDArray[np.uint8]]] = []

    def add(self, index: int, time_s: float, picture: NDArray[np.uint8]) -> Look | None:
        """Take the next picture; the look is that of the one before it, None at the beginning."""
        self._kept.append((index, time_s, picture))
        if len(self._kept) < 3:
            return None
        (_, _, before), (seen_index, seen_s, here), (_, _, after) = self._kept
        del self._kept[0]
        return Look(seen_index, seen_s, *self._parts(standing_out(before, here, after)))

    def _parts(self, mask: NDArray[np.uint8]) -> tuple[Floats, Floats]:
        """Centres (N, 2) and areas (N,) of the connected parts of a ball's size, in pixels of the full picture."""
        import cv2

        outlines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
        found = []
        for left, top, width, height in map(cv2.boundingRect, outlines):
            if width * height >= self._least_px2:
                sums = cv2.moments(mask[top : top + height, left : left + width], binaryImage=True)
                if self._least_px2 <= sums["m00"] <= self._most_px2:
                    found.append((left + sums["m10"] / sums["m00"], top + sums["m01"] / sums["m00"], sums["m00"]))
        parts = np.array(found if len(found) <= MOST_CANDIDATES else []).reshape(-1, 3)
        return (parts[:, :2] + 0.5) * self._divisor - 0.5, parts[:, 2] * self._divisor**2


def standing_out(before: NDArray[np.uint8], here: NDArray[np.uint8], after: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return where (H, W) a picture is brighter than both its neighbours, or darker than both: 255, else 0."""
    import cv2

    brighter = cv2.subtract(here, cv2.max(before, after))
    darker = cv2.subtract(cv2.min(before, after), here)
    return np.asarray(cv2.threshold(cv2.max(brighter, darker), LEAST_GREY, 255, cv2.THRESH_BINARY)[1], dtype=np.uint8)
