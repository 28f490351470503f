"""What hangs before the picture while a long clip is being opened: its first picture, and how far the reading is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPaintEvent, QResizeEvent, QTransform
from PySide6.QtWidgets import QWidget

from serve_marker.desktop.widgets.theme import current
from serve_marker.video.pixel_shape import stretch_of

if TYPE_CHECKING:
    from serve_marker.video.glance import Glance

BAND = 44


class LoadingOverlay(QWidget):
    """Covers the picture, so that no click means a clip that is not there yet."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAccessibleName("First picture of the clip being opened")
        self._picture = QImage()
        self._fitted = QImage()
        self._name = self._words = ""
        self.hide()

    def show_preview(self, glance: Glance) -> None:
        """Show the first picture of a clip."""
        height, width, _ = glance.picture.shape
        stored = QImage(glance.picture.data, width, height, 3 * width, QImage.Format.Format_RGB888)
        self._picture = stored.transformed(QTransform.fromScale(*stretch_of(glance.pixel_aspect))).copy()
        self._fitted = QImage()
        self._name = glance.path.name
        self.set_progress(0, 1)
        self.show()
        self.raise_()

    def set_progress(self, done: int, of: int) -> None:
        """So far is the reading."""
        if not self._picture.isNull():
            self._words = f"Reading the times of all frames of {self._name}, {done / of:.0%}"
            self.setAccessibleDescription(self._words)
            self.update()

    def hide_preview(self) -> None:
        """The clip is there, or will not come."""
        self._picture = QImage()
        self.hide()

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._fitted = QImage()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        look, room = current(), QRectF(self.rect())
        painter.fillRect(room, QColor(look.window))
        if self._fitted.isNull():
            self._fitted = self._picture.scaled(
                self.size(), Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
            )
        film = QRectF(self._fitted.rect())
        film.moveCenter(room.center())
        painter.drawImage(film.topLeft(), self._fitted)
        band = QRectF(room.left(), room.bottom() - BAND, room.width(), BAND)
        painter.fillRect(band, QColor(look.panel))
        painter.setPen(QColor(look.text))
        painter.drawText(band, Qt.AlignmentFlag.AlignCenter, self._words)
        painter.end()
