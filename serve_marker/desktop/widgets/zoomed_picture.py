"""A picture that fits its place, or is larger and scrolls."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QFrame, QScrollArea

from serve_marker.desktop.widgets.chart_view import ChartView

STEP, LARGEST = 1.25, 4.0


class ZoomedPicture(QScrollArea):
    """Shows a chart or page; plus, minus and 0 zoom, and so does the wheel with Ctrl."""

    def __init__(self, picture: ChartView) -> None:
        super().__init__()
        self.zoom = 1.0
        self._picture = picture
        self.setWidget(picture)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        picture.zoomed_by.connect(self.zoom_by)

    def zoom_by(self, steps: int) -> None:
        """Show it so many steps larger or smaller; 0 fits it in again."""
        wanted = self.zoom * STEP**steps if steps else 1.0
        self.zoom = min(max(1.0, wanted), LARGEST)
        self._place()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place()

    def wheelEvent(self, event: QWheelEvent) -> None:
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.zoom_by(1 if event.angleDelta().y() > 0 else -1)
        else:
            super().wheelEvent(event)

    def _place(self) -> None:
        """Keep what stands in the middle there."""
        bars = self.horizontalScrollBar(), self.verticalScrollBar()
        middles = [(bar.value() + bar.pageStep() / 2) / max(1, bar.maximum() + bar.pageStep()) for bar in bars]
        room = self.maximumViewportSize()
        self._picture.resize(QSize(round(room.width() * self.zoom), round(room.height() * self.zoom)))
        for bar, middle in zip(bars, middles, strict=True):
            bar.setValue(round(middle * (bar.maximum() + bar.pageStep()) - bar.pageStep() / 2))
