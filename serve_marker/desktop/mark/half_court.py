"""The receiving half as the server sees it: net below, end line above, areas by name."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike
from PySide6.QtCore import QEvent, QPointF, QSize, Qt, Signal
from PySide6.QtGui import (
    QAccessible,
    QColor,
    QFocusEvent,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPixmap,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from serve_marker.court.aims import Aim
from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.desktop.mark.half_court_drawing import HalfCourtDrawing, Landing, Live, Passers
from serve_marker.desktop.widgets.accessible_items import DrawnItem, tell_current
from serve_marker.desktop.widgets.plain_text import tooltip
from serve_marker.desktop.widgets.text_sizes import pixels
from serve_marker.desktop.widgets.theme import current
from serve_marker.report.overlay_items import SHAPE_WORDS

LANDING_REACH = 9.0
LEAST_SIZE_PX = (240, 150)


class HalfCourt(QWidget):
    """Where serves land and where the live one would.

    Signals
    -------
    aim_picked(text) : an area's name was picked as the aim, or "" to have none.
    landing_chosen(serve_id) : an earlier landing was clicked with Ctrl; a plain click there means the aim too.
    """

    aim_picked = Signal(str)
    landing_chosen = Signal(str)
    items_role = QAccessible.Role.List

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Receiving half as the server sees it")
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self._drawing: HalfCourtDrawing | None = None
        self._aim: Aim | None = None
        self._live: Live | None = None
        self._words: tuple[str, ...] = ()
        self._landings: tuple[Landing, ...] = ()
        self._passers: Passers | None = None
        self._pointed: str | None = None
        self._ground: QPixmap | None = None

    def set_court(self, court: Court, scheme: AreaScheme) -> None:
        """Take the court and its areas."""
        self._drawing = HalfCourtDrawing(court, scheme)
        self._changed()

    def set_aim(self, aim: Aim | None) -> None:
        """Tint the aim, or nothing."""
        self._aim = aim
        self._tell_reader()
        self._changed()

    def set_passers(self, passers: Passers | None) -> None:
        """Draw the passers with their floor and their seams, or none."""
        if passers != self._passers:
            self._passers = passers
            self._tell_reader()
            self._changed()

    def set_live(
        self, x_m: float | None, y_m: float | None, cov_m2: ArrayLike | None, words: str | Sequence[str]
    ) -> None:
        """Show a place in the half frame [m] with its 95 % error ellipse, and the words for it; None or NaN: no place.

        Parameters
        ----------
        cov_m2 : (2, 2) covariance in the half frame [m2].
        words : up to four lines; the first is set largest ("deep 1", "in, 0.8 m", "+-0.07 m", "52 km/h").
        """
        self._words = tuple(words.splitlines()) if isinstance(words, str) else tuple(words)
        self._live = None
        if x_m is not None and y_m is not None and np.isfinite([x_m, y_m]).all():
            cov = np.full((2, 2), np.nan) if cov_m2 is None else np.asarray(cov_m2, dtype=float).reshape(2, 2)
            self._live = Live(x_m, y_m, cov)
        self._tell_reader()
        self.update()

    def clear_live(self, words: str | Sequence[str] = ()) -> None:
        """Take the live place away."""
        self.set_live(None, None, None, words)

    def set_landings(self, landings: Sequence[tuple[float, float, str, str, str]]) -> None:
        """Take earlier landings: (x_m, y_m in the half frame, shape, label, serve id)."""
        kept = tuple(Landing(*landing) for landing in landings)
        if kept != self._landings:
            self._landings = kept
            self._changed()

    @property
    def words(self) -> tuple[str, ...]:
        """The lines below the court."""
        return self._words

    def sizeHint(self) -> QSize:
        return QSize(*map(pixels, LEAST_SIZE_PX))

    def minimumSizeHint(self) -> QSize:
        return QSize(*map(pixels, LEAST_SIZE_PX))

    def item_count(self) -> int:
        """How many areas and earlier landings there are."""
        return len(self._drawing.areas) + len(self._landings) if self._drawing is not None else 0

    def drawn_item(self, number: int) -> DrawnItem:
        """What a reader is told of an area, or of a landing in one."""
        assert self._drawing is not None
        areas = self._drawing.areas
        if number < len(areas):
            area = areas[number]
            words = f"{area}, the aim" if self._aim is not None and self._aim.text == area else area
            return DrawnItem(words, self._drawing.area_box(area).toRect(), area == self._pointed)
        landing = self._landings[number - len(areas)]
        box = self._drawing.box_of(landing)
        place = self._drawing.area_at(box.center()) or "out"
        return DrawnItem(f"{landing.label}, {SHAPE_WORDS[landing.shape]}, {place}", box.toRect())

    # -- drawing

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._drawing is None:
            return
        look = current()
        if self._ground is None:
            dense = self.devicePixelRatioF()
            self._ground = QPixmap(self.size() * dense)
            self._ground.setDevicePixelRatio(dense)
            self._ground.fill(QColor(look.window))
            painter = QPainter(self._ground)
            self._drawing.draw_ground(painter, look, self._aim, self._landings, self._passers, self.font())
            painter.end()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.drawPixmap(0, 0, self._ground)
        if self._pointed is not None:
            self._drawing.draw_pointed(painter, look, self._pointed, self.hasFocus())
        if self._live is not None:
            self._drawing.draw_live(painter, look, self._live)
        self._drawing.draw_words(painter, look, self._words, self.font())
        painter.end()

    def _changed(self) -> None:
        if self._drawing is not None:
            self._drawing.lay_out(self.width(), self.height())
        self._ground = None
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._changed()

    def changeEvent(self, event: QEvent) -> None:
        if event.type() in (QEvent.Type.PaletteChange, QEvent.Type.StyleChange, QEvent.Type.FontChange):
            self._changed()
            self.updateGeometry()
        super().changeEvent(event)

    # -- pointer and keys

    def _landing_at(self, at: QPointF) -> Landing | None:
        if self._drawing is None or not self._landings:
            return None
        places = [self._drawing.place(landing.x_m, landing.y_m) for landing in self._landings]
        distances = [(place - at).manhattanLength() for place in places]
        nearest = int(np.argmin(distances))
        return self._landings[nearest] if distances[nearest] <= LANDING_REACH else None

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton or self._drawing is None:
            return
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            landing = self._landing_at(event.position())
            if landing is not None:
                self.landing_chosen.emit(landing.serve_id)
        elif area := self._drawing.area_at(event.position()):
            self.aim_picked.emit(area)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._drawing is not None:
            self._point_at(self._drawing.area_at(event.position()) or None)
            clickable = self._pointed is not None or self._landing_at(event.position()) is not None
            self.setCursor(Qt.CursorShape.PointingHandCursor if clickable else Qt.CursorShape.ArrowCursor)

    def leaveEvent(self, event: QEvent) -> None:
        self._point_at(None)

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QHelpEvent):
            landing = self._landing_at(QPointF(event.pos()))
            area = self._drawing.area_at(QPointF(event.pos())) if self._drawing else ""
            words = f"Aim at {area}" if area else ""
            if landing is not None:
                words = f"{landing.label}\nCtrl and a click choose this serve"
            QToolTip.showText(event.globalPos(), tooltip(words), self)
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {
            Qt.Key.Key_Left: (0, -1),
            Qt.Key.Key_Right: (0, 1),
            Qt.Key.Key_Up: (-1, 0),
            Qt.Key.Key_Down: (1, 0),
        }
        step = steps.get(Qt.Key(event.key()))
        if step is not None:
            self._step(*step)
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space) and self._pointed:
            self.aim_picked.emit(self._pointed)
        elif event.key() in (Qt.Key.Key_Backspace, Qt.Key.Key_Delete):
            self.aim_picked.emit("")
        else:
            event.ignore()

    def _step(self, rows: int, columns: int) -> None:
        if self._drawing is None:
            return
        areas = self._drawing.areas
        if self._pointed not in areas:
            self._point_at(self._aim.text if self._aim is not None and self._aim.text in areas else areas[0])
            return
        row, column = divmod(areas.index(self._pointed), 3)
        self._point_at(areas[min(max(row + rows, 0), 2) * 3 + min(max(column + columns, 0), 2)])

    def _point_at(self, area: str | None) -> None:
        if area != self._pointed:
            self._pointed = area
            self._tell_reader()
            if area is not None and self._drawing is not None:
                tell_current(self, self._drawing.areas.index(area))
            self.update()

    def focusInEvent(self, event: QFocusEvent) -> None:
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self.update()

    def _tell_reader(self) -> None:
        aim = f"aim {self._aim.text}" if self._aim is not None else "no aim"
        pointed = f"; on {self._pointed}, Enter takes it as the aim" if self._pointed else ""
        at = [f"against {self._passers.formation.name}"] if self._passers is not None else []
        self.setAccessibleDescription("; ".join([*self._words, aim, *at]) + pointed)
