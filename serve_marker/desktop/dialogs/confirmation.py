"""A question before something goes that took work."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog, QVBoxLayout, QWidget

from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import pixels


class Confirmation(QDialog):
    """One question, a verb that does it, and one that leaves it, which Enter presses."""

    def __init__(self, words: str, verb: str, parent: QWidget | None = None, leave: str = "Cancel") -> None:
        super().__init__(parent)
        self.setWindowTitle(verb)
        self.words = PlainLabel(words)
        self.words.setWordWrap(True)
        self.words.setMinimumWidth(pixels(420))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.setSpacing(14)
        layout.addWidget(self.words)
        buttons = accept_reject_buttons(self, verb, leave, enter_keeps=False)
        layout.addWidget(buttons)
        buttons.setFocus()
