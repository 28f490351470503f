"""How a serve ended: one button for each way, with its shape, a word and its key."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QAction, QColor, QFontMetricsF, QKeySequence, QPaintEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QSizePolicy,
    QStyle,
    QStyleOptionToolButton,
    QStylePainter,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from serve_marker.desktop.widgets.draw_shape import draw_shape
from serve_marker.desktop.widgets.text_sizes import SMALL_PT, pixels, sized
from serve_marker.desktop.widgets.theme import current
from serve_marker.study.serve_shape import shape_of

ROWS = (("net", "out", "fault"), ("received", "target", "blocked"))
WORD_PT, KEY_PT = 10.0, SMALL_PT
EDGE, SHAPE_RADIUS, GAP = 8, 5, 5


class OutcomeButton(QToolButton):
    """One way a serve can end; a click does what the key of its action does."""

    def __init__(self, outcome: str) -> None:
        super().__init__()
        self.word = outcome.capitalize()
        self._shape = shape_of(outcome, "", None, aim_surely=False, aim_may=False)
        self.setProperty("role", "small")
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    @property
    def key(self) -> str:
        """Its key, as this computer writes it."""
        action = self.defaultAction()
        return "" if action is None else action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)

    def sizeHint(self) -> QSize:
        word, key = (QFontMetricsF(sized(self.font(), size_pt)) for size_pt in (WORD_PT, KEY_PT))
        letters = word.horizontalAdvance(self.word) + key.horizontalAdvance(self.key)
        return QSize(round(2 * (EDGE + pixels(SHAPE_RADIUS) + GAP) + letters), super().sizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        painter, look = QStylePainter(self), current()
        option = QStyleOptionToolButton()
        self.initStyleOption(option)
        option.text = ""
        painter.drawComplexControl(QStyle.ComplexControl.CC_ToolButton, option)
        room = QRectF(self.rect()).adjusted(EDGE, 0, -EDGE, 0)
        radius = pixels(SHAPE_RADIUS)
        middle = QPointF(room.left() + radius, room.center().y())
        draw_shape(painter, self._shape, middle, radius, look.of(self._shape))
        room.setLeft(room.left() + 2 * radius + GAP)
        for words, size_pt, colour, side in (
            (self.word, WORD_PT, look.text, Qt.AlignmentFlag.AlignLeft),
            (self.key, KEY_PT, look.muted, Qt.AlignmentFlag.AlignRight),
        ):
            painter.setFont(sized(self.font(), size_pt))
            painter.setPen(QColor(colour))
            painter.drawText(room, Qt.AlignmentFlag.AlignVCenter | side, words)
        painter.end()


class OutcomeButtons(QWidget):
    """The buttons of all endings but a landing, which is clicked on the film; ``buttons`` by the id of their action."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("How the serve ended")
        self.buttons = {f"outcome_{outcome}": OutcomeButton(outcome) for row in ROWS for outcome in row}
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        for row in ROWS:
            beside = QHBoxLayout()
            beside.setSpacing(4)
            for outcome in row:
                beside.addWidget(self.buttons[f"outcome_{outcome}"])
            layout.addLayout(beside)

    def set_actions(self, actions: Mapping[str, QAction]) -> None:
        """Let each button stand for the action of that id."""
        for action_id, button in self.buttons.items():
            button.setDefaultAction(actions[action_id])

    def offer_blocked(self, offered: bool) -> None:
        """Offer the ending that only sitting volleyball has, or not."""
        self.buttons["outcome_blocked"].setVisible(offered)
