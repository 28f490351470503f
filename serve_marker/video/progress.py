"""How long work tells how far it is, and is told to stop."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[int, int], object]
Cancelled = Callable[[], bool]
PARTS = 1000


class Stopped(Exception):
    """Work that was told to stop did."""


class Told:
    """Hands on progress in thousandths, each once, and raises `Stopped` where the work is cancelled."""

    def __init__(self, progress: Progress | None, cancelled: Cancelled | None) -> None:
        self._progress, self._cancelled = progress, cancelled
        self._told = -1

    def reach(self, done: float, of: float) -> None:
        """`done` of the work is behind."""
        if self._cancelled is not None and self._cancelled():
            raise Stopped
        part = int(PARTS * min(max(done / of, 0.0), 1.0)) if of > 0 else 0
        if self._progress is not None and part > self._told:
            self._told = part
            self._progress(part, PARTS)
