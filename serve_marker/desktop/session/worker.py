"""Work off the window's thread: one worker per kind of work, the newest request wins."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal


@dataclass(frozen=True)
class _Request:
    token: int
    future: Future[Any]
    done: Callable[[Any], object]
    failed: Callable[[BaseException], object] | None


class Worker(QObject):
    """One worker thread. Answers arrive on the thread that made the worker; an overtaken answer is dropped.

    ``progressed`` may be emitted by the work itself (done, of how many); ``cancelled()`` tells the
    work, from its own thread, that its answer is no longer wanted.
    """

    progressed = Signal(int, int)
    busy_changed = Signal(bool)
    _finished = Signal(int)

    def __init__(self, name: str, parent: QObject | None = None, executor: Executor | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(name)
        self._executor = executor or ThreadPoolExecutor(max_workers=1, thread_name_prefix=name)
        self._newest = 0
        self._running = 0
        self._request: _Request | None = None
        self._closed = False
        self._finished.connect(self._deliver, Qt.ConnectionType.QueuedConnection)

    @property
    def busy(self) -> bool:
        """Whether an answer is still expected."""
        return self._request is not None

    def submit(
        self,
        work: Callable[..., Any],
        *args: Any,
        done: Callable[[Any], object],
        failed: Callable[[BaseException], object] | None = None,
    ) -> None:
        """Run ``work(*args)`` on the worker and hand its answer to ``done``, its exception to ``failed``.

        An exception nobody asked for is raised on the window's thread.
        """
        if self._closed:
            return
        was_busy = self._drop()
        self._newest += 1
        token = self._newest
        future = self._executor.submit(self._run, token, work, args)
        self._request = _Request(token, future, done, failed)
        future.add_done_callback(lambda _future: self._finished.emit(token))
        if not was_busy:
            self.busy_changed.emit(True)

    def cancel(self) -> None:
        """Forget what was asked for; work that looks at ``cancelled()`` stops early."""
        self._newest += 1
        if self._drop():
            self.busy_changed.emit(False)

    def cancelled(self) -> bool:
        """Whether the work now running has been overtaken, cancelled or closed (asked from the work's thread)."""
        return self._closed or self._running != self._newest

    def close(self) -> None:
        """Drop what waits, let the running work end, and join the thread."""
        self._closed = True
        self._drop()
        self._executor.shutdown(wait=True, cancel_futures=True)

    def _drop(self) -> bool:
        request, self._request = self._request, None
        if request is not None:
            request.future.cancel()
        return request is not None

    def _run(self, token: int, work: Callable[..., Any], args: tuple[Any, ...]) -> Any:
        self._running = token
        return work(*args)

    def _deliver(self, token: int) -> None:
        request = self._request
        if request is None or request.token != token or self._closed:
            return
        self._request = None
        error = request.future.exception()
        self.busy_changed.emit(False)
        if error is None:
            request.done(request.future.result())
        elif request.failed is not None:
            request.failed(error)
        else:
            raise error
