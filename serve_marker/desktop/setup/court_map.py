"""The whole court with its landmarks and lines: which one to click next, which are placed, skipped or open."""

from __future__ import annotations

import math
from collections.abc import Mapping

from PySide6.QtCore import QElapsedTimer, QEvent, QPointF, QRect, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import (
    QAccessible,
    QColor,
    QFocusEvent,
    QHelpEvent,
    QHideEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
    QShowEvent,
)
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from serve_marker.camera.fitting.observations import line_ends
from serve_marker.court.dimensions import Court, landmarks, net_landmarks, painted_lines
from serve_marker.desktop.session.court_words import is_line, landmark_words
from serve_marker.desktop.widgets.accessible_items import DrawnItem, tell_current
from serve_marker.desktop.widgets.plain_text import tooltip
from serve_marker.desktop.widgets.theme import Palette, current

STATE_WORDS = {"next": "click this one next", "placed": "placed", "skipped": "skipped", "open": "not placed yet"}
LINE_STATE_WORDS = {"next": "being traced", "placed": "traced", "open": "can be traced"}
MARGIN_M = 2.6
BREATH_MS = 2600
BREATH_STEP_MS = 60
DOT = 7.0
REACH = 16.0
NET_ASIDE = {"net-top": 1, "antenna-top": 2}
ASIDE_M = 0.9
HANDLE_ON_SIDELINE = 0.84
"""Where along a sideline its handle sits: between the far end line and the far attack line."""
HANDLE = (11.0, 3.5)


class CourtMap(QWidget):
    """A plan of the court seen from above, end a (nearer the camera) below.

    Signals
    -------
    chosen(name) : this landmark is to be clicked next, or this line traced.
    """

    chosen = Signal(str)
    items_role = QAccessible.Role.List

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Landmarks of the court")
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self._court: Court | None = None
        self._places_m: dict[str, tuple[float, float]] = {}
        self._states: dict[str, str] = {}
        self._pointed: str | None = None
        self._breath = QTimer(self)
        self._breath.setInterval(BREATH_STEP_MS)
        self._breath.timeout.connect(self._breathe)
        self._since = QElapsedTimer()

    def set_landmarks(self, court: Court, with_net: bool = False, with_lines: bool = False) -> None:
        """Take the court; ``with_net`` adds the net's top and the antennas beside the sidelines, ``with_lines`` a
        handle on each line that can be traced.
        """
        self._court = court
        self._places_m = {name: (x_m, y_m) for name, (x_m, y_m, _z_m) in landmarks(court).items()}
        if with_net:
            for name, (x_m, y_m, _z_m) in net_landmarks(court, court.net_heights[0].height_m).items():
                self._places_m[name] = (x_m, y_m)
        if with_lines:
            for line, (start, stop) in line_ends(court).items():
                x_m, y_m = start + (stop - start) * (HANDLE_ON_SIDELINE if line in ("left", "right") else 0.5)
                self._places_m[line] = (float(x_m), float(y_m))
        self.update()

    def set_states(self, states: Mapping[str, str]) -> None:
        """Take the state of each landmark by name; those left out are open."""
        self._states = dict(states)
        self._keep_breathing()
        self._tell_reader()
        self.update()

    def state_of(self, name: str) -> str:
        """The landmark's state: next, placed, skipped or open."""
        return self._states.get(name, "open")

    def item_count(self) -> int:
        """How many landmarks and lines there are."""
        return len(self._places_m)

    def drawn_item(self, number: int) -> DrawnItem:
        """What a reader is told of a landmark or line."""
        name = list(self._places_m)[number]
        box = QRect(0, 0, 2 * round(REACH), 2 * round(REACH))
        box.moveCenter(self.place_of(name).toPoint())
        return DrawnItem(self._words(name), box, name == self._pointed)

    def sizeHint(self) -> QSize:
        return QSize(200, 140)

    def minimumSizeHint(self) -> QSize:
        return QSize(200, 280)

    # -- breathing

    def _keep_breathing(self) -> None:
        if self.isVisible() and "next" in self._states.values():
            if not self._breath.isActive():
                self._since.start()
                self._breath.start()
        else:
            self._breath.stop()

    def _breathe(self) -> None:
        for name, state in self._states.items():
            if state == "next" and name in self._places_m and not is_line(name):
                at = self.place_of(name)
                self.update(QRectF(at - QPointF(26, 26), at + QPointF(26, 26)).toRect())

    def showEvent(self, event: QShowEvent) -> None:
        self._keep_breathing()

    def hideEvent(self, event: QHideEvent) -> None:
        self._breath.stop()

    # -- places

    def _scale(self) -> float:
        if self._court is None:
            return 1.0
        room = self.height() - 2 * (self._line_height() + DOT + 2)
        return min(self.width() / (self._court.width_m + 2 * MARGIN_M), room / self._court.length_m)

    def _line_height(self) -> float:
        return float(self.fontMetrics().lineSpacing())

    def _point(self, x_m: float, y_m: float) -> QPointF:
        middle = QRectF(self.rect()).center()
        return middle + QPointF(x_m, -y_m) * self._scale()

    def place_of(self, name: str) -> QPointF:
        """Where a landmark stands in the widget."""
        x_m, y_m = self._places_m[name]
        steps = NET_ASIDE.get(name.split("/")[0], 0)
        return self._point(x_m, y_m) + QPointF(math.copysign(steps * max(ASIDE_M * self._scale(), 2.4 * DOT), x_m), 0)

    def _landmark_at(self, at: QPointF) -> str | None:
        distances = {name: (self.place_of(name) - at).manhattanLength() for name in self._places_m}
        nearest = min(distances, key=lambda name: distances[name], default=None)
        return nearest if nearest is not None and distances[nearest] <= REACH else None

    # -- drawing

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._court is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        look = current()
        self._draw_court(painter, look, self._court)
        for name in self._places_m:
            self._draw_landmark(painter, look, name)
        painter.end()

    def _draw_court(self, painter: QPainter, look: Palette, court: Court) -> None:
        half_width_m, half_length_m = court.width_m / 2, court.length_m / 2
        painter.fillRect(
            QRectF(self._point(-half_width_m, half_length_m), self._point(half_width_m, -half_length_m)),
            look.of("floor"),
        )
        painter.setBrush(look.of("court-line"))
        painter.setPen(QPen(look.of("court-line"), 1))
        for strip_m in painted_lines(court).values():
            painter.drawPolygon(QPolygonF([self._point(float(x), float(y)) for x, y in strip_m]))
        painter.setPen(QPen(look.of("net"), 3))
        painter.drawLine(self._point(-half_width_m - 0.9, 0), self._point(half_width_m + 0.9, 0))
        painter.setPen(QColor(look.muted))
        far, near = QRectF(0, 0, self.width(), self._line_height()), QRectF(0, 0, self.width(), self._line_height())
        far.moveBottom(self._point(0, half_length_m).y() - DOT)
        near.moveTop(self._point(0, -half_length_m).y() + DOT)
        painter.drawText(far, Qt.AlignmentFlag.AlignCenter, "far end")
        painter.drawText(near, Qt.AlignmentFlag.AlignCenter, "end nearer the camera")

    def _draw_landmark(self, painter: QPainter, look: Palette, name: str) -> None:
        at, state = self.place_of(name), self.state_of(name)
        if is_line(name):
            self._draw_handle(painter, look, name, at, state)
            return
        ink, ground, strong = QColor(look.text), QColor(look.panel), look.of("landmark")
        if name == self._pointed:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(look.accent), 2.4))
            painter.drawRoundedRect(QRectF(at - QPointF(14, 14), at + QPointF(14, 14)), 5, 5)
        if state == "next":
            phase = (self._since.elapsed() % BREATH_MS) / BREATH_MS if self._since.isValid() else 0.0
            swell = 0.5 - 0.5 * math.cos(2 * math.pi * phase)
            glow = QColor(strong)
            glow.setAlphaF(0.2 + 0.25 * swell)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(glow)
            painter.drawEllipse(at, DOT + 5 + 7 * swell, DOT + 5 + 7 * swell)
            painter.setPen(QPen(ink, 2))
            painter.setBrush(strong)
            painter.drawEllipse(at, DOT, DOT)
        elif state == "placed":
            painter.setPen(QPen(ink, 1.4))
            painter.setBrush(QColor(look.accent))
            painter.drawEllipse(at, DOT, DOT)
            painter.setPen(QPen(QColor(look.on_accent), 1.8))
            painter.drawPolyline([at + QPointF(-3, 0), at + QPointF(-0.8, 2.6), at + QPointF(3.2, -2.6)])
        elif state == "skipped":
            painter.setPen(QPen(QColor(look.muted), 1.6))
            painter.setBrush(ground)
            painter.drawEllipse(at, DOT - 1, DOT - 1)
            painter.drawLine(at + QPointF(-4, 4), at + QPointF(4, -4))
        else:
            painter.setPen(QPen(ink, 1.6))
            painter.setBrush(ground)
            painter.drawEllipse(at, DOT - 2, DOT - 2)

    def _draw_handle(self, painter: QPainter, look: Palette, line: str, at: QPointF, state: str) -> None:
        """A small bar along the line: outlined while open, filled once traced, strong while it is being traced."""
        along, across = HANDLE if line not in ("left", "right") else HANDLE[::-1]
        grown = 3.0 if state == "next" else 0.0
        box = QRectF(at - QPointF(along + grown, across + grown), at + QPointF(along + grown, across + grown))
        if line == self._pointed:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(look.accent), 2.4))
            painter.drawRoundedRect(box.adjusted(-5, -5, 5, 5), 5, 5)
        fills = {"next": look.of("landmark"), "placed": QColor(look.accent)}
        painter.setPen(QPen(QColor(look.text), 1.4))
        painter.setBrush(fills.get(state, QColor(look.panel)))
        painter.drawRoundedRect(box, 3, 3)

    # -- pointer and keys

    def mousePressEvent(self, event: QMouseEvent) -> None:
        name = self._landmark_at(event.position())
        if event.button() == Qt.MouseButton.LeftButton and name is not None:
            self.chosen.emit(name)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        self._point_at(self._landmark_at(event.position()))
        self.setCursor(Qt.CursorShape.PointingHandCursor if self._pointed else Qt.CursorShape.ArrowCursor)

    def leaveEvent(self, event: QEvent) -> None:
        self._point_at(None)

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QHelpEvent):
            name = self._landmark_at(QPointF(event.pos()))
            QToolTip.showText(event.globalPos(), tooltip(self._words(name) if name else ""), self)
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {
            Qt.Key.Key_Left: QPointF(-1, 0),
            Qt.Key.Key_Right: QPointF(1, 0),
            Qt.Key.Key_Up: QPointF(0, -1),
            Qt.Key.Key_Down: QPointF(0, 1),
        }
        step = steps.get(Qt.Key(event.key()))
        if step is not None and self._places_m:
            self._point_at(self._towards(step))
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space) and self._pointed:
            self.chosen.emit(self._pointed)
        else:
            event.ignore()

    def _towards(self, step: QPointF) -> str:
        start = self._pointed or self._next() or next(iter(self._places_m))
        if self._pointed is None:
            return start
        here = self.place_of(start)
        best, best_cost = start, math.inf
        for name in self._places_m:
            away = self.place_of(name) - here
            along = QPointF.dotProduct(away, step)
            across = abs(away.x() * step.y() - away.y() * step.x())
            if along > 1 and along + 2 * across < best_cost:
                best, best_cost = name, along + 2 * across
        return best

    def _next(self) -> str | None:
        return next((name for name, state in self._states.items() if state == "next"), None)

    def _point_at(self, name: str | None) -> None:
        if name != self._pointed:
            self._pointed = name
            self._tell_reader()
            if name is not None:
                tell_current(self, list(self._places_m).index(name))
            self.update()

    def _words(self, name: str) -> str:
        words = LINE_STATE_WORDS if is_line(name) else STATE_WORDS
        return f"{landmark_words(name)}: {words[self.state_of(name)]}"

    def _tell_reader(self) -> None:
        name = self._pointed or self._next()
        placed = sum(state == "placed" and not is_line(name) for name, state in self._states.items())
        self.setAccessibleDescription(f"{placed} placed" + (f"; {self._words(name)}" if name else ""))

    def focusInEvent(self, event: QFocusEvent) -> None:
        if self._pointed is None:
            self._point_at(self._next())
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self._point_at(None)
