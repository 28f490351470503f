"""Frames for the window, decoded on a lane of their own."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, ThreadPoolExecutor
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject, Qt, Signal

if TYPE_CHECKING:
    from serve_marker.video.clip import Clip
    from serve_marker.video.frames import FrameReader

Frame = NDArray[np.uint8]
AHEAD = 4
CLOSE_BY = 12


class FrameSupply(QObject):
    """Hands out exact frames without ever blocking the window.

    While one frame is being decoded only the newest wish is kept, so a drag shows as many frames
    as can be decoded and ends on the one asked for last. Between wishes the neighbours in the
    direction of travel are decoded ahead.

    Signals
    -------
    frame_ready(index, frame) : array (H, W, 3) RGB, no larger than the size asked for; ``full_frame`` then
        holds the same frame at full resolution.
    failed(exception) : a frame could not be had.
    """

    frame_ready = Signal(int, object)
    failed = Signal(object)
    _answered = Signal(int, object)

    def __init__(self, parent: QObject | None = None, executor: Executor | None = None) -> None:
        super().__init__(parent)
        self._executor = executor or ThreadPoolExecutor(max_workers=1, thread_name_prefix="frames")
        self._reader: FrameReader | None = None
        self._clip: Clip | None = None
        self._generation = 0
        self._working = False
        self._wish: tuple[int, tuple[int, int] | None] | None = None
        self._full: tuple[int, Frame] | None = None
        self._travel = 1
        self._ahead = 0
        self._closed = False
        self._answered.connect(self._arrive, Qt.ConnectionType.QueuedConnection)

    def open(self, clip: Clip | None) -> None:
        """Take frames from this clip from now on; None lets go of the file."""
        self._generation += 1
        self._clip, self._wish, self._full = clip, None, None
        self._ahead = 0
        if not self._closed:
            self._executor.submit(self._let_go)

    def request(self, index: int, size: tuple[int, int] | None = None) -> None:
        """Ask for a frame; ``size`` (w, h) [px] where less than full resolution will do."""
        if self._clip is None or self._closed:
            return
        if self._full is not None and index != self._full[0]:
            step = index - self._full[0]
            self._travel = 1 if step > 0 else -1
            self._ahead = AHEAD if abs(step) <= CLOSE_BY else 0
        self._wish = (index, size)
        self._next()

    def full_frame(self) -> Frame | None:
        """The frame shown last at full resolution, array (H, W, 3) RGB, read-only."""
        return self._full[1] if self._full is not None else None

    @property
    def shown_index(self) -> int | None:
        """The index of the frame handed out last."""
        return self._full[0] if self._full is not None else None

    def close(self) -> None:
        """Close the file and join the thread."""
        if self._closed:
            return
        self._closed = True
        self._generation += 1
        self._wish = None
        self._executor.submit(self._let_go)
        self._executor.shutdown(wait=True)

    def _next(self) -> None:
        if self._working or self._clip is None:
            return
        if self._wish is not None:
            (index, size), self._wish = self._wish, None
            work: Callable[[], Any] = partial(self._fetch, self._clip, index, size)
        elif self._ahead > 0 and self._full is not None:
            index = self._full[0] + self._travel * (AHEAD + 1 - self._ahead)
            self._ahead -= 1
            if not 0 <= index < self._clip.frame_count:
                self._ahead = 0
                return
            work = partial(self._warm, self._clip, index)
        else:
            return
        self._working = True
        future = self._executor.submit(work)
        generation = self._generation
        future.add_done_callback(lambda done: self._answered.emit(generation, done))

    def _arrive(self, generation: int, future: Any) -> None:
        self._working = False
        if self._closed:
            return
        error = future.exception()
        if generation == self._generation:
            if error is not None:
                self._ahead = 0
                self.failed.emit(error)
            elif future.result() is not None:
                index, shown, full = future.result()
                self._full = (index, full)
                self.frame_ready.emit(index, shown)
        self._next()

    # -- on the lane's own thread

    def _reader_of(self, clip: Clip) -> FrameReader:
        from serve_marker.video.frames import FrameReader

        if self._reader is None or self._reader.clip is not clip:
            self._let_go()
            self._reader = FrameReader(clip)
        return self._reader

    def _let_go(self) -> None:
        reader, self._reader = self._reader, None
        if reader is not None:
            reader.close()

    def _fetch(self, clip: Clip, index: int, size: tuple[int, int] | None) -> tuple[int, Frame, Frame]:
        full = self._reader_of(clip).frame(index)
        return index, _shrunk(full, size), full

    def _warm(self, clip: Clip, index: int) -> None:
        self._reader_of(clip).frame(index)


def _shrunk(full: Frame, size: tuple[int, int] | None) -> Frame:
    if size is None or size[0] >= full.shape[1]:
        return full
    import cv2

    shown = np.asarray(cv2.resize(full, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    shown.setflags(write=False)
    return shown
