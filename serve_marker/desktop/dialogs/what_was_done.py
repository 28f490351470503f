"""What was done, or lost, as a list of sentences that stays until it has been read."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtWidgets import QAbstractItemView, QDialog, QDialogButtonBox, QListWidget, QVBoxLayout, QWidget

from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import resize_with_letters


class WhatWasDone(QDialog):
    """A heading and sentences below it, with one button."""

    def __init__(self, title: str, words: str, sentences: Sequence[str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        resize_with_letters(self, 620, 380)
        heading = PlainLabel(words)
        heading.setWordWrap(True)
        self.list = QListWidget()
        self.list.setAccessibleName(title)
        self.list.setWordWrap(True)
        self.list.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.list.addItems(list(sentences))
        buttons = QDialogButtonBox()
        close = buttons.addButton("Close", QDialogButtonBox.ButtonRole.RejectRole)
        close.setDefault(True)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.setSpacing(12)
        layout.addWidget(heading)
        layout.addWidget(self.list)
        layout.addWidget(buttons)
        buttons.setFocusProxy(close)
