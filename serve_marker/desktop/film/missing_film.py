"""What became of a film's file, over the picture or in its place, beside the button that looks for it."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QWidget

from serve_marker.desktop.widgets.plain_text import PlainLabel

TOP = 128
"""Below the question, which may be open too."""


class MissingFilm(QFrame):
    """A sentence that stays until the film is at hand again; it takes no focus from the picture."""

    find_asked = Signal()

    def __init__(self, stage: QWidget) -> None:
        super().__init__(stage)
        self._stage = stage
        self._in_middle = False
        self.setObjectName("missingFilm")
        self.setAccessibleName("Missing film")
        self.words = PlainLabel()
        find = QPushButton("Find it…")
        find.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        find.clicked.connect(self.find_asked)
        row = QHBoxLayout(self)
        row.setContentsMargins(14, 8, 10, 8)
        row.setSpacing(14)
        row.addWidget(self.words)
        row.addWidget(find)
        self.hide()

    def tell(self, words: str, *, in_middle: bool) -> None:
        """Show a sentence, in the middle where there is no picture behind it; an empty one takes the last away."""
        self._in_middle = in_middle
        self.words.setText(words)
        self.setVisible(bool(words))
        self.place()
        self.raise_()

    def place(self) -> None:
        """Stand at the stage's upper edge, or in its middle."""
        self.adjustSize()
        middle = (self._stage.height() - self.height()) // 2
        self.move((self._stage.width() - self.width()) // 2, middle if self._in_middle else TOP)
