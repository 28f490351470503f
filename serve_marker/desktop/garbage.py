"""Garbage of a window is collected by the window's own thread alone.

What Python's collector finds on another thread may be connections of Qt's signals. To take one apart that thread holds
Qt's lock and waits for Python's, while the window, holding Python's, may wait for Qt's: both for ever.
"""

from __future__ import annotations

import gc

from PySide6.QtCore import QObject, QTimer

COLLECT_EVERY_MS = 1000


class GarbageCollection(QObject):
    """Collects as often as Python would, but on the thread of its parent, until it is closed."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        gc.disable()
        self._timer = QTimer(self)
        self._timer.timeout.connect(self.collect)
        self._timer.start(COLLECT_EVERY_MS)

    def close(self) -> None:
        """Let Python collect again as it will; no other thread of the window may be left by then."""
        self._timer.stop()
        gc.enable()

    @staticmethod
    def collect() -> None:
        """Collect the oldest generation that is due, if one is."""
        counted = zip(gc.get_count(), gc.get_threshold(), strict=True)
        due = [generation for generation, (count, limit) in enumerate(counted) if count > limit > 0]
        if due:
            gc.collect(due[-1])
