"""Work off the window's thread: one worker per kind of work, the newest request wins."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal

from serve_marker.errors import UserError

END_S = 1.0
"""How long work that was told to stop may take to end; a window that closes goes without it then."""


@dataclass(frozen=True, eq=False)
class _Request:
    work: Callable[..., Any]
    args: tuple[Any, ...]
    done: Callable[[Any], object]
    failed: Callable[[BaseException], object] | None


class Worker(QObject):
    """One worker thread. Answers arrive on the thread that made the worker; an overtaken answer is dropped.

    ``progressed`` may be emitted by the work itself (done, of how many); ``cancelled()`` tells the
    work, from its own thread, that its answer is no longer wanted.
    """

    progressed = Signal(int, int)
    busy_changed = Signal(bool)
    _finished = Signal(object, object, object)

    def __init__(self, name: str, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(name)
        self._changed = threading.Condition()
        self._thread: threading.Thread | None = None
        self._expected: _Request | None = None
        self._waiting: _Request | None = None
        self._running: _Request | None = None
        self._closed = False
        self._end_by_s = 0.0
        self._finished.connect(self._deliver, Qt.ConnectionType.QueuedConnection)

    @property
    def busy(self) -> bool:
        """Whether an answer is still expected."""
        return self._expected is not None

    def submit(
        self,
        work: Callable[..., Any],
        *args: Any,
        done: Callable[[Any], object],
        failed: Callable[[BaseException], object] | None = None,
    ) -> None:
        """Run ``work(*args)`` on the worker and hand its answer to ``done``, its exception to ``failed``.

        An exception that is no UserError, and one without ``failed``, is raised on the window's thread besides.
        """
        if self._closed:
            return
        was_busy = self.busy
        with self._changed:
            self._expected = self._waiting = _Request(work, args, done, failed)
            self._changed.notify()
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name=self.objectName(), daemon=True)
            self._thread.start()
        if not was_busy:
            self.busy_changed.emit(True)

    def cancel(self) -> None:
        """Forget what was asked for; work that looks at ``cancelled()`` stops early."""
        was_busy = self.busy
        with self._changed:
            self._expected = self._waiting = None
        if was_busy:
            self.busy_changed.emit(False)

    def cancelled(self) -> bool:
        """Whether the work now running has been overtaken, cancelled or closed (asked from the work's thread)."""
        return self._closed or self._running is not self._expected

    def stop(self) -> None:
        """Take no more work, and tell what runs that it is cancelled; returns at once."""
        with self._changed:
            if not self._closed:
                self._end_by_s = time.monotonic() + END_S
            self._closed = True
            self._expected = self._waiting = None
            self._changed.notify()

    def close(self) -> None:
        """Stop, and join the thread; work deaf to ``cancelled()`` is left behind after a second, unanswered."""
        self.stop()
        if self._thread is not None:
            self._thread.join(max(0.0, self._end_by_s - time.monotonic()))

    def _run(self) -> None:
        while self._take_next():
            self._do()

    def _take_next(self) -> bool:
        """Wait for work; False once closed."""
        with self._changed:
            self._running = None
            while self._waiting is None and not self._closed:
                self._changed.wait()
            self._running, self._waiting = self._waiting, None
            return not self._closed

    def _do(self) -> None:
        request = self._running
        assert request is not None
        answer, error = None, None
        try:
            answer = request.work(*request.args)
        except BaseException as raised:  # noqa: BLE001 - raised on the window's thread
            error = raised
        with self._changed:
            if not self._closed:
                self._finished.emit(request, answer, error)

    def _deliver(self, request: _Request, answer: Any, error: BaseException | None) -> None:
        if request is not self._expected or self._closed:
            return
        self._expected = None
        self.busy_changed.emit(False)
        if error is None:
            request.done(answer)
            return
        if request.failed is not None:
            request.failed(error)
        if request.failed is None or not isinstance(error, UserError):
            raise error
