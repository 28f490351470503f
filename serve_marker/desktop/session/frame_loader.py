"""Frames for the window, decoded and scaled on threads of their own."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject, Qt, Signal

from serve_marker.errors import UserError
from serve_marker.video.frame_cache import DEFAULT_CACHE_BYTES

if TYPE_CHECKING:
    from serve_marker.video.clip import Clip
    from serve_marker.video.frame_worker import FrameWorker, Shown

Frame = NDArray[np.uint8]


class FrameLoader(QObject):
    """Hands out exact frames without ever blocking the window.

    The newest wish wins, also in the middle of decoding an older one, so a drag shows as many frames as can be
    decoded and ends on the one asked for last. What lies ahead in the direction of travel is decoded before it is
    asked for.

    Signals
    -------
    frame_ready(index, frame) : array (H, W, 3) RGB, no larger than the size asked for. While frames follow each other
        fast it may be coarser; on rest the same frame comes again sharp, and ``full_frame`` holds it at full
        resolution.
    failed(exception) : a frame could not be had; a UserError, or what nobody expected.
    """

    frame_ready = Signal(int, object)
    failed = Signal(object)
    _arrived = Signal()

    def __init__(self, parent: QObject | None = None, cache_bytes: int = DEFAULT_CACHE_BYTES) -> None:
        super().__init__(parent)
        self._cache_bytes = cache_bytes
        self._worker: FrameWorker | None = None
        self._clip: Clip | None = None
        self._leaving: list[FrameWorker] = []
        self._newest: Shown | Exception | None = None
        self._guard = threading.Lock()
        self._shown_index: int | None = None
        self._full: Frame | None = None
        self._wish: tuple[int, tuple[int, int] | None, bool] | None = None
        self._closed = False
        self._arrived.connect(self._hand_out, Qt.ConnectionType.QueuedConnection)

    def set_cache_bytes(self, cache_bytes: int) -> None:
        """Keep frames up to this many bytes from now on; the frame asked for last is decoded anew."""
        if cache_bytes != self._cache_bytes:
            wish, self._cache_bytes = self._wish, cache_bytes
            self.open(self._clip)
            if wish is not None:
                self.request(*wish)

    def open(self, clip: Clip | None) -> None:
        """Take frames from this clip from now on; None lets go of the file."""
        self._let_go()
        self._clip, self._wish = clip, None
        if clip is None or self._closed:
            return
        from serve_marker.video.frame_worker import FrameWorker

        self._worker = worker = FrameWorker(
            clip,
            answered=lambda shown: self._put(worker, shown),
            failed=lambda _index, error: self._put(worker, error),
            cache_bytes=self._cache_bytes,
        )

    def request(self, index: int, size: tuple[int, int] | None = None, dragging: bool = False) -> None:
        """Ask for a frame; ``size`` (w, h) [px] where less than full resolution will do.

        While ``dragging`` the nearest key frame is shown at once, and the exact frame on rest.
        """
        if self._worker is None:
            return
        self._wish = (index, size, dragging)
        try:
            self._worker.want(index, size, dragging)
        except UserError as error:
            self.failed.emit(error)

    def full_frame(self) -> Frame | None:
        """The frame shown at full resolution, array (H, W, 3) RGB, read-only; None before the film rests on it."""
        return self._full

    @property
    def shown_index(self) -> int | None:
        """The index of the frame handed out last."""
        return self._shown_index

    def close(self) -> None:
        """Close the file and join the threads, but for one that does not end."""
        self._closed = True
        self._let_go()
        for worker in self._leaving:
            worker.close()
        self._leaving.clear()

    def _let_go(self) -> None:
        with self._guard:
            worker, self._worker, self._newest = self._worker, None, None
        self._shown_index = self._full = None
        self._leaving = [left for left in self._leaving if left.running]
        if worker is not None:
            worker.stop()
            self._leaving.append(worker)

    def _put(self, worker: FrameWorker, answer: Shown | Exception) -> None:
        """From the worker's thread: what the window has not taken yet is overtaken."""
        with self._guard:
            if worker is not self._worker:
                return
            told, self._newest = self._newest is not None, answer
        if not told:
            self._arrived.emit()

    def _hand_out(self) -> None:
        with self._guard:
            answer, self._newest = self._newest, None
        if isinstance(answer, Exception):
            self.failed.emit(answer)
        elif answer is not None:
            self._shown_index, self._full = answer.index, answer.full
            self.frame_ready.emit(answer.index, answer.picture)
