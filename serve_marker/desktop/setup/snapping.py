"""Clicked landmarks move to the crossing of the painted lines, beside the window, as a step of undo of their own."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject, Signal

from serve_marker.camera.picture.snap import Snapped, snap_all
from serve_marker.desktop.session.view_editor import ViewEditor
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.report.overlay_items import DisplayList, Legend, Pixel, Polyline, Spot

AS_CLICKED = Legend((("ring", "as clicked"),))
LATER = "Landmarks still wait to be moved to their crossings. Set up goes on with it."


class Snapping(QObject):
    """Landmarks wait until four of them make a view; then all that wait are measured in one go.

    ``changed`` says that what is drawn of the last move is there or gone; ``looking`` whether crossings are being
    looked for.
    """

    changed = Signal()
    looking = Signal(bool)

    def __init__(self, workspace: Workspace, making: ViewEditor, frame: Callable[[], NDArray[np.uint8] | None]) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._making = making
        self._frame = frame
        self._worker = Worker("snap", self)
        self._waiting: dict[str, Pixel] = {}
        self._measured: dict[str, Pixel] = {}
        self._moved: tuple[tuple[Pixel, Pixel], ...] = ()
        self._paused = False
        workspace.clip_changed.connect(self._forget)

    @property
    def busy(self) -> bool:
        """Whether landmarks wait for their crossing."""
        return self._worker.busy or (bool(self._waiting) and self._workspace.view is not None)

    def close(self) -> None:
        """Join the worker."""
        self._worker.close()

    def clicked(self, name: str, pixel: Pixel) -> None:
        """A landmark was clicked: move it to its crossing once a view tells where that is."""
        self._show(())
        self._waiting[name] = pixel
        self.measure()

    def keep(self, name: str) -> None:
        """Leave this landmark where it was put."""
        self._waiting.pop(name, None)
        self._show(())

    def items(self) -> DisplayList:
        """Return where the landmarks last moved were clicked, and their way."""
        ways = [Polyline(way, "cursor") for way in self._moved]
        spots = [Spot("ring", before) for before, _ in self._moved]
        return (*ways, *spots, AS_CLICKED) if ways else ()

    def measure(self) -> None:
        """Look for the crossings of what waits, as soon as a view and the whole frame are there."""
        view, frame = self._workspace.view, self._frame()
        if self._paused or view is None or frame is None or not self._waiting or self._worker.busy:
            return
        self._measured, self._waiting = self._waiting, {}
        self._worker.submit(snap_all, frame, self._measured, view, done=self._take)
        self.looking.emit(True)

    def pause(self, paused: bool) -> None:
        """Change no landmark behind the coach's back: while serves are marked, what waits goes on waiting."""
        if paused and not self._paused and self.busy:
            self._workspace.message.emit(LATER)
        self._paused = paused
        if paused and self._worker.busy:
            self._worker.cancel()
            self._waiting = self._measured | self._waiting
            self.looking.emit(False)
        self._show(())
        self.measure()

    def _take(self, found: dict[str, Snapped | None]) -> None:
        self.looking.emit(False)
        now = self._making.marked()
        snapped = {name: one for name, one in found.items() if one is not None and now.get(name) == one.before_px}
        if snapped:
            self._making.move({name: one.after_px for name, one in snapped.items()})
            self._show(tuple((one.before_px, one.after_px) for one in snapped.values()))
            self._workspace.message.emit(_words(snapped))
        self.measure()

    def _show(self, moved: tuple[tuple[Pixel, Pixel], ...]) -> None:
        if moved != self._moved:
            self._moved = moved
            self.changed.emit()

    def _forget(self) -> None:
        self._waiting.clear()
        self._worker.cancel()
        self.looking.emit(False)
        self._show(())


def _words(snapped: dict[str, Snapped]) -> str:
    furthest_px = max(float(np.hypot(*np.subtract(one.after_px, one.before_px))) for one in snapped.values())
    if len(snapped) == 1:
        return f"Moved {furthest_px:.1f} px to the crossing of the lines. Undo takes it back, Shift+click never moves."
    return (
        f"{len(snapped)} landmarks moved to their crossings, {furthest_px:.1f} px at most. "
        "Undo takes it back, Shift+click never moves."
    )
