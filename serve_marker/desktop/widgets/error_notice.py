"""What went wrong inside the program: a sentence that stays until it is closed, with a report to copy."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QWidget

from serve_marker.desktop.widgets.plain_text import PlainLabel

WIDEST, MARGIN, BOTTOM = 760, 18, 64


class ErrorNotice(QFrame):
    """Lies over the lower edge of its parent; hidden while there is nothing to tell."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("error")
        self.setAccessibleName("Error inside the program")
        self._room = parent
        self._report = ""
        self.words = PlainLabel()
        self.words.setWordWrap(True)
        self.copy = QPushButton("Copy the report")
        self.copy.setAccessibleDescription("Version and place of the fault, without names of players")
        self.copy.clicked.connect(lambda: QGuiApplication.clipboard().setText(self._report))
        close = QPushButton("Close")
        close.clicked.connect(self.hide)
        for button in (self.copy, close):
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        layout = QHBoxLayout(self)
        layout.addWidget(self.words, 1)
        layout.addWidget(self.copy)
        layout.addWidget(close)
        parent.installEventFilter(self)
        self.hide()

    def tell(self, sentence: str, report: str) -> None:
        """Show a sentence; the report is what its button copies. The same one again changes nothing."""
        if self.isVisible() and report == self._report:
            return
        self._report = report
        self.words.setText(sentence)
        self.show()
        self._place()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Resize and self.isVisible():
            self._place()
        return super().eventFilter(watched, event)

    def _place(self) -> None:
        room = self._room
        width = min(WIDEST, room.width() - 2 * MARGIN)
        height = max(self.heightForWidth(width), self.sizeHint().height())
        self.setGeometry((room.width() - width) // 2, room.height() - height - BOTTOM, width, height)
        self.raise_()
