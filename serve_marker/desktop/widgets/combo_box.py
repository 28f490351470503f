"""A list to choose from that opens below its box, with an arrow in the colour of its text."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPolygonF
from PySide6.QtWidgets import QComboBox, QStyle, QStyleOptionComboBox, QStylePainter, QWidget

ARROW_FROM_RIGHT = 15.0
FIELD_EDGE = 4
LINES_SHOWN = 20
"""All aims of a court are seen at once."""


class ComboBox(QComboBox):
    """A box with a list, drawn as the style sheet says; words too long for it are cut with dots."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setMaxVisibleItems(LINES_SHOWN)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QStylePainter(self)
        option = QStyleOptionComboBox()
        self.initStyleOption(option)
        whole = QStyle.ComplexControl.CC_ComboBox
        painter.drawComplexControl(whole, option)
        field = self.style().subControlRect(whole, option, QStyle.SubControl.SC_ComboBoxEditField, self)
        option.currentText = self.fontMetrics().elidedText(
            option.currentText, Qt.TextElideMode.ElideRight, field.width() - FIELD_EDGE
        )
        if not self.isEditable():
            painter.drawControl(QStyle.ControlElement.CE_ComboBoxLabel, option)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self.palette().color(self.foregroundRole()))
        middle = QPointF(self.width() - ARROW_FROM_RIGHT, self.height() / 2)
        corners = [middle + QPointF(-4, -2), middle + QPointF(4, -2), middle + QPointF(0, 3)]
        painter.drawPolygon(QPolygonF(corners))
        painter.end()
