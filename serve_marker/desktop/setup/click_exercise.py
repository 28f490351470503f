"""Ten points clicked twice tell how finely a coach clicks; nothing is drawn that would lead the hand."""

from __future__ import annotations

import math

from PySide6.QtCore import QObject, Signal

from serve_marker.camera.fitting.repeatability import own_click
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import landmarks
from serve_marker.desktop.session.court_words import landmark_words
from serve_marker.desktop.session.view_editor import ViewEditor
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.report.overlay_items import DisplayList, Pixel, Polyline

POINTS = 10
ROUND_SHARE = 0.028
"""Radius of the circle that shows where to look, over the picture's width."""
ASIDE = ((0.5, 0.2), (-0.3, 0.5), (-0.5, -0.3), (0.2, -0.5))
"""How far the circle stands off its point, in radii, so that its middle is no hint."""


def exercise_points(view: View) -> list[tuple[str, tuple[float, float]]]:
    """``POINTS`` landmarks to click twice, with where the view has them; fewer in the picture come up again."""
    places = landmarks(view.court)
    pixels = view.project(list(places.values()))
    width, height = view.image_size
    shown = [
        (name, (float(x), float(y)))
        for name, (x, y) in zip(places, pixels, strict=True)
        if 0 <= x <= width - 1 and 0 <= y <= height - 1
    ]
    return [shown[i % len(shown)] for i in range(POINTS)] if shown else []


class ClickExercise(QObject):
    """Asks for each point in turn, twice over; ``changed`` says that it goes on or has ended."""

    changed = Signal()

    def __init__(self, workspace: Workspace, making: ViewEditor) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._making = making
        self._points: list[tuple[str, Pixel]] = []
        self._clicks: list[Pixel] = []
        workspace.clip_changed.connect(self.stop)

    @property
    def running(self) -> bool:
        """Whether clicks belong to the exercise."""
        return bool(self._points)

    @property
    def words(self) -> str:
        """What to click now."""
        name, _ = self._now()
        done, total = len(self._clicks), 2 * len(self._points)
        return f"Exercise {done + 1} of {total}, click: {landmark_words(name)}"

    def begin(self) -> None:
        """Start over with the points the view shows."""
        view = self._workspace.view
        if view is None:
            raise UserError("Set up the view first. The exercise uses its landmarks.")
        points = exercise_points(view)
        if not points:
            raise UserError("No landmark of this view is in the picture. The exercise needs some.")
        self._points, self._clicks = points, []
        self._workspace.message.emit(f"Click each of {len(points)} points as carefully as a landing, twice. I ends it.")
        self.changed.emit()

    def stop(self) -> None:
        """End without a result."""
        if self.running:
            self._points, self._clicks = [], []
            self.changed.emit()

    def click(self, pixel: Pixel) -> None:
        """Take a click on the point asked for; after the last one the result is kept."""
        self._clicks.append(pixel)
        count = len(self._points)
        if len(self._clicks) < 2 * count:
            self.changed.emit()
            return
        found = own_click(self._clicks[:count], self._clicks[count:])
        self.stop()
        self._making.keep_own_click(found.sd_px)
        self._workspace.message.emit(f"{found.words} Every landing counts with that from now on, in all stored views.")

    def items(self) -> DisplayList:
        """Return a circle around where to look."""
        _, (x_px, y_px) = self._now()
        clip = self._workspace.clip
        radius_px = ROUND_SHARE * (clip.width if clip else 0)
        aside = ASIDE[len(self._clicks) % len(ASIDE)]
        middle = (x_px + aside[0] * radius_px, y_px + aside[1] * radius_px)
        turns = [2 * math.pi * k / 48 for k in range(48)]
        ring = tuple((middle[0] + radius_px * math.cos(t), middle[1] + radius_px * math.sin(t)) for t in turns)
        return (Polyline(ring, "aim", closed=True),)

    def _now(self) -> tuple[str, Pixel]:
        return self._points[len(self._clicks) % len(self._points)]
