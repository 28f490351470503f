"""Playing the clip by its timestamps, as fast as life where its rate is known: frames are dropped rather than time."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QElapsedTimer, QObject, Qt, QTimer, Signal

from serve_marker.desktop.session.workspace import Workspace

SPEEDS = (0.125, 0.25, 0.5, 1.0)
SPEED_WORDS = {0.125: "1/8 ×", 0.25: "1/4 ×", 0.5: "1/2 ×", 1.0: "1 ×"}
TICK_MS = 8


class Playback(QObject):
    """Moves the workspace's frame along with the clock."""

    changed = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(TICK_MS)
        self._timer.timeout.connect(self._tick)
        self._clock = QElapsedTimer()
        self._start_s = 0.0
        self._own_frame = 0
        self.speed = 1.0
        self.direction = 1
        self._loop_s: tuple[float, float] | None = None
        workspace.clip_changed.connect(self.pause)
        workspace.frame_changed.connect(self._frame_moved)

    @property
    def playing(self) -> bool:
        """Whether the clip is playing."""
        return self._timer.isActive()

    @property
    def words(self) -> str:
        """The speed as the coach reads it."""
        return SPEED_WORDS[self.speed]

    def play_or_pause(self) -> None:
        """Play forward from the frame shown, or stop on it."""
        self._start_or_stop(1)

    def play_backward(self) -> None:
        """Play backward from the frame shown, or stop on it."""
        self._start_or_stop(-1)

    def _start_or_stop(self, direction: int) -> None:
        clip = self._workspace.clip
        if self.playing or clip is None:
            self.pause()
            return
        self.direction = direction
        last = clip.frame_count - 1
        if self._workspace.frame == (last if direction > 0 else 0):
            self._workspace.set_frame(0 if direction > 0 else last)
        self._restart()
        self._timer.start()
        self.changed.emit()

    def pause(self) -> None:
        """Stop on the frame shown."""
        if self.playing:
            self._timer.stop()
            self.changed.emit()

    def loop(self, from_s: float, to_s: float) -> None:
        """Play a part of the clip again and again, from its beginning, until ``end_loop``."""
        self._loop_s, self.direction = (from_s, to_s), 1
        self._begin_loop()
        if not self.playing:
            self.play_or_pause()

    def end_loop(self) -> None:
        """Stop; from now on the whole clip is played."""
        self._loop_s = None
        self.pause()

    def _begin_loop(self) -> None:
        clip = self._workspace.clip
        if clip is not None and self._loop_s is not None:
            self._workspace.set_frame(clip.frame_at(self._loop_s[0]))
            self._restart()

    def set_speed(self, speed: float) -> None:
        """Play at one of the SPEEDS."""
        self.change_speed(SPEEDS.index(speed) - SPEEDS.index(self.speed))

    def change_speed(self, steps: int) -> None:
        """Play faster or slower."""
        place = SPEEDS.index(self.speed) + steps
        self.speed = SPEEDS[min(max(place, 0), len(SPEEDS) - 1)]
        self._restart()
        self.changed.emit()

    def _restart(self) -> None:
        clip = self._workspace.clip
        self._own_frame = self._workspace.frame
        self._start_s = float(clip.time_s(self._own_frame)) if clip is not None else 0.0
        self._clock.start()

    def _frame_moved(self, frame: int) -> None:
        if self.playing and frame != self._own_frame:
            self._restart()

    def _tick(self) -> None:
        clip = self._workspace.clip
        if clip is None:
            self.pause()
            return
        in_life_s = self._clock.elapsed() / 1000 * self.speed * self.direction
        now_s = self._start_s + in_life_s / self._workspace.time_scale
        last_s = clip.times_s[-1]
        if self._loop_s is not None and self.direction > 0 and now_s >= min(self._loop_s[1], last_s):
            self._begin_loop()
            return
        self._own_frame = frame_shown_at(clip.times_s, now_s)
        self._workspace.set_frame(self._own_frame)
        if self._own_frame == (clip.frame_count - 1 if self.direction > 0 else 0):
            self.pause()


def frame_shown_at(times_s: np.ndarray, now_s: float) -> int:
    """Return the frame on the screen at a time: the last one that has begun.

    Examples
    --------
    >>> frame_shown_at(np.array([0.0, 0.1, 0.5]), 0.3)
    1
    """
    return max(int(np.searchsorted(times_s, now_s, side="right")) - 1, 0)
