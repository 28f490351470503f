"""The card of all keys, made from the table of actions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QDialog, QGridLayout, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from serve_marker.desktop.widgets.plain_text import PlainLabel

COLUMNS: tuple[tuple[str, ...], ...] = (
    ("Mark",),
    ("Play", "File", "Edit", "Help"),
    ("Set up", "by hand"),
    ("Practice", "View", "Find"),
)

BY_HAND: tuple[tuple[str, str], ...] = (
    ("Click", "the landmark, or the landing"),
    ("Shift+click", "the landmark exactly there"),
    ("Shift+click", "the ball beside the landing"),
    ("Ctrl+click", "the floor at the hit"),
    ("0 … 9", "shirt number of the next server"),
    ("Alt+arrows", "move by a pixel"),
    ("Alt+Shift+arrows", "move by 10 pixels"),
    ("Ctrl+Shift+arrows", "move by 60 pixels"),
    ("Ctrl+Alt+arrows", "move by a tenth of a pixel"),
    ("Wheel or pinch", "zoom the picture"),
    ("Tab", "to the next control"),
)
"""What the hand does on the picture, for the card of keys."""


def key_words(key: str) -> str:
    """Return a key as this computer writes it."""
    return QKeySequence(key).toString(QKeySequence.SequenceFormat.NativeText)


class ShortcutsDialog(QDialog):
    """Every key on one card; ``keys`` holds key and text of each action, menu by menu."""

    def __init__(self, keys: Mapping[str, Sequence[tuple[str, str]]], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keys")
        self.setAccessibleName("Card of all keys")
        columns = QHBoxLayout()
        columns.setSpacing(12)
        for titles in COLUMNS:
            column = QVBoxLayout()
            for title in titles:
                rows = BY_HAND if title == "by hand" else [(key_words(key), text) for key, text in keys[title]]
                column.addLayout(_group("On the picture" if title == "by hand" else title, rows))
                column.addSpacing(7)
            column.addStretch(1)
            columns.addLayout(column)
        close = QPushButton("Close")
        close.clicked.connect(self.accept)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addLayout(columns)
        layout.addWidget(close, alignment=Qt.AlignmentFlag.AlignRight)


def _group(title: str, rows: Sequence[tuple[str, str]]) -> QGridLayout:
    grid = QGridLayout()
    grid.setHorizontalSpacing(10)
    grid.setVerticalSpacing(0)
    heading = PlainLabel(title)
    heading.setProperty("role", "large")
    grid.addWidget(heading, 0, 0, 1, 2)
    for row, (key, text) in enumerate(rows, start=1):
        key_label = PlainLabel(key)
        key_label.setProperty("role", "key")
        grid.addWidget(key_label, row, 0)
        grid.addWidget(PlainLabel(text.rstrip("…")), row, 1)
    grid.setColumnStretch(1, 1)
    return grid
