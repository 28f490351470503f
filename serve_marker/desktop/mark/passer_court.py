"""The receiving half with passers to be dragged; their floor and their seams follow them."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from serve_marker.court.dimensions import Court
from serve_marker.court.formations import Formation, Passer
from serve_marker.desktop.mark.formation_drawing import draw_name, draw_passer, draw_passers_floor, name_box
from serve_marker.desktop.widgets.theme import Palette, current

GRAB_PX = 20.0
STEP_M = 0.1
BESIDE_M, BEFORE_M, BEHIND_M = 0.5, 0.9, 0.4
PASSER_SIDE_PX = 14.0
WORDS = "net; tinted: seams; thin lines: whose ball"


class PasserCourt(QWidget):
    """The receiving half as the server sees it, with passers that can be dragged or moved by the arrow keys."""

    moved = Signal()

    def __init__(self, court: Court, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Passers on the receiving half; Space takes the next passer, arrows move her")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(420, 440)
        self._court = court
        self.passers: list[Passer] = []
        self.held = 0
        self._dragging = False

    def sizeHint(self) -> QSize:
        return QSize(460, 480)

    def set_passers(self, passers: list[Passer]) -> None:
        """Show passers."""
        self.passers, self.held, self._dragging = list(passers), 0, False
        self.update()

    def place_of(self, passer: Passer) -> QPointF:
        """Where a passer is drawn."""
        return self._point(passer.x_m, passer.y_m)

    def move_to(self, number: int, x_m: float, y_m: float) -> None:
        """Move a passer, kept on the court, to the nearest five centimetres."""
        x_m, y_m = min(max(x_m, 0.0), self._court.width_m), min(max(y_m, 0.0), self._court.half_length_m)
        self.passers[number] = replace(self.passers[number], x_m=round(x_m * 20) / 20, y_m=round(y_m * 20) / 20)
        self.moved.emit()
        self.update()

    def _scale(self) -> float:
        """Pixels per metre."""
        wide_m = self._court.width_m + 2 * BESIDE_M
        deep_m = self._court.half_length_m + BEFORE_M + BEHIND_M
        return min(self.width() / wide_m, self.height() / deep_m)

    def _point(self, x_m: float, y_m: float) -> QPointF:
        scale = self._scale()
        left = (self.width() - self._court.width_m * scale) / 2
        return QPointF(left + x_m * scale, (self._court.half_length_m + BEHIND_M - y_m) * scale)

    def paintEvent(self, event: QPaintEvent) -> None:
        look = current()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._draw_ground(painter, look)
        for number, passer in enumerate(self.passers):
            draw_passer(painter, look, self.place_of(passer), PASSER_SIDE_PX, number == self.held and self.hasFocus())
        for passer in self.passers:
            below = QPointF(0, PASSER_SIDE_PX / 2 + 3 + name_box(passer.label, QFontMetricsF(self.font())).height() / 2)
            draw_name(painter, look, passer.label, self.place_of(passer) + below, self.font())
        painter.end()

    def _draw_ground(self, painter: QPainter, look: Palette) -> None:
        court, width_m, depth_m = self._court, self._court.width_m, self._court.half_length_m
        floor = QRectF(self._point(0, depth_m), self._point(width_m, 0))
        painter.fillRect(floor, look.of("floor"))
        draw_passers_floor(painter, look, Formation("", tuple(self.passers)), court, self._point)
        painter.setPen(QPen(look.of("court-line"), 2.0))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(floor)
        if court.attack_line_m is not None:
            painter.drawLine(self._point(0, court.attack_line_m), self._point(width_m, court.attack_line_m))
        painter.setPen(QPen(look.of("net"), 4.0))
        painter.drawLine(self._point(-BESIDE_M / 2, 0), self._point(width_m + BESIDE_M / 2, 0))
        painter.setPen(QColor(look.muted))
        below = self._point(width_m / 2, 0)
        room = QRectF(0, below.y() + 6, self.width(), self.height() - below.y() - 6)
        painter.drawText(room, Qt.AlignmentFlag.AlignHCenter | Qt.TextFlag.TextWordWrap, WORDS)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        away = [(self.place_of(passer) - event.position()).manhattanLength() for passer in self.passers]
        self._dragging = bool(away) and min(away) <= GRAB_PX
        if self._dragging:
            self.held = away.index(min(away))
            self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if event.buttons() & Qt.MouseButton.LeftButton and self._dragging:
            at = (event.position() - self._point(0.0, 0.0)) / self._scale()
            self.move_to(self.held, at.x(), -at.y())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {
            Qt.Key.Key_Left: (-STEP_M, 0.0),
            Qt.Key.Key_Right: (STEP_M, 0.0),
            Qt.Key.Key_Up: (0.0, STEP_M),
            Qt.Key.Key_Down: (0.0, -STEP_M),
        }
        step = steps.get(Qt.Key(event.key()))
        if step is not None and self.passers:
            passer = self.passers[self.held]
            self.move_to(self.held, passer.x_m + step[0], passer.y_m + step[1])
        elif event.key() == Qt.Key.Key_Space and self.passers:
            self.held = (self.held + 1) % len(self.passers)
            self.update()
        else:
            super().keyPressEvent(event)
