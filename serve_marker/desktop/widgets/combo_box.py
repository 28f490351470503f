"""A list to choose from that opens below its box, with an arrow in the colour of its text."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPolygonF
from PySide6.QtWidgets import QComboBox

ARROW_FROM_RIGHT = 15.0


class ComboBox(QComboBox):
    """A box with a list, drawn as the style sheet says; style sheets have no arrow of their own."""

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self.palette().color(self.foregroundRole()))
        middle = QPointF(self.width() - ARROW_FROM_RIGHT, self.height() / 2)
        corners = [middle + QPointF(-4, -2), middle + QPointF(4, -2), middle + QPointF(0, 3)]
        painter.drawPolygon(QPolygonF(corners))
        painter.end()
