"""Long work under way: how far it is, and a button that stops it."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QProgressBar, QVBoxLayout, QWidget

from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import pixels


class UnderWay(QDialog):
    """A sentence and a bar below it; Cancel and Esc reject it."""

    def __init__(self, title: str, words: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        label = PlainLabel(words)
        label.setWordWrap(True)
        label.setMinimumWidth(pixels(420))
        self.bar = QProgressBar()
        self.bar.setAccessibleName(title)
        self.bar.setFormat("%p\u00a0%")
        self.bar.setRange(0, 0)
        buttons = QDialogButtonBox()
        buttons.addButton("Cancel", QDialogButtonBox.ButtonRole.RejectRole)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.setSpacing(14)
        layout.addWidget(label)
        layout.addWidget(self.bar)
        layout.addWidget(buttons)

    def set_progress(self, done: int, of: int) -> None:
        """Show how far the work is."""
        self.bar.setRange(0, of)
        self.bar.setValue(done)
