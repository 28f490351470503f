"""Words a coach typed, shown letter by letter: Qt reads a name like ``<img src=...>`` as markup and loads the file."""

from __future__ import annotations

import html

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QWidget


class PlainLabel(QLabel):
    """A label that shows every letter; the only kind the window is made of."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setTextFormat(Qt.TextFormat.PlainText)


def tooltip(words: str) -> str:
    """Return words as a tooltip that shows every letter and wraps long lines.

    Examples
    --------
    >>> tooltip("2 < 3"), tooltip("")
    ('<qt>2 &lt; 3</qt>', '')
    """
    return f"<qt>{html.escape(words).replace(chr(10), '<br>')}</qt>" if words else ""
