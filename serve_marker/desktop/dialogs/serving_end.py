"""From which end a clip's serves come, asked once before they are looked for."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from serve_marker.desktop.session.serving_order import END_WORDS
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.logbook.records import Half

QUESTION = "Which end serves on this clip?"
WHY = "Balls thrown back look like serves. Knowing the end leaves them out."


class ServingEndDialog(QDialog):
    """One question with three buttons; arrows go between them and Enter takes one.

    Signals
    -------
    picked(end) : "a", "b", or "" for both.
    """

    picked = Signal(str)

    def __init__(self, likely: Half, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Find serves")
        question, why = PlainLabel(QUESTION), PlainLabel(WHY)
        question.setProperty("role", "large")
        why.setProperty("role", "muted")
        row = QHBoxLayout()
        row.setSpacing(10)
        for end, words in (*END_WORDS.items(), ("", "both ends")):
            button = QPushButton(words.capitalize())
            button.setAccessibleName(f"{words.capitalize()}. {QUESTION}")
            button.clicked.connect(lambda _checked=False, end=end: self._pick(end))
            row.addWidget(button)
            if end == likely:
                button.setDefault(True)
                button.setFocus()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.setSpacing(14)
        layout.addWidget(question)
        layout.addWidget(why)
        layout.addLayout(row)

    def _pick(self, end: str) -> None:
        self.accept()
        self.picked.emit(end)
