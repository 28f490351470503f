"""The card of all keys, made from the table of actions."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QGridLayout, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from serve_marker.desktop.actions import ACTIONS, BY_HAND, key_words
from serve_marker.desktop.widgets.plain_text import PlainLabel

COLUMNS: tuple[tuple[str, ...], ...] = (
    ("Mark",),
    ("Play", "File", "Help"),
    ("Set up", "by hand"),
    ("Practice", "View"),
)


class ShortcutsDialog(QDialog):
    """Every key on one card."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keys")
        self.setAccessibleName("Card of all keys")
        columns = QHBoxLayout()
        columns.setSpacing(18)
        for titles in COLUMNS:
            column = QVBoxLayout()
            for title in titles:
                column.addLayout(self._group(title))
                column.addSpacing(10)
            column.addStretch(1)
            columns.addLayout(column)
        close = QPushButton("Close")
        close.clicked.connect(self.accept)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addLayout(columns)
        layout.addWidget(close, alignment=Qt.AlignmentFlag.AlignRight)

    @staticmethod
    def _group(title: str) -> QGridLayout:
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(2)
        heading = PlainLabel("On the picture" if title == "by hand" else title)
        heading.setProperty("role", "large")
        grid.addWidget(heading, 0, 0, 1, 2)
        rows = BY_HAND if title == "by hand" else [(key_words(d.key), d.text) for d in ACTIONS if d.menu == title]
        for row, (key, text) in enumerate(rows, start=1):
            key_label = PlainLabel(key)
            key_label.setProperty("role", "key")
            grid.addWidget(key_label, row, 0)
            grid.addWidget(PlainLabel(text.rstrip(".")), row, 1)
        grid.setColumnStretch(1, 1)
        return grid
