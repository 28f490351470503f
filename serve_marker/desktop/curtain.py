"""What hangs before the picture while a long clip is being opened: its first picture, and how far the reading is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from serve_marker.desktop.theme import current

if TYPE_CHECKING:
    from serve_marker.video.glance import Glance

BAND = 44


class Curtain(QWidget):
    """Covers the picture, so that no click means a clip that is not there yet."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAccessibleName("First picture of the clip being opened")
        self._picture = QImage()
        self._name = self._words = ""
        self.hide()

    def draw(self, glance: Glance) -> None:
        """Show the first picture of a clip."""
        height, width, _ = glance.picture.shape
        self._picture = QImage(glance.picture.data, width, height, 3 * width, QImage.Format.Format_RGB888).copy()
        self._name = glance.path.name
        self.tell(0, 1)
        self.show()
        self.raise_()

    def tell(self, done: int, of: int) -> None:
        """So far is the reading."""
        if not self._picture.isNull():
            self._words = f"Reading the times of all frames of {self._name}, {done / of:.0%}"
            self.setAccessibleDescription(self._words)
            self.update()

    def lift(self) -> None:
        """The clip is there, or will not come."""
        self._picture = QImage()
        self.hide()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        look, room = current(), QRectF(self.rect())
        painter.fillRect(room, QColor(look.window))
        size = self._picture.size().scaled(room.size().toSize(), Qt.AspectRatioMode.KeepAspectRatio)
        film = QRectF(0, 0, size.width(), size.height())
        film.moveCenter(room.center())
        painter.drawImage(film, self._picture)
        band = QRectF(room.left(), room.bottom() - BAND, room.width(), BAND)
        painter.fillRect(band, QColor(look.panel))
        painter.setPen(QColor(look.text))
        painter.drawText(band, Qt.AlignmentFlag.AlignCenter, self._words)
        painter.end()
