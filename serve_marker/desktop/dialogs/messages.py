"""What the window has said, to be read again."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QListWidget, QPushButton, QVBoxLayout, QWidget

from serve_marker.desktop.widgets.text_sizes import resize_with_letters

SIZE_PX = (620, 360)


class MessagesDialog(QDialog):
    """The sentences, the newest first and chosen, so that a reader reads it out."""

    def __init__(self, said: Sequence[str], parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Messages")
        self.setAccessibleName("Messages, newest first")
        self.list = QListWidget()
        self.list.setAccessibleName("Messages")
        self.list.setWordWrap(True)
        self.list.addItems(list(reversed(said)) or ["No messages yet."])
        self.list.setCurrentRow(0)
        close = QPushButton("Close")
        close.clicked.connect(self.accept)
        layout = QVBoxLayout(self)
        layout.addWidget(self.list)
        layout.addWidget(close, alignment=Qt.AlignmentFlag.AlignRight)
        resize_with_letters(self, *SIZE_PX)
        self.list.setFocus()
