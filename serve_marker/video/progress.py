"""How long work tells how far it is, and is told to stop."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[int, int], object]
IsCancelled = Callable[[], bool]
PARTS = 1000


class Cancelled(Exception):
    """Work that was told to stop did."""


class ProgressReporter:
    """Hands on progress in thousandths, each once, and raises `Cancelled` where the work is cancelled."""

    def __init__(self, progress: Progress | None, cancelled: IsCancelled | None) -> None:
        self._progress, self._cancelled = progress, cancelled
        self._told = -1

    def reach(self, done: float, of: float) -> None:
        """`done` of the work is behind."""
        if self._cancelled is not None and self._cancelled():
            raise Cancelled
        part = int(PARTS * min(max(done / of, 0.0), 1.0)) if of > 0 else 0
        if self._progress is not None and part > self._told:
            self._told = part
            self._progress(part, PARTS)
