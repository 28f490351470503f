"""A ball on film whose way turns in a touch, of the floor or of a hand, looked for around a coach's click.

Spots of the ball's size that differ from the still picture are looked for on the frames around the click; the set of
them that comes and leaves as a ball does tells the touch, whichever of the near frames was clicked.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.picture.ball_spots import ball_response, difference, still_picture, strongest
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.flight.touch import Expected, Touch, seen_from, touch_point, way_since
from serve_marker.flight.touch_search import likely_sets
from serve_marker.logbook.records import Mark
from serve_marker.marking.landing_from_marks import CENTRE_SD_PX
from serve_marker.video.clip import Clip
from serve_marker.video.frames import FrameReader

BEFORE_S, AFTER_S, LEAST_FRAMES = 0.17, 0.20, 5
"""How long before the earliest touch and after the latest the ball is looked for, and on how many frames at least."""
FASTEST_FPS = 90.0
STILL_S, STILL_PICTURES = 0.6, 7
MOST_SPOTS, SETS_TRIED = 6, 4
MARGIN_PX, SMALLEST_BALL_PX = 12.0, 0.5
SURE_RESPONSE, RESPONSE_SPAN, MOST_STRENGTH = 6.0, 4.0, 1.5
MISSED_SPOT_SQUARES = 9.0
CLICK_SD_PX, CLICK_SD_RADII = 2.0, 0.25
"""How far off the ball's centre a click may be beside the hand's own error (own estimate)."""
FEWEST_BALLS = 8
MOVED_S, LEAST_MOVED_GREY = 1 / 30, 3.0


@dataclass(frozen=True, eq=False)
class Balls:
    """The ball's centre (K, 2) [px] on frames (K,), and the touch they tell."""

    frames: NDArray[np.int_]
    centres_px: Floats
    touch: Touch

    @property
    def state(self) -> Floats:
        """Place and velocities (8,) of the touch."""
        return np.concatenate([self.touch.point_m, self.touch.before_mps, self.touch.after_mps])

    def marks(self, clip: Clip) -> tuple[Mark, ...]:
        """The balls as marks of the clip."""
        return tuple(
            Mark(clip.time_s(int(frame)), (float(x), float(y)), *clip.gaps_s(int(frame)), on_ball=True)
            for frame, (x, y) in zip(self.frames, self.centres_px, strict=True)
        )


class BallSearch(ABC):
    """Looks for one touch.

    Parameters
    ----------
    mark : the coach's click, with its pixel.
    reader : of the clip.
    time_scale : what the clip's time is multiplied by to be true.
    height_m : of the ball's centre in the touch.
    expected : of the touch, about the floor point below it that the click tells.
    drag_per_m : drag per metre of path [1/m].
    within_s : how far from the mark's time the touch may be at least; else on its frame or one beside it.
    """

    def __init__(
        self,
        mark: Mark,
        view: View,
        reader: FrameReader,
        time_scale: float,
        height_m: float,
        expected: Expected,
        drag_per_m: float,
        within_s: float = 0.0,
    ) -> None:
        assert view.camera_position_m is not None
        self._view, self._reader = view, reader
        self._pixel = np.array(mark.pixel)
        self._expected, self._drag_per_m = expected, drag_per_m
        self._projection = view.projection_above(height_m)
        self._camera_m = np.array(view.camera_position_m) - (0.0, 0.0, height_m)
        self._click = reader.clip.frame_at(mark.time_s)
        times_s = reader.clip.times_s * time_scale
        self._frame_s = float(np.median(np.diff(times_s[max(self._click - 5, 0) : self._click + 6])))
        early_s, late_s = one_frame_off_s(times_s, self._click)
        self._window_s = min(early_s, -within_s), max(late_s, within_s)
        self._times_s = times_s - times_s[self._click]
        self._greys: dict[int, NDArray[np.uint8]] = {}

    def found(self) -> Balls | None:
        """The ball around the touch, None where nothing there can be believed."""
        self._frames = self._near_frames()
        if len(self._frames) < 2 * LEAST_FRAMES:
            return None
        self._boxes_px = self._boxes()
        self._differences = self._seen_differences()
        first = self._likeliest(self._expected.mean, 0.0)
        again = first and self._likeliest(first.state, first.touch.moment_s)
        return again if again and self._is_believable(again) else None

    @abstractmethod
    def _possible_states(self) -> Floats:
        """Touches (S, 8) as far apart as they may be."""

    @abstractmethod
    def _clicked(self, state: Floats, moment_s: float) -> tuple[Floats, float]:
        """Where (2,) [straight px] and how surely [px] the click tells the ball's centre on its frame."""

    @abstractmethod
    def _is_believable(self, found: Balls) -> bool:
        """Whether a ball that is touched moves like this."""

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
        sight = place - self._camera_m
        across = np.column_stack([-sight[:, 1], sight[:, 0], np.zeros(len(sight))])
        across *= self._view.court.ball.radius_m / np.linalg.norm(across, axis=1, keepdims=True)
        middle, edge = (spots @ self._projection[:, :3].T + self._projection[:, 3] for spots in (place, place + across))
        return np.asarray(np.hypot(*(edge[:, :2] / edge[:, 2:] - middle[:, :2] / middle[:, 2:]).T))

    def _boxes(self) -> NDArray[np.int_]:
        """The part of each frame, rows (left, top, right, bottom), in which the ball can be."""
        states = self._possible_states()
        since_s = self._times_s[self._frames]
        ways = [
            seen_from(states, since_s - moment_s, self._projection, self._drag_per_m)[0]
            for moment_s in np.linspace(*self._window_s, 3)
        ]
        straight = np.concatenate(ways).transpose(1, 0, 2)
        shown = self._view.lens.bend(straight.reshape(-1, 2)).reshape(straight.shape)
        clicked, _ = self._clicked(states[0], 0.0)
        shown = np.where(np.isfinite(shown), shown, self._view.lens.bend(clicked[None])[0])
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
        still = still_frames(self._times_s)
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

    def _likeliest(self, state: Floats, moment_s: float) -> Balls | None:
        since_s = self._times_s[self._frames]
        radii_px = self._radii_px(state, since_s - moment_s)
        if not ((radii_px >= SMALLEST_BALL_PX) & (radii_px < max(self._view.image_size))).all():
            return None
        spots, strengths = self._spots(radii_px)
        sets = likely_sets(
            since_s,
            spots,
            strengths,
            np.prod(self._boxes_px[:, 2:] - self._boxes_px[:, :2], axis=1).astype(float),
            (0.0, *self._clicked(state, moment_s)),
            self._projection,
            self._window_s,
            self._expected,
            self._drag_per_m,
        )
        balls = []
        for chosen in {tuple(one.spots): one for one in sets[:SETS_TRIED]}.values():
            used = np.flatnonzero(chosen.spots >= 0)
            if len(used) < FEWEST_BALLS:
                continue
            centres = np.array([spots[k][chosen.spots[k]] for k in used])
            sd_px = np.full(len(used), CENTRE_SD_PX)
            about = (self._projection, self._window_s, self._expected.at(chosen.place_m), self._drag_per_m)
            touch = touch_point(since_s[used], centres, sd_px, *about)
            if touch is not None:
                balls.append(Balls(self._frames[used], self._view.lens.bend(centres), touch))
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

    def _ball_clicked(self, centre_px: Floats, radius_px: float) -> tuple[Floats, float]:
        """Where (2,) [straight px] and how surely [px] a click on the ball tells its centre."""
        sd_px = float(np.hypot(self._view.click_sd_px, CLICK_SD_PX + CLICK_SD_RADII * radius_px))
        return self._view.lens.straighten(centre_px[None])[0], sd_px

    @property
    def _aside(self) -> int:
        return max(1, round(MOVED_S / self._frame_s))

    def _is_before(self, found: Balls) -> NDArray[np.bool_]:
        """Which balls (K,) are seen before the touch."""
        return np.asarray(self._times_s[found.frames] < found.touch.moment_s)

    def _moved(self, found: Balls) -> NDArray[np.bool_]:
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


def still_frames(since_s: Floats) -> NDArray[np.int_]:
    """Return the frames whose median is the still picture around the one at time 0; ``since_s`` [s] is of all frames.

    Examples
    --------
    >>> still_frames(np.arange(-10, 11) / 10.0).tolist()
    [4, 6, 8, 10, 12, 14, 16]
    """
    near = np.searchsorted(since_s, np.linspace(-STILL_S, STILL_S, STILL_PICTURES))
    return np.unique(np.clip(near, 0, len(since_s) - 1))


def one_frame_off_s(times_s: Floats, frame: int) -> tuple[float, float]:
    """Return the earliest and latest moment of a touch [s after the frame] that was marked on it or on one beside it.

    Examples
    --------
    >>> [round(edge, 3) for edge in one_frame_off_s(np.array([0.0, 0.1, 0.2, 0.3, 0.5, 0.6]), 2)]
    [-0.15, 0.2]
    """
    around = times_s[np.clip(frame + np.arange(-2, 3), 0, len(times_s) - 1)] - times_s[frame]
    return float(around[0] + around[1]) / 2, float(around[3] + around[4]) / 2
