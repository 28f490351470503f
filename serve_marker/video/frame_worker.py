"""Frames for a screen: decoded ahead of need on one thread, made into pictures on another, never by the asker."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

from serve_marker.errors import UserError
from serve_marker.video.clip import Clip
from serve_marker.video.decode_plan import REST_S, DecodePlan, DecodeTarget, FrameRequest
from serve_marker.video.frame_cache import DEFAULT_CACHE_BYTES
from serve_marker.video.malloc_trim import give_back_free_memory
from serve_marker.video.picture import DIVISORS, colour, divided
from serve_marker.video.seeking_decoder import Decoder

GIVE_BACK_EVERY_S = 20.0
END_S = 1.0


@dataclass(frozen=True, eq=False)
class Shown:
    """Frame `index` upright, (h, w, 3) RGB read-only, no larger than asked for.

    While frames follow each other fast `picture` may be coarser than the screen and `full` is None; on rest it comes
    again `sharp`, with `full` in the film's own resolution.
    """

    index: int
    picture: NDArray[np.uint8]
    full: NDArray[np.uint8] | None
    sharp: bool


class FrameWorker:
    """Answers wishes for frames of one clip; the newest wish wins, also in the middle of decoding an older one.

    `answered(Shown)` and `failed(index, exception)` are called on a thread of the worker's own, in order. An exception
    nobody expected is handed to `failed` as it is; the next wish is served all the same.
    """

    def __init__(
        self,
        clip: Clip,
        answered: Callable[[Shown], object],
        failed: Callable[[int, Exception], object],
        cache_bytes: int = DEFAULT_CACHE_BYTES,
    ) -> None:
        self.clip = clip
        self.decoded_count = 0
        self._answered, self._failed = answered, failed
        self._plan = DecodePlan(clip, cache_bytes, time.monotonic)
        self._broken: Exception | None = None
        self._given_up = 0
        self._changed = threading.Condition()
        self._closed = False
        self._threads = [
            threading.Thread(target=work, name=name, daemon=True)
            for work, name in ((self._decode, "decode"), (self._deliver, "pictures"))
        ]
        for thread in self._threads:
            thread.start()

    def want(self, index: int, size: tuple[int, int] | None = None, dragging: bool = False) -> None:
        """Ask for a frame, at most of `size` (width, height) [px] upright; returns at once.

        While `dragging` the nearest key frame is shown, and the exact frame as soon as the wish stays the same.
        """
        self.clip.checked_index(index)
        with self._changed:
            self._plan.look_at(index, size, dragging)
            self._broken = None
            self._changed.notify_all()

    @property
    def held_bytes(self) -> int:
        """Memory of the frames kept."""
        return self._plan.small.held_bytes + self._plan.full.held_bytes

    @property
    def running(self) -> bool:
        """Whether a thread of it is still there."""
        return any(thread.is_alive() for thread in self._threads)

    def stop(self) -> None:
        """Ask the threads to end; returns at once."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()

    def close(self) -> None:
        """Let go of frames, file and threads; a thread that waits for a disk without end is left behind."""
        self.stop()
        end_by_s = time.monotonic() + END_S
        for thread in self._threads:
            thread.join(max(0.0, end_by_s - time.monotonic()))
        with self._changed:
            self._plan.small.clear()
            self._plan.full.clear()

    def __enter__(self) -> FrameWorker:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # -- the decoding thread

    def _decode(self) -> None:
        decoder: Decoder | None = None
        run: Iterator[tuple[int, Any]] | None = None
        heading: DecodeTarget | None = None
        gave_back_s = time.monotonic()
        while (goal := self._next_goal()) is not None:
            try:
                if decoder is None:
                    decoder, run = Decoder(self.clip), None
                if run is None or goal != heading:
                    run, heading = decoder.run_to(goal.index, goal.ends_there), goal
                start_s = time.perf_counter()
                following = next(run, None)
                self._keep(goal, following, time.perf_counter() - start_s)
            except Exception as error:  # noqa: BLE001 - the thread serves the next wish
                self._break(goal, error)
                if decoder is not None:
                    with suppress(Exception):
                        decoder.close()
                decoder = run = None
                continue
            if following is None or following[0] == goal.index:
                run = None
            if run is None and time.monotonic() - gave_back_s > GIVE_BACK_EVERY_S:
                give_back_free_memory()
                gave_back_s = time.monotonic()
        if decoder is not None:
            decoder.close()

    def _next_goal(self) -> DecodeTarget | None:
        """Waits for something to decode; None once closed."""
        with self._changed:
            while not self._closed:
                try:
                    goal = self._plan.goal() if self._broken is None else None
                except Exception as error:  # noqa: BLE001 - the thread serves the next wish
                    goal, self._broken = None, error
                    self._changed.notify_all()
                if goal is not None:
                    return goal
                self._changed.wait(self._until_rest_s())
        return None

    def _keep(self, goal: DecodeTarget, following: tuple[int, Any] | None, spent_s: float) -> None:
        with self._changed:
            plan = self._plan
            if following is None:
                name = self.clip.path.name
                plan.lost[goal.index] = UserError(
                    f"Frame {goal.index} of {name} is damaged and cannot be shown; step to another frame."
                )
            else:
                self.decoded_count += 1
                plan.decode_fps += 0.02 * (1 / max(spent_s, 1e-4) - plan.decode_fps)
                plan.keep(*following, goal)
            if plan.wish is not None and (following is None or following[0] == plan.target()):
                self._changed.notify_all()

    def _break(self, goal: DecodeTarget, error: Exception) -> None:
        with self._changed:
            self._broken = (
                UserError(
                    f"{self.clip.path.name} could not be read at frame {goal.index}."
                    " Check that its disk or card is still connected."
                )
                if isinstance(error, av.FFmpegError | OSError)
                else error
            )
            self._changed.notify_all()

    def _until_rest_s(self) -> float | None:
        wish = self._plan.wish
        if wish is None or self._plan.resting:
            return None
        return max(0.001, wish.at_s + REST_S - time.monotonic())

    # -- the thread that makes pictures

    def _deliver(self) -> None:
        answered: tuple[int, int, bool] = (0, -1, False)
        while True:
            try:
                with self._changed:
                    self._plan.small.in_use = task = None
                    while not self._closed and task is None:
                        task = self._next_picture(answered)
                        if task is None:
                            self._changed.wait(self._until_rest_s())
                    if self._closed or task is None:
                        return
                    wish, index, sharp, frame = task
                    self._plan.small.in_use = frame
                answered = (wish.serial, index, sharp)
                if isinstance(frame, Exception):
                    self._failed(index, frame)
                else:
                    self._answered(self._shown(wish, index, sharp, frame))
            except Exception as error:  # noqa: BLE001 - the thread serves the next wish
                self._give_up(error)

    def _give_up(self, error: Exception) -> None:
        """No picture can be made for the wish of now: say so, once, and wait for the next."""
        with self._changed:
            wish = self._plan.wish
            if wish is None or wish.serial == self._given_up:
                return
            self._given_up = wish.serial
        self._failed(wish.index, error)

    def _next_picture(self, answered: tuple[int, int, bool]) -> tuple[FrameRequest, int, bool, Any] | None:
        """FrameRequest, index, whether sharp, and frame or error to hand out next."""
        plan = self._plan
        if plan.wish is None or plan.wish.serial == self._given_up:
            return None
        index, serial = plan.target(), plan.wish.serial
        exact = index == plan.wish.index
        done, done_sharp = answered[:2] == (serial, index), answered == (serial, index, True)
        if done_sharp:
            return None
        error = plan.lost.get(index) or self._broken
        if error is not None and index not in plan.small:
            return plan.wish, index, True, error
        full = plan.small.get(index) if plan.divisor == 1 else plan.full.get(index)
        if full is not None and exact and (plan.resting or not plan.wish.hurried):
            return plan.wish, index, True, full
        kept = plan.small.get(index)
        return None if done or kept is None else (plan.wish, index, False, kept)

    def _shown(self, wish: FrameRequest, index: int, sharp: bool, frame: Any) -> Shown:
        orientation = self.clip.orientation
        upright = (self.clip.width, self.clip.height)
        share = 1.0 if wish.size is None else min(1.0, *(a / b for a, b in zip(wish.size, upright, strict=True)))
        if sharp:
            full = colour(frame, orientation)
            if share == 1.0:
                return Shown(index, full, full, sharp)
            stored = orientation.upright_size(*upright)
            fitted = (max(2, round(stored[0] * share)), max(2, round(stored[1] * share)))
            return Shown(index, colour(frame, orientation, fitted), full, sharp)
        width_px = share * orientation.upright_size(*upright)[0]
        coarser = next((d for d in DIVISORS if frame.width <= width_px * d * 1.001), DIVISORS[-1])
        return Shown(index, colour(divided(frame, coarser), orientation), None, sharp)
