"""Which frame to decode next, given the one looked at, the way the coach travels and what is kept."""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from serve_marker.errors import UserError
from serve_marker.video.clip import Clip
from serve_marker.video.frame_cache import BEHIND_KEPT, FrameCache
from serve_marker.video.picture import DIVISORS, bytes_of, divided

FULL_SIZE_SHARE = 6
FULL_SIZE_REACH = 6
REST_S = 0.15
HURRY_S = 0.1
STEP_FRAMES = 64
LEAST_AHEAD = 24
AHEAD_S = 0.7
MARGIN = 1.5
NARROWEST_KEPT_PX = 480
LONGEST_GROUP_KEPT = 400


@dataclass(frozen=True)
class FrameRequest:
    """What the screen asks for; `size` (width, height) [px] is the most it can show, None for full resolution."""

    serial: int
    index: int
    size: tuple[int, int] | None
    dragging: bool
    at_s: float
    hurried: bool


@dataclass(frozen=True)
class DecodeTarget:
    """The next frame to decode; `ends_there` where the one after it is kept."""

    index: int
    ends_there: bool = False


@dataclass
class DecodePlan:
    """The state of one clip being looked at; its owner guards it against use by two threads at once."""

    clip: Clip
    cache_bytes: int
    now_s: Callable[[], float]
    wish: FrameRequest | None = None
    lost: dict[int, UserError] = field(default_factory=dict)
    decode_fps: float = 200.0
    divisor: int = 0

    def __post_init__(self) -> None:
        self.small = FrameCache(self.cache_bytes)
        self.full = FrameCache(0)
        keys = [0, *self.clip.keyframes, self.clip.frame_count]
        self._longest_group = max(b - a for a, b in pairwise(keys))
        self._recent: deque[tuple[float, int]] = deque(maxlen=12)

    def look_at(self, index: int, size: tuple[int, int] | None, dragging: bool) -> FrameRequest:
        """Take note of what is asked for now."""
        now_s, before = self.now_s(), self.wish
        step = index - before.index if before is not None else 0
        if step and abs(step) <= STEP_FRAMES:
            self.small.travel = self.full.travel = 1 if step > 0 else -1
        hurried = before is not None and now_s - before.at_s < HURRY_S
        self.wish = FrameRequest(before.serial + 1 if before else 1, index, size, dragging, now_s, hurried)
        self._recent.append((now_s, index))
        self.small.cursor = self.full.cursor = index
        if before is None or before.size != size:
            self.divisor = 0
        return self.wish

    @property
    def resting(self) -> bool:
        """Whether nothing new was asked for in a while."""
        return self.wish is not None and self.now_s() - self.wish.at_s >= REST_S

    def target(self) -> int:
        """The frame to show now: while dragging the nearest key frame unless the exact one is kept."""
        assert self.wish is not None
        index = self.wish.index
        if not self.wish.dragging or self.resting or index in self.small:
            return index
        return nearest_key_frame(self.clip, index)

    def goal(self) -> DecodeTarget | None:
        """The frame to decode next; None if there is nothing to do before something changes."""
        if self.wish is None:
            return None
        target = self.target()
        if not self._settled(target):
            return DecodeTarget(target, ends_there=target + 1 in self.small)
        if self.resting and self.divisor != 1 and target not in self.full and target not in self.lost:
            return DecodeTarget(target)
        if self.wish.dragging and not self.resting:
            return None
        for step in (self.small.travel, -self.small.travel) if self.resting else (self.small.travel,):
            missing = self._missing_ahead(step)
            if missing is not None and self.small.has_room():
                return DecodeTarget(missing, ends_there=missing + 1 in self.small)
        return None

    def keep(self, index: int, frame: Any, goal: DecodeTarget) -> None:
        """Keep what a run towards `goal` delivered, at the size there is room for."""
        self._choose_divisor(frame)
        if self.divisor > 1 and (index == goal.index or abs(index - self.small.cursor) <= FULL_SIZE_REACH):
            self.full.put(index, frame, needed=index == self.small.cursor)
        room = self.small.capacity - BEHIND_KEPT - 2
        if index > goal.index - room and index not in self.small:
            self.small.put(index, self._made_small(frame), needed=index == goal.index)

    def _made_small(self, frame: Any) -> Any:
        if self.divisor == 1:
            return frame
        return divided(frame, self.divisor, self.small.take_spare)

    def pace_fps(self) -> float:
        """Frames a second the coach travels by steps."""
        now_s = self.now_s()
        if len(self._recent) < 2 or now_s - self._recent[-1][0] > 2 * REST_S:
            return 0.0
        places = [index for _, index in self._recent]
        moved = sum(abs(b - a) for a, b in pairwise(places) if abs(b - a) <= STEP_FRAMES)
        return moved / max(now_s - self._recent[0][0], 1e-3)

    def _settled(self, index: int) -> bool:
        return index in self.small or index in self.lost

    def _missing_ahead(self, step: int) -> int | None:
        """The nearest frame to have ready; backward a whole group has to be done by the time it is needed."""
        assert self.wish is not None
        if step != self.small.travel:
            reach = float(BEHIND_KEPT)
        elif step > 0:
            reach = self.pace_fps() * AHEAD_S
        else:
            reach = self.pace_fps() * MARGIN * min(self._longest_group, self.small.capacity) / self.decode_fps
        if step == self.small.travel:
            reach = min(max(reach, LEAST_AHEAD), self.small.capacity / (2 if step > 0 else 1))
        start = self.wish.index + step
        stop = min(max(start + step * int(reach), -1), self.clip.frame_count)
        return next((i for i in range(start, stop, step) if not self._settled(i)), None)

    def _choose_divisor(self, frame: Any) -> None:
        """As large as a whole group of frames fits, and no larger than the screen needs."""
        if self.divisor:
            return
        frames = 1.05 * min(self._longest_group, LONGEST_GROUP_KEPT) + BEHIND_KEPT
        beside_full = self.cache_bytes - self.cache_bytes // FULL_SIZE_SHARE
        size = self.wish.size if self.wish is not None else None
        upright = (self.clip.width, self.clip.height)
        for divisor in DIVISORS:
            share = 1.0 if divisor == 1 else 1.5 * frame.width * frame.height / divisor**2 / bytes_of(frame)
            fits = frames * bytes_of(frame) * share <= (self.cache_bytes if divisor == 1 else beside_full)
            larger_than_needed = size is not None and upright[0] >= 2 * divisor * size[0]
            if (fits and not larger_than_needed) or frame.width < 2 * divisor * NARROWEST_KEPT_PX:
                break
        self.divisor = divisor
        self.small.resize(self.cache_bytes if divisor == 1 else beside_full, max(1, frame.width // divisor))
        self.full.resize(0 if divisor == 1 else self.cache_bytes - beside_full, frame.width)


def nearest_key_frame(clip: Clip, index: int) -> int:
    """The key frame nearest to `index`: one decode shows it."""
    after = bisect_right(clip.keyframes, index)
    near = clip.keyframes[max(after - 1, 0) : after + 1]
    return min(near, key=lambda key: abs(key - index), default=0)
