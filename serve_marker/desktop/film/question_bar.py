"""A question over the picture's upper edge that waits for an answer and stands in nobody's way."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAccessible, QAccessibleEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QWidget

from serve_marker.desktop.widgets.plain_text import PlainLabel

WIDEST = 900
MARGIN, TOP = 16, 66
"""Below the line in which the window says things."""


class QuestionBar(QFrame):
    """Words with a yes and a no; neither takes the focus from the picture unless Tab goes there."""

    answered = Signal(bool)
    show_asked = Signal()

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._around = parent
        self.setObjectName("question")
        self.setAccessibleName("Question")
        self.words = PlainLabel()
        self.words.setWordWrap(True)
        self.show_it, self.yes, self.no = QPushButton("Show"), QPushButton(), QPushButton()
        self.show_it.clicked.connect(self.show_asked)
        self._row = layout = QHBoxLayout(self)
        layout.setContentsMargins(14, 8, 10, 8)
        layout.addWidget(self.words, 1)
        self.yes.clicked.connect(lambda: self.answered.emit(True))
        self.no.clicked.connect(lambda: self.answered.emit(False))
        for button in (self.show_it, self.yes, self.no):
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            layout.addWidget(button)
        self.hide()

    def ask(self, words: str | None, yes: str = "", no: str = "", can_show: bool = False) -> None:
        """Show a question with its answers, or only something to be seen; None takes it away.

        ``can_show`` offers to go to the frame in question.
        """
        self.setVisible(words is not None)
        if words is None:
            return
        self.words.setText(words)
        self.yes.setText(yes)
        self.yes.setVisible(bool(yes))
        self.no.setText(no)
        self.show_it.setVisible(can_show)
        for button in (self.show_it, self.yes, self.no):
            button.setAccessibleName(f"{button.text()}. {words}")
        self.place()
        self.raise_()
        QAccessible.updateAccessibility(QAccessibleEvent(self, QAccessible.Event.Alert))

    def place(self) -> None:
        """Stand at the upper edge of the parent, as wide as there is room."""
        room = self._around.width() - 2 * MARGIN
        width = min(room, WIDEST)
        self.setFixedWidth(width)
        self.setFixedHeight(self._row.totalHeightForWidth(width))
        self.move((self._around.width() - width) // 2, TOP)
