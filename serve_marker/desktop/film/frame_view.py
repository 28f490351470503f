"""The picture: a frame of the film with the display list over it, zoomed to the pointer and clicked to a tenth of a
pixel.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, QSizeF, Qt, Signal
from PySide6.QtGui import (
    QFocusEvent,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QPainter,
    QPaintEvent,
    QPixmap,
    QResizeEvent,
    QTransform,
    QWheelEvent,
)
from PySide6.QtWidgets import QApplication, QSizePolicy, QWidget

from serve_marker.desktop.film import draggable_marks as pointing
from serve_marker.desktop.widgets.overlay_painter import paint, qimage
from serve_marker.desktop.widgets.text_sizes import scale
from serve_marker.desktop.widgets.theme import FILM, current
from serve_marker.report.overlay_items import Item
from serve_marker.video.pixel_shape import stretch_of

NO_PICTURE = "No picture yet"
ZOOM_MOST = 24.0
ZOOM_STEP = 1.25
GRAB_REACH = 12.0
DRAGS_FROM = 2
"""A mark that was grabbed follows the hand from so many pixels on: it is moved by a few to be corrected."""
MENU_REASONS = (Qt.FocusReason.MenuBarFocusReason, Qt.FocusReason.PopupFocusReason)
ALT, CTRL, SHIFT = (
    Qt.KeyboardModifier.AltModifier,
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.ShiftModifier,
)
STRIDES = {CTRL | ALT: 0.1, ALT: 1.0, ALT | SHIFT: 10.0, CTRL | SHIFT: 60.0}
"""How far an arrow key moves with these keys held, in pixels as shown: nearer film is moved over more finely."""
WAYS = {
    Qt.Key.Key_Left: (-1.0, 0.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, -1.0),
    Qt.Key.Key_Down: (0.0, 1.0),
}


class FrameView(QWidget):
    """Shows one frame in its true shape. Film coordinates are pixels of the full-resolution film as it is stored, which
    need not be square, (0, 0) the first pixel's centre.

    Signals
    -------
    clicked(x_px, y_px, modifiers) : a click, or Enter at the cross-hair.
    hovered(x_px, y_px) : the cross-hair moved, by pointer or key; also outside the film.
    left() : the pointer left the picture.
    dragged_mark(name, x_px, y_px) : a mark was let go at a new place.
    nudged_mark(name, x_px, y_px) : a mark was moved a little by key.
    mark_moving(name, x_px, y_px) : the mark under way, for a live court.
    zoom_changed() : zoom, place or size changed; other pixels may be wanted (``wanted_size``).
    """

    clicked = Signal(float, float, Qt.KeyboardModifier)
    hovered = Signal(float, float)
    left = Signal()
    dragged_mark = Signal(str, float, float)
    nudged_mark = Signal(str, float, float)
    mark_moving = Signal(str, float, float)
    zoom_changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Picture of the clip")
        self.setAccessibleDescription(
            "Alt and an arrow move the cross-hair by a pixel, with Shift by 10. Ctrl and Shift move it by 60. "
            "Enter clicks there, plus and minus zoom."
        )
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setCursor(Qt.CursorShape.CrossCursor)
        self.setMinimumSize(320, 200)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.said_instead = NO_PICTURE
        self._frame: NDArray[np.uint8] | None = None
        self._film_size = QSize()
        self._pixel_aspect = 1.0
        self._items: tuple[Item, ...] = ()
        self._marks: dict[str, tuple[float, float]] = {}
        self._choosable = True
        self._chosen_mark: str | None = None
        self._moving_mark: str | None = None
        self._moving_px: tuple[float, float] | None = None
        self._cursor_px: tuple[float, float] | None = None
        self._cross_hair_moved = False
        self._zoom = 1.0
        self._centre_px = QPointF()
        self._pressed_at: QPointF | None = None
        self._panned = False
        self._ready: QPixmap | None = None

    # -- what it shows

    def set_frame(
        self, frame: NDArray[np.uint8] | None, film_size: tuple[int, int] | None = None, pixel_aspect: float = 1.0
    ) -> None:
        """Show a frame, array (H, W, 3) RGB.

        Parameters
        ----------
        film_size : (w, h) of the film [px] where the array was made smaller.
        pixel_aspect : the width of a pixel of the film over its height.
        """
        self._frame = frame
        size = QSize(*film_size) if film_size else QSize(frame.shape[1], frame.shape[0]) if frame is not None else None
        if size is not None and (size, pixel_aspect) != (self._film_size, self._pixel_aspect):
            self._film_size, self._pixel_aspect = size, pixel_aspect
            self.fit()
        self._changed()

    def say_instead(self, words: str) -> None:
        """Say this where there is no frame to show."""
        self.said_instead = words
        self._changed()

    def set_items(self, items: Sequence[Item]) -> None:
        """Show a display list over the frame."""
        if tuple(items) != self._items:
            self._items = tuple(items)
            self._changed()

    def set_marks(
        self, marks: Mapping[str, tuple[float, float]], chosen: str | None = None, choosable: bool = True
    ) -> None:
        """Show named marks that can be dragged [film px].

        A click chooses a mark that is ``choosable``, and keys nudge it; one chosen before stays so. A click on any
        other is a click on the picture.
        """
        self._marks = dict(marks)
        if self._moving_mark not in self._marks:
            self._moving_mark = None
        elif self._moving_px is not None:
            self._marks[self._moving_mark] = self._moving_px
        self._choosable = choosable
        chosen = chosen if chosen in self._marks else self._chosen_mark
        self._chosen_mark = chosen if choosable and chosen in self._marks else None
        self.update()

    @property
    def marks(self) -> Mapping[str, tuple[float, float]]:
        """Where the marks that can be dragged are [px]."""
        return self._marks

    def set_cursor_px(self, cursor_px: tuple[float, float] | None) -> None:
        """Put the cross-hair at film coordinates, or take it away."""
        self._cursor_px = cursor_px
        self._cross_hair_moved = cursor_px is not None
        self.update()

    def rest_cross_hair(self) -> None:
        """Let no key click at the cross-hair before it is moved again."""
        self._cross_hair_moved = False

    @property
    def cursor_px(self) -> tuple[float, float] | None:
        """Where the cross-hair is [px]."""
        return self._cursor_px

    @property
    def cross_hair_moved(self) -> bool:
        """Whether the cross-hair was moved since it last rested: a key may click there."""
        return self._cross_hair_moved

    @property
    def has_frame(self) -> bool:
        """Whether a frame is on the screen."""
        return self._frame is not None

    @property
    def film_size(self) -> tuple[int, int]:
        """Width and height of the film [px]; (0, 0) without a frame."""
        return max(0, self._film_size.width()), max(0, self._film_size.height())

    @property
    def pixel_aspect(self) -> float:
        """The width of a pixel of the film over its height."""
        return self._pixel_aspect

    @property
    def zoom(self) -> float:
        """1 where the whole picture fits."""
        return self._zoom

    # -- where things are

    def scales(self) -> tuple[float, float]:
        """Widget pixels per film pixel, across and down."""
        if self._film_size.isEmpty():
            return 1.0, 1.0
        wider, higher = stretch_of(self._pixel_aspect)
        fitting = min(
            self.width() / (wider * self._film_size.width()), self.height() / (higher * self._film_size.height())
        )
        scale = max(fitting, 1e-6) * self._zoom
        return wider * scale, higher * scale

    def to_widget(self) -> QTransform:
        """From film coordinates to widget coordinates."""
        across, down = self.scales()
        middle = QRectF(self.rect()).center()
        return QTransform(
            across, 0, 0, down, middle.x() - across * self._centre_px.x(), middle.y() - down * self._centre_px.y()
        )

    def film_to_widget(self, x_px: float, y_px: float) -> QPointF:
        """The widget point of film coordinates."""
        return self.to_widget().map(QPointF(x_px, y_px))

    def widget_to_film(self, point: QPointF) -> tuple[float, float]:
        """The film coordinates under a widget point."""
        film = self._way_in_film(point - QRectF(self.rect()).center()) + self._centre_px
        return film.x(), film.y()

    def _way_in_film(self, way: QPointF) -> QPointF:
        across, down = self.scales()
        return QPointF(way.x() / across, way.y() / down)

    def film_rect(self) -> QRectF:
        """The film's outline in widget coordinates, from outer pixel edge to outer pixel edge."""
        edges = QRectF(QPointF(-0.5, -0.5), QSizeF(self._film_size))
        return self.to_widget().mapRect(edges)

    def wanted_size(self) -> tuple[int, int] | None:
        """The picture size worth decoding to [device px], or None for full resolution."""
        if self._film_size.isEmpty() or self._zoom > 1.0:
            return None
        dense = max(self.scales()) * self.devicePixelRatioF()
        if dense >= 1.0:
            return None
        return round(self._film_size.width() * dense), round(self._film_size.height() * dense)

    # -- zoom

    def fit(self) -> None:
        """Show the whole picture."""
        self._zoom = 1.0
        self._centre_px = QPointF((self._film_size.width() - 1) / 2, (self._film_size.height() - 1) / 2)
        self._changed()
        self.zoom_changed.emit()

    def zoom_by(self, factor: float, at: QPointF | None = None) -> None:
        """Zoom around a widget point, by default the cross-hair; what lies under it stays under it."""
        if self._film_size.isEmpty():
            return
        if at is None:
            at = self.film_to_widget(*self._cursor_px) if self._cursor_px else QRectF(self.rect()).center()
        before = QPointF(*self.widget_to_film(at))
        self._zoom = min(max(self._zoom * factor, 1.0), ZOOM_MOST)
        after = QPointF(*self.widget_to_film(at))
        self._move_centre(before - after)

    def zoom_in(self) -> None:
        """One step nearer."""
        self.zoom_by(ZOOM_STEP)

    def zoom_out(self) -> None:
        """One step back."""
        self.zoom_by(1 / ZOOM_STEP)

    def _move_centre(self, by_px: QPointF) -> None:
        centre = self._centre_px + by_px
        across, down = self.scales()
        self._centre_px = QPointF(
            pointing.held_centre(centre.x(), self._film_size.width(), self.width() / across),
            pointing.held_centre(centre.y(), self._film_size.height(), self.height() / down),
        )
        self._changed()
        self.zoom_changed.emit()

    # -- drawing

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        if self._ready is None:
            self._ready = self._compose()
        painter.drawPixmap(0, 0, self._ready)
        if self._choosable:
            pointing.draw_marks(painter, self._marks, self._chosen_mark, self.to_widget(), QRectF(self.rect()))
        else:
            pointing.draw_handles(painter, self._marks, self.to_widget(), QRectF(self.rect()))
        if self._cursor_px is not None and self._frame is not None:
            pointing.draw_cross_hair(painter, self.film_to_widget(*self._cursor_px))
        if self.hasFocus():
            pointing.draw_focus(painter, self.rect(), current())
        painter.end()

    def _compose(self) -> QPixmap:
        dense = self.devicePixelRatioF()
        pixmap = QPixmap(self.size() * dense)
        pixmap.setDevicePixelRatio(dense)
        pixmap.fill(FILM.of("paper"))
        painter = QPainter(pixmap)
        if self._frame is None:
            painter.setPen(FILM.of("label"))
            inside = self.rect().adjusted(40, 40, -40, -40)
            painter.drawText(inside, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, self.said_instead)
        else:
            painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, min(self.scales()) * dense < 4)
            self._draw_film(painter, dense)
            within = self.film_rect() & QRectF(self.rect())
            paint(painter, self._items, FILM, self.to_widget(), within, scale())
        painter.end()
        return pixmap

    def _draw_film(self, painter: QPainter, dense: float) -> None:
        assert self._frame is not None
        image = qimage(self._frame)
        whole = self.film_rect()
        room = whole.size() * dense
        if self._zoom == 1.0 and (image.width() > room.width() or image.height() > room.height()):
            image = image.scaled(
                room.toSize(),
                Qt.AspectRatioMode.IgnoreAspectRatio,
                Qt.TransformationMode.SmoothTransformation,
            )
        painter.drawImage(whole, image.convertToFormat(QImage.Format.Format_RGB32))

    def _changed(self) -> None:
        self._ready = None
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._move_centre(QPointF())

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._changed()

    # -- pointer

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._pressed_at = event.position()
        self._panned = False
        self._moving_mark = None
        if event.button() == Qt.MouseButton.LeftButton:
            self._moving_mark = pointing.mark_at(self._marks, event.position(), self.to_widget(), GRAB_REACH)
            self._chosen_mark = self._moving_mark if self._choosable else None
            self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        place_px = self.widget_to_film(event.position())
        self._point_at(place_px)
        if self._pressed_at is not None and event.buttons() != Qt.MouseButton.NoButton:
            self._drag(event, place_px)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        pressed_at, self._pressed_at = self._pressed_at, None
        moving, self._moving_mark = self._moving_mark, None
        moved_px, self._moving_px = self._moving_px, None
        if pressed_at is None:
            return
        if moving is not None and moved_px is not None:
            self.dragged_mark.emit(moving, *moved_px)
            return
        if moving is not None and self._choosable:
            return
        if event.button() == Qt.MouseButton.LeftButton and not self._panned:
            self._click(self.widget_to_film(pressed_at), event.modifiers())

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self._pressed_at = None
        if event.button() == Qt.MouseButton.RightButton or not self.film_rect().contains(event.position()):
            self.fit()

    def _drag(self, event: QMouseEvent, place_px: tuple[float, float]) -> None:
        assert self._pressed_at is not None
        moved = event.position() - self._pressed_at
        least = DRAGS_FROM if self._moving_mark is not None else QApplication.startDragDistance()
        if not self._panned and moved.manhattanLength() < least:
            return
        self._panned = True
        if self._moving_mark is not None:
            self._marks[self._moving_mark] = self._moving_px = place_px
            self.mark_moving.emit(self._moving_mark, *place_px)
            self.update()
        elif self._zoom > 1.0:
            self._pressed_at = event.position()
            self._move_centre(self._way_in_film(-moved))

    def mark_near(self, place_px: tuple[float, float]) -> str:
        """Return the name of the mark that could be dragged from there [film px], "" for none."""
        return pointing.mark_at(self._marks, self.film_to_widget(*place_px), self.to_widget(), GRAB_REACH) or ""

    def _point_at(self, place_px: tuple[float, float]) -> None:
        self.set_cursor_px(place_px)
        self.hovered.emit(*place_px)

    def _click(self, place_px: tuple[float, float], modifiers: Qt.KeyboardModifier) -> None:
        if self._frame is not None and self.film_rect().contains(self.film_to_widget(*place_px)):
            self.clicked.emit(*place_px, modifiers)

    def leaveEvent(self, event: QEvent) -> None:
        self.rest_cross_hair()
        self.left.emit()

    def wheelEvent(self, event: QWheelEvent) -> None:
        pan = pointing.scrolled_by(event)
        if pan is not None and self._zoom > 1.0:
            self._move_centre(self._way_in_film(-pan))
        elif pan is None:
            self.zoom_by(1.0015 ** event.angleDelta().y(), event.position())
        event.accept()

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QNativeGestureEvent) and event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
            self.zoom_by(1.0 + event.value(), event.position())
            return True
        return super().event(event)

    # -- keys

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = Qt.Key(event.key())
        held = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        if key in WAYS and held in STRIDES:
            self._nudge(QPointF(*WAYS[key]) * STRIDES[held])
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self._cursor_px and self._cross_hair_moved:
            self._click(self._cursor_px, event.modifiers() & ~Qt.KeyboardModifier.AltModifier)
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom_in()
        elif key == Qt.Key.Key_Minus:
            self.zoom_out()
        elif key == Qt.Key.Key_0 and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.fit()
        else:
            event.ignore()

    def _nudge(self, way: QPointF) -> None:
        """Move the chosen mark, or else the cross-hair, by so much on the screen."""
        by_px = self._way_in_film(way)
        if self._chosen_mark is not None:
            place = self._marks[self._chosen_mark]
            self._marks[self._chosen_mark] = place[0] + by_px.x(), place[1] + by_px.y()
            self.nudged_mark.emit(self._chosen_mark, *self._marks[self._chosen_mark])
            self.update()
            return
        start = self._cursor_px or self.widget_to_film(QRectF(self.rect()).center())
        self.put_cross_hair(start[0] + by_px.x(), start[1] + by_px.y())

    def put_cross_hair(self, x_px: float, y_px: float) -> None:
        """Move the cross-hair to a place on the film [film px], and show that part of the film."""
        width, height = self.film_size
        place_px = min(max(x_px, 0.0), width - 1.0), min(max(y_px, 0.0), height - 1.0)
        at = self.film_to_widget(*place_px)
        room = QRectF(self.rect()).adjusted(0, 0, -1, -1)
        if not room.contains(at):
            self._move_centre(QPointF(*place_px) - self._centre_px)
        self._point_at(place_px)

    def focusInEvent(self, event: QEvent) -> None:
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        if event.reason() not in MENU_REASONS:
            self.rest_cross_hair()
        self.update()
