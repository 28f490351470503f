"""Words a coach typed, shown letter by letter: Qt reads a name like ``<img src=...>`` as markup and loads the file."""

from __future__ import annotations

import html

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QHelpEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel, QSizePolicy, QToolTip, QWidget


class PlainLabel(QLabel):
    """A label that shows every letter; the only kind the window is made of."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setTextFormat(Qt.TextFormat.PlainText)


class LinesLabel(PlainLabel):
    """Wrapped words with room kept for so many lines, so that nothing below moves when they change."""

    def __init__(self, lines: int, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self._lines = lines
        self.setWordWrap(True)
        self.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        self._keep_room()

    def hasHeightForWidth(self) -> bool:
        return False

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._keep_room()

    def _keep_room(self) -> None:
        self.setMinimumHeight(self.fontMetrics().lineSpacing() * self._lines + 4)


class ElidedLabel(PlainLabel):
    """One line that is cut with dots where it has no room, by default at its end; the pointer shows it whole."""

    def __init__(
        self,
        text: str = "",
        parent: QWidget | None = None,
        cut: Qt.TextElideMode = Qt.TextElideMode.ElideRight,
    ) -> None:
        super().__init__(text, parent)
        self._cut = cut
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)

    @property
    def shown_text(self) -> str:
        """The text as far as there is room for it."""
        return self.fontMetrics().elidedText(self.text(), self._cut, self.contentsRect().width())

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setPen(self.palette().color(self.foregroundRole()))
        painter.drawText(self.contentsRect(), self.alignment() | Qt.TextFlag.TextSingleLine, self.shown_text)
        painter.end()

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QHelpEvent):
            is_cut = self.shown_text != self.text()
            QToolTip.showText(event.globalPos(), tooltip(self.text() if is_cut else ""), self)
            return True
        return super().event(event)


def tooltip(words: str) -> str:
    """Return words as a tooltip that shows every letter and wraps long lines.

    Examples
    --------
    >>> tooltip("2 < 3"), tooltip("")
    ('<qt>2 &lt; 3</qt>', '')
    """
    return f"<qt>{html.escape(words).replace(chr(10), '<br>')}</qt>" if words else ""
