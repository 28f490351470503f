"""The touch of a landing on film: the ball's way down and its rebound, found around the coach's click.

The click says roughly when and where. Spots of the ball's size that differ from the still picture are looked for on
the frames around it; the set of them that falls and rebounds as a ball does gives the touch, whichever of the near
frames was clicked. Where no set is believable nothing is found, and the click stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.picture.ball_candidates import ball_response, difference, still_picture, strongest
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.errors import UserError
from serve_marker.flight.bounce import Touch, seen_from, touch_point, way_since
from serve_marker.flight.shutter import RESTITUTION, Arrival
from serve_marker.flight.touch_search import likely_sets
from serve_marker.logbook.records import Mark, Serve
from serve_marker.marking.landing import arrival_at
from serve_marker.marking.touch_from_marks import CENTRE_SD_PX, arrival_drag_per_m
from serve_marker.video.clip import Clip
from serve_marker.video.frames import FrameReader
from serve_marker.video.progress import Progress

BEFORE_S, AFTER_S, LEAST_FRAMES = 0.17, 0.20, 5
"""How long before the earliest touch and after the latest the ball is looked for, and on how many frames at least."""
FASTEST_FPS = 90.0
STILL_S, STILL_PICTURES = 0.6, 7
MOST_SPOTS, SETS_TRIED = 6, 4
MARGIN_PX = 12.0
SURE_RESPONSE, RESPONSE_SPAN, MOST_STRENGTH = 6.0, 4.0, 1.5
CLICK_SD_PX, CLICK_SD_RADII = 2.0, 0.25
"""How far off the ball's centre the click may be beside the hand's own error (own estimate)."""
MISSED_SPOT_SQUARES = 9.0
MOVED_S, LEAST_MOVED_GREY = 1 / 30, 3.0
FEWEST_SEEN, FEWEST_MOVED_BEFORE, FEWEST_MOVED_AFTER = 4, 2, 3
MOST_SQUARES_PER_VALUE = 1.6
MOST_STRAIN = 16.0
REBOUND_UP, REBOUND_ALONG = (0.45, 1.05), (0.25, 1.2)
"""Shares of the fall's speed that a rebound keeps upwards and along; spin takes and gives (own bounds)."""
OFF_CLICK_PX, OFF_CLICK_RADII = 4.0, 0.5


@dataclass(frozen=True, eq=False)
class _Balls:
    """The ball's centre (K, 2) [px] on frames (K,), and the touch they tell."""

    frames: NDArray[np.int_]
    centres_px: Floats
    touch: Touch

    @property
    def state(self) -> Floats:
        """Place and velocities (8,) of the touch."""
        return np.concatenate([self.touch.point_m, self.touch.fall_mps, self.touch.rebound_mps])


def film_marks(serve: Serve, view: View, reader: FrameReader, time_scale: float = 1.0) -> tuple[Mark, ...]:
    """Return the ball's centre on the frames around a landing, () where the film does not tell the touch.

    Parameters
    ----------
    serve : with the landing as clicked; only a floor landing has a touch.
    reader : of the serve's clip.
    time_scale : what the clip's time is multiplied by to be true.

    Raises
    ------
    UserError
        Where the film cannot be read there.
    """
    if serve.outcome != "floor" or serve.landing is None or serve.landing.pixel is None:
        return ()
    near = arrival_at(serve, view, time_scale)
    if near is None or view.camera_position_m is None or view.camera_position_m[2] <= 2 * view.court.ball.radius_m:
        return ()
    found = _TouchSearch(serve.landing, view, reader, time_scale, *near).found()
    if found is None:
        return ()
    clip = reader.clip
    return tuple(
        Mark(clip.time_s(int(frame)), (float(x), float(y)), *clip.gaps_s(int(frame)), on_ball=True)
        for frame, (x, y) in zip(found.frames, found.centres_px, strict=True)
    )


def with_film_marks(
    serves: Sequence[Serve], view: View, clip: Clip, time_scale: float, progress: Progress | None = None
) -> list[Serve]:
    """Return serves of one clip with what the film shows of their landings; where it is damaged the click stands."""
    order = sorted(range(len(serves)), key=lambda k: serves[k].moment_s or 0.0)
    looked_at = list(serves)
    with FrameReader(clip) as reader:
        for done, k in enumerate(order, start=1):
            with suppress(UserError):
                looked_at[k] = replace(serves[k], film_marks=film_marks(serves[k], view, reader, time_scale))
            if progress is not None:
                progress(done, len(serves))
    return looked_at


def one_frame_off_s(times_s: Floats, frame: int) -> tuple[float, float]:
    """Return the earliest and latest moment of a touch [s after the frame] that was marked on it or on one beside it.

    Examples
    --------
    >>> [round(edge, 3) for edge in one_frame_off_s(np.array([0.0, 0.1, 0.2, 0.3, 0.5, 0.6]), 2)]
    [-0.15, 0.2]
    """
    around = times_s[np.clip(frame + np.arange(-2, 3), 0, len(times_s) - 1)] - times_s[frame]
    return float(around[0] + around[1]) / 2, float(around[3] + around[4]) / 2


class _TouchSearch:
    def __init__(
        self, mark: Mark, view: View, reader: FrameReader, time_scale: float, start_m: Floats, arrival: Arrival
    ) -> None:
        self._pixel, self._on_ball = np.array(mark.pixel), mark.on_ball
        self._view, self._reader = view, reader
        self._start_m, self._arrival = start_m, arrival
        self._level = view.raised(view.court.ball.radius_m)
        self._projection = self._level.projection
        self._drag_per_m = arrival_drag_per_m(arrival, view.court)
        self._click = reader.clip.frame_at(mark.time_s)
        times_s = reader.clip.times_s * time_scale
        self._frame_s = float(np.median(np.diff(times_s[max(self._click - 5, 0) : self._click + 6])))
        self._window_s = one_frame_off_s(times_s, self._click)
        self._times_s = times_s - times_s[self._click]
        self._greys: dict[int, NDArray[np.uint8]] = {}

    def found(self) -> _Balls | None:
        """The ball around the touch, None where nothing there can be believed."""
        self._frames = self._near_frames()
        if len(self._frames) < 2 * LEAST_FRAMES:
            return None
        self._boxes_px = self._boxes()
        self._differences = self._seen_differences()
        fall = self._arrival.velocity_mps[0]
        first = self._likeliest(np.concatenate([self._start_m, fall, RESTITUTION * fall * (1, 1, -1)]), 0.0)
        again = first and self._likeliest(first.state, first.touch.moment_s)
        return again if again and self._is_believable(again) else None

    def _near_frames(self) -> NDArray[np.int_]:
        before_s = max(BEFORE_S, LEAST_FRAMES * self._frame_s) - self._window_s[0]
        after_s = max(AFTER_S, LEAST_FRAMES * self._frame_s) + self._window_s[1]
        near = np.flatnonzero((self._times_s >= -before_s) & (self._times_s <= after_s))
        stride = int(np.ceil(1 / self._frame_s / FASTEST_FPS))
        return np.asarray(near[(near - self._click) % stride == 0])

    def _radii_px(self, state: Floats, since_s: Floats) -> Floats:
        """The ball's radius (K,) so long after a touch."""
        velocity = np.where((since_s > 0)[:, None], state[5:8], state[2:5])
        place = way_since(velocity, since_s, self._drag_per_m)
        place[:, :2] += state[:2]
        sight = place - np.array(self._level.camera_position_m)
        across = np.column_stack([-sight[:, 1], sight[:, 0], np.zeros(len(sight))])
        across *= self._view.court.ball.radius_m / np.linalg.norm(across, axis=1, keepdims=True)
        middle, edge = (spots @ self._projection[:, :3].T + self._projection[:, 3] for spots in (place, place + across))
        return np.asarray(np.hypot(*(edge[:, :2] / edge[:, 2:] - middle[:, :2] / middle[:, 2:]).T))

    def _boxes(self) -> NDArray[np.int_]:
        """The part of each frame, rows (left, top, right, bottom), in which the ball can be."""
        falls = self._arrival.samples()[0]
        states = np.hstack([np.tile(self._start_m, (len(falls), 1)), falls, RESTITUTION * falls * (1, 1, -1)])
        since_s = self._times_s[self._frames]
        ways = [
            seen_from(states, since_s - moment_s, self._projection, self._drag_per_m)[0]
            for moment_s in np.linspace(*self._window_s, 3)
        ]
        straight = np.concatenate(ways).transpose(1, 0, 2)
        shown = self._view.lens.bend(straight.reshape(-1, 2)).reshape(straight.shape)
        shown = np.where(np.isfinite(shown), shown, self._pixel)
        margin_px = MARGIN_PX + 2 * self._radii_px(states[0], np.zeros(1))[0]
        edges = np.array(self._view.image_size)
        low = np.clip(np.floor(shown.min(axis=1) - margin_px), 0, edges - 1)
        high = np.clip(np.ceil(shown.max(axis=1) + margin_px), low + 1, edges)
        return np.hstack([low, high]).astype(int)

    def _grey(self, frame: int) -> NDArray[np.uint8]:
        if frame not in self._greys:
            self._greys[frame] = self._reader.grey(frame)
        return self._greys[frame]

    def _seen_differences(self) -> list[NDArray[np.float32]]:
        """How much each frame differs from the still picture, within its box."""
        aside = self._aside
        still = np.searchsorted(self._times_s, np.linspace(-STILL_S, STILL_S, STILL_PICTURES))
        still = np.unique(np.clip(still, 0, len(self._times_s) - 1))
        for frame in np.unique(np.concatenate([still, self._frames, self._frames - aside, self._frames + aside])):
            if 0 <= frame < len(self._times_s):
                self._grey(int(frame))
        left, top = self._boxes_px[:, :2].min(axis=0)
        right, bottom = self._boxes_px[:, 2:].max(axis=0)
        behind = still_picture(np.stack([self._grey(int(frame))[top:bottom, left:right] for frame in still]))
        return [
            difference(self._grey(int(frame))[y0:y1, x0:x1], behind[y0 - top : y1 - top, x0 - left : x1 - left])
            for frame, (x0, y0, x1, y1) in zip(self._frames, self._boxes_px, strict=True)
        ]

    def _likeliest(self, state: Floats, moment_s: float) -> _Balls | None:
        since_s = self._times_s[self._frames]
        spots, strengths = self._spots(self._radii_px(state, since_s - moment_s))
        sets = likely_sets(
            since_s,
            spots,
            strengths,
            np.prod(self._boxes_px[:, 2:] - self._boxes_px[:, :2], axis=1).astype(float),
            self._clicked(state, moment_s),
            self._projection,
            self._window_s,
            self._start_m,
            self._arrival,
            self._drag_per_m,
        )
        balls = []
        for chosen in {tuple(one.spots): one for one in sets[:SETS_TRIED]}.values():
            used = np.flatnonzero(chosen.spots >= 0)
            if len(used) < 2 * FEWEST_SEEN:
                continue
            centres = np.array([spots[k][chosen.spots[k]] for k in used])
            sd_px = np.full(len(used), CENTRE_SD_PX)
            about = (self._projection, self._window_s, chosen.place_m, self._arrival, self._drag_per_m)
            touch = touch_point(since_s[used], centres, sd_px, *about)
            if touch is not None:
                balls.append(_Balls(self._frames[used], self._view.lens.bend(centres), touch))
        cost = [one.touch.misfit + one.touch.strain - MISSED_SPOT_SQUARES * len(one.frames) for one in balls]
        return balls[int(np.argmin(cost))] if balls else None

    def _spots(self, radii_px: Floats) -> tuple[list[Floats], list[Floats]]:
        """For each frame the spots (N, 2) of a ball's size, straight pixels, and how surely each is one (N,)."""
        spots, strengths = [], []
        for seen, radius_px, box in zip(self._differences, radii_px.tolist(), self._boxes_px, strict=True):
            places, response = strongest(ball_response(seen, radius_px), MOST_SPOTS, radius_px)
            spots.append(self._view.lens.straighten(places + box[:2]))
            strengths.append(np.clip((response - SURE_RESPONSE) / RESPONSE_SPAN, -MOST_STRENGTH, MOST_STRENGTH))
        return spots, strengths

    def _clicked(self, state: Floats, moment_s: float) -> tuple[float, Floats, float]:
        """When, where (2,) and how surely [px] the coach clicked the ball's centre."""
        radius_px = float(self._radii_px(state, np.array([-moment_s]))[0])
        centre = self._pixel - (0.0, 0.0 if self._on_ball else radius_px)
        sd_px = float(np.hypot(self._view.click_sd_px, CLICK_SD_PX + CLICK_SD_RADII * radius_px))
        return 0.0, self._view.lens.straighten(centre[None])[0], sd_px

    @property
    def _aside(self) -> int:
        return max(1, round(MOVED_S / self._frame_s))

    def _is_believable(self, found: _Balls) -> bool:
        touch = found.touch
        before = self._times_s[found.frames] < touch.moment_s
        moved = self._moved(found)
        speed_mps = float(np.hypot(*touch.fall_mps[:2]))
        up = -touch.rebound_mps[2] / touch.fall_mps[2]
        along = float(touch.rebound_mps[:2] @ touch.fall_mps[:2]) / speed_mps**2
        seen, _ = seen_from(found.state[None], np.array([-touch.moment_s]), self._projection, self._drag_per_m)
        _, clicked, _ = self._clicked(found.state, touch.moment_s)
        radius_px = float(self._radii_px(found.state, np.array([-touch.moment_s]))[0])
        return bool(
            min(before.sum(), (~before).sum()) >= FEWEST_SEEN
            and moved[before].sum() >= FEWEST_MOVED_BEFORE
            and moved[~before].sum() >= FEWEST_MOVED_AFTER
            and touch.misfit <= MOST_SQUARES_PER_VALUE * 2 * len(before)
            and touch.strain <= MOST_STRAIN
            and REBOUND_UP[0] <= up <= REBOUND_UP[1]
            and REBOUND_ALONG[0] <= along <= REBOUND_ALONG[1]
            and np.hypot(*(seen[0, 0] - clicked)) <= OFF_CLICK_PX + OFF_CLICK_RADII * radius_px
        )

    def _moved(self, found: _Balls) -> NDArray[np.bool_]:
        """Whether the picture at each ball (K,) differs from a 30th of a second earlier and later."""
        radii = self._radii_px(found.state, self._times_s[found.frames] - found.touch.moment_s)
        moved = []
        for frame, centre, radius_px in zip(found.frames.tolist(), found.centres_px, radii.tolist(), strict=True):
            left, top = np.maximum(np.round(centre - radius_px).astype(int), 0)
            right, bottom = np.round(centre + radius_px).astype(int) + 1
            crop = np.s_[top:bottom, left:right]
            beside = [f for f in (frame - self._aside, frame + self._aside) if 0 <= f < len(self._times_s)]
            here = self._grey(frame)[crop].astype(float)
            moved.append(min(float(np.abs(here - self._grey(other)[crop]).mean()) for other in beside))
        return np.array(moved) > LEAST_MOVED_GREY
