"""A drawn chart in the window: landings in it can be pointed at, stepped through and followed to the film."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QPoint, QPointF, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QAccessible,
    QFocusEvent,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from serve_marker.desktop.widgets.accessible_items import DrawnItem, tell_current
from serve_marker.desktop.widgets.plain_text import tooltip
from serve_marker.desktop.widgets.pointable_landings import NO_POINTS, ChartPoint, ChartPoints
from serve_marker.desktop.widgets.theme import current

POINT_REACH_PX = 12.0
ZOOM_KEYS = {"+": 1, "-": -1, "0": 0}


class ChartView(QWidget):
    """Shows a picture at its own size, smaller where there is less room.

    Signals
    -------
    point_chosen(serve_id) : a landing was clicked, or Return pressed on it.
    resized() : there is more or less room for a chart.
    pointed(serve_id) : a landing is pointed at, "" where none is any more.
    zoomed_by(steps) : plus, minus or 0 was pressed.
    """

    point_chosen = Signal(str)
    resized = Signal()
    pointed = Signal(str)
    zoomed_by = Signal(int)
    items_role = QAccessible.Role.Chart

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Chart")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self._image: QImage | None = None
        self._shrunk: QImage | None = None
        self._points = NO_POINTS
        self._pointed: int | None = None

    def sizeHint(self) -> QSize:
        return QSize(760, 460)

    def set_chart(self, pixels: NDArray[np.uint8] | None, points: ChartPoints = NO_POINTS) -> None:
        """Show a chart, array (H, W, 4) RGBA, with the landings in it; None shows nothing."""
        self._image = None if pixels is None else image_of(pixels)
        self._shrunk = None
        self._points = points
        self._point_at(None)

    def item_count(self) -> int:
        """How many landings can be pointed at."""
        return len(self._points)

    def drawn_item(self, number: int) -> DrawnItem:
        """What a reader is told of a landing."""
        point = self._points[number]
        box = QRect(0, 0, 2 * round(POINT_REACH_PX), 2 * round(POINT_REACH_PX))
        box.moveCenter(self.place_of(point).toPoint())
        return DrawnItem(point.words, box, number == self._pointed)

    def has_chart(self) -> bool:
        """Whether a chart is shown."""
        return self._image is not None

    def place_of(self, point: ChartPoint) -> QPointF:
        """Return where a landing lies in the widget."""
        box = self._box()
        return QPointF(box.left() + point.across * box.width(), box.top() + point.down * box.height())

    def _box(self) -> QRectF:
        if self._image is None:
            return QRectF(self.rect())
        size = self._image.size().scaled(self.size() * self.devicePixelRatioF(), Qt.AspectRatioMode.KeepAspectRatio)
        shown = QSize(min(size.width(), self._image.width()), min(size.height(), self._image.height()))
        width, height = (length / self.devicePixelRatioF() for length in (shown.width(), shown.height()))
        return QRectF((self.width() - width) / 2, 0.0, width, height)

    def _at_size(self, box: QRectF) -> QImage:
        """Return the picture with as many dots as the box has, so that small letters stay readable."""
        image = self._image or QImage()
        dots = (box.size() * self.devicePixelRatioF()).toSize()
        if self._shrunk is None or self._shrunk.size() != dots:
            keep, smooth = Qt.AspectRatioMode.IgnoreAspectRatio, Qt.TransformationMode.SmoothTransformation
            self._shrunk = image if image.size() == dots else image.scaled(dots, keep, smooth)
        return self._shrunk

    def _point_at(self, index: int | None) -> None:
        self._pointed = index
        words = "" if index is None else self._points[index].words
        self.setAccessibleDescription(words)
        self.pointed.emit("" if index is None else self._points[index].serve_id)
        self.update()

    def _tell(self, at: QPoint) -> None:
        words = self.accessibleDescription()
        QToolTip.showText(at, tooltip(words), self)

    def _nearest(self, at: QPointF) -> int | None:
        if not len(self._points):
            return None
        box = self._box()
        corner, size = np.array([box.left(), box.top()]), np.array([box.width(), box.height()])
        away = np.abs(corner + self._points.places * size - (at.x(), at.y())).sum(axis=1)
        nearest = int(np.argmin(away))
        return nearest if away[nearest] < POINT_REACH_PX and self._points[nearest].serve_id else None

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        nearest = self._nearest(event.position())
        if nearest != self._pointed:
            self._point_at(nearest)
            self.setCursor(Qt.CursorShape.ArrowCursor if nearest is None else Qt.CursorShape.PointingHandCursor)
            self._tell(event.globalPosition().toPoint())

    def mousePressEvent(self, event: QMouseEvent) -> None:
        nearest = self._nearest(event.position())
        if nearest is not None and event.button() == Qt.MouseButton.LeftButton:
            self._point_at(nearest)
            self.point_chosen.emit(self._points[nearest].serve_id)

    def leaveEvent(self, event: QEvent) -> None:
        self._point_at(None)
        super().leaveEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = {Qt.Key.Key_Right: 1, Qt.Key.Key_Down: 1, Qt.Key.Key_Left: -1, Qt.Key.Key_Up: -1}.get(
            Qt.Key(event.key())
        )
        if step is not None and self._points:
            start = (-1 if step > 0 else 0) if self._pointed is None else self._pointed
            self._point_at((start + step) % len(self._points))
            tell_current(self, self._pointed or 0)
            self._tell(self.mapToGlobal(self.place_of(self._points[self._pointed or 0]).toPoint()))
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self._pointed is not None:
            self.point_chosen.emit(self._points[self._pointed].serve_id)
        elif event.text() in ZOOM_KEYS:
            self.zoomed_by.emit(ZOOM_KEYS[event.text()])
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.resized.emit()

    def paintEvent(self, event: QPaintEvent) -> None:
        look = current()
        painter = QPainter(self)
        painter.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.SmoothPixmapTransform)
        if self._image is not None:
            box = self._box()
            corners = QPainterPath()
            corners.addRoundedRect(box, 7, 7)
            painter.setClipPath(corners)
            painter.drawImage(box, self._at_size(box))
            painter.setClipping(False)
        if self._pointed is not None:
            painter.setPen(QPen(look.of("focus"), 2.5))
            painter.drawEllipse(self.place_of(self._points[self._pointed]), 10.0, 10.0)
        if self.hasFocus():
            painter.setPen(QPen(look.of("focus"), 2.0))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 7, 7)
        painter.end()


def image_of(pixels: NDArray[np.uint8]) -> QImage:
    """Return pixels (H, W, 4) RGBA or (H, W, 3) RGB as a picture that owns them."""
    height, width, channels = pixels.shape
    kind = QImage.Format.Format_RGBA8888 if channels == 4 else QImage.Format.Format_RGB888
    whole = np.ascontiguousarray(pixels)
    return QImage(whole.data, width, height, channels * width, kind).copy()
