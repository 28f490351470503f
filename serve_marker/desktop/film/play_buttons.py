"""Buttons beside the time bar: one frame back, play, one frame on, the speed, undo."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QAction, QColor, QPainterPath, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import (
    QHBoxLayout,
    QSizePolicy,
    QStyle,
    QStyleOptionToolButton,
    QStylePainter,
    QToolButton,
    QWidget,
)

from serve_marker.desktop.session.playback import Playback
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import pixels, scale
from serve_marker.desktop.widgets.theme import current

SIGNS = {
    "frame_back": "back",
    "play": "play",
    "frame_on": "on",
    "slower": "less",
    "faster": "more",
    "undo": "undo",
}
"""What is drawn on the button of each action."""
WIDTH = 30
REACH = 5.0
"""Half the height of a sign."""


class PlayButton(QToolButton):
    """A button with a drawn sign, the same on every computer."""

    def __init__(self, sign: str) -> None:
        super().__init__()
        self.sign = sign
        self.setProperty("role", "small")
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        return QSize(pixels(WIDTH), super().sizeHint().height())

    def set_sign(self, sign: str) -> None:
        """Draw another sign."""
        self.sign = sign
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter, look = QStylePainter(self), current()
        painter.setRenderHint(QStylePainter.RenderHint.Antialiasing)
        option = QStyleOptionToolButton()
        self.initStyleOption(option)
        option.text = ""
        painter.drawComplexControl(QStyle.ComplexControl.CC_ToolButton, option)
        painter.translate(QRectF(self.rect()).center())
        painter.scale(scale(), scale())
        colour = QColor(look.text if self.isEnabled() else look.muted)
        lines, filled = _sign(self.sign)
        painter.strokePath(lines, QPen(colour, 2.0))
        painter.fillPath(filled, colour)
        painter.end()


class PlayButtons(QWidget):
    """Each does what the key of its action does; ``buttons`` by the id of their action."""

    def __init__(self, player: Playback) -> None:
        super().__init__()
        self._player = player
        self.setAccessibleName("Play the film")
        self.buttons = {action_id: PlayButton(sign) for action_id, sign in SIGNS.items()}
        self.speed = PlainLabel(player.words)
        self.speed.setAccessibleName("Speed")
        self.speed.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._give_room()
        layout = QHBoxLayout(self)
        layout.setContentsMargins(10, 0, 0, 0)
        layout.setSpacing(4)
        for action_id, button in self.buttons.items():
            layout.addWidget(button)
            if action_id == "slower":
                layout.addWidget(self.speed)
        player.changed.connect(self._show_player)

    def set_actions(self, actions: Mapping[str, QAction]) -> None:
        """Let each button stand for the action of that id."""
        for action_id, button in self.buttons.items():
            button.setDefaultAction(actions[action_id])

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._give_room()

    def _give_room(self) -> None:
        """Keep the speed as wide as its longest words, so that no button moves."""
        self.speed.setFixedWidth(self.speed.fontMetrics().horizontalAdvance("1/8 ×") + 8)

    def _show_player(self) -> None:
        self.buttons["play"].set_sign("pause" if self._player.playing else "play")
        self.speed.setText(self._player.words)


def _sign(sign: str) -> tuple[QPainterPath, QPainterPath]:
    """Lines and filled shape of a sign about (0, 0)."""
    lines, filled = QPainterPath(), QPainterPath()
    if sign in ("play", "on", "back"):
        way = -1.0 if sign == "back" else 1.0
        corners = [QPointF(-0.7 * way * REACH, y) for y in (-REACH, REACH)]
        filled.addPolygon(QPolygonF([*corners, QPointF(0.9 * way * REACH, 0)]))
        if sign != "play":
            lines.moveTo(1.1 * way * REACH, -REACH)
            lines.lineTo(1.1 * way * REACH, REACH)
    elif sign == "pause":
        for left in (-0.8 * REACH, 0.2 * REACH):
            filled.addRect(QRectF(left, -REACH, 0.6 * REACH, 2 * REACH))
    elif sign == "undo":
        lines.moveTo(-REACH, -0.4 * REACH)
        lines.lineTo(0.2 * REACH, -0.4 * REACH)
        lines.arcTo(QRectF(-0.6 * REACH, -0.4 * REACH, 1.6 * REACH, 1.4 * REACH), 90, -180)
        lines.lineTo(-0.6 * REACH, REACH)
        filled.addPolygon(
            QPolygonF(
                [
                    QPointF(-1.5 * REACH, -0.4 * REACH),
                    QPointF(-0.5 * REACH, -REACH * 1.2),
                    QPointF(-0.5 * REACH, 0.4 * REACH),
                ]
            )
        )
    else:
        lines.moveTo(-REACH, 0)
        lines.lineTo(REACH, 0)
        if sign == "more":
            lines.moveTo(0, -REACH)
            lines.lineTo(0, REACH)
    return lines, filled
