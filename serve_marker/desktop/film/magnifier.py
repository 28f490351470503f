"""The magnifier: the film's own pixels around the cross-hair, eight times as large, never under the pointer."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from serve_marker.desktop.film.frame_view import FrameView
from serve_marker.desktop.widgets.overlay_painter import qimage
from serve_marker.desktop.widgets.overlay_sizes import HALO
from serve_marker.desktop.widgets.theme import FILM
from serve_marker.video.pixel_shape import stretch_of

PIXELS_ACROSS = 21
ENLARGED = 8
AWAY = 44


class Magnifier(QWidget):
    """A child of the picture that follows its cross-hair at a distance."""

    def __init__(self, picture: FrameView) -> None:
        super().__init__(picture)
        self.setAccessibleName("Magnifier: the pixels around the cross-hair")
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setFixedSize(PIXELS_ACROSS * ENLARGED + 4, PIXELS_ACROSS * ENLARGED + 4)
        self._picture = picture
        self._film: NDArray[np.uint8] | None = None
        self._at_px: tuple[float, float] | None = None
        self._pointed = False
        self.hide()
        picture.hovered.connect(self.follow)
        picture.left.connect(self.leave)

    def set_frame(self, film: NDArray[np.uint8] | None) -> None:
        """The full-resolution frame, array (H, W, 3) RGB, or None while it is not there yet."""
        self._film = film
        self.update()
        if self._pointed and self._at_px is not None:
            self.follow(*self._at_px)

    def follow(self, x_px: float, y_px: float) -> None:
        """Show the pixels around film coordinates and stand aside of them."""
        self._at_px = (x_px, y_px)
        self._pointed = True
        at = self._picture.film_to_widget(x_px, y_px)
        seen = self._film is not None and self._picture.film_rect().contains(at)
        if seen:
            self.move(self._place_beside(at))
            self.raise_()
            self.update()
        self.setVisible(seen)

    def leave(self) -> None:
        """Stand aside until the cross-hair is moved again."""
        self._pointed = False
        self.hide()

    def _place_beside(self, at: QPointF) -> QPoint:
        room = self._picture.rect()
        left = at.x() + AWAY
        if left + self.width() > room.width():
            left = at.x() - AWAY - self.width()
        top = at.y() + AWAY
        if top + self.height() > room.height():
            top = at.y() - AWAY - self.height()
        return QPointF(max(0.0, left), max(0.0, top)).toPoint()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        frame = QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5)
        outline = QPainterPath()
        outline.addRoundedRect(frame, 10, 10)
        painter.setClipPath(outline)
        painter.fillRect(self.rect(), QColor(FILM.panel))
        if self._film is not None and self._at_px is not None:
            self._draw_pixels(painter, self._film, *self._at_px)
        self._draw_cross(painter, QRectF(self.rect()).center())
        painter.setClipping(False)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, width in ((HALO, 3.0), (QColor(FILM.accent), 1.4)):
            painter.setPen(QPen(colour, width))
            painter.drawPath(outline)
        painter.end()

    def _draw_pixels(self, painter: QPainter, film: NDArray[np.uint8], x_px: float, y_px: float) -> None:
        half = PIXELS_ACROSS // 2 + 1
        left, top = math.floor(x_px + 0.5) - half, math.floor(y_px + 0.5) - half
        columns = slice(max(0, left), max(0, left + 2 * half + 1))
        rows = slice(max(0, top), max(0, top + 2 * half + 1))
        cut = film[rows, columns]
        if cut.size == 0:
            return
        middle = QRectF(self.rect()).center()
        across, down = (ENLARGED * by for by in stretch_of(self._picture.pixel_aspect))
        corner = middle + QPointF((columns.start - 0.5 - x_px) * across, (rows.start - 0.5 - y_px) * down)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, False)
        pixels = np.ascontiguousarray(cut)
        painter.drawImage(QRectF(corner.x(), corner.y(), cut.shape[1] * across, cut.shape[0] * down), qimage(pixels))

    def _draw_cross(self, painter: QPainter, middle: QPointF) -> None:
        reach = self.width() / 2
        for colour, width in ((HALO, 3.0), (FILM.of("cursor"), 1.2)):
            painter.setPen(QPen(colour, width))
            for x, y in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                painter.drawLine(middle + QPointF(x, y) * ENLARGED, middle + QPointF(x, y) * reach)
