"""The one place where the window says something: over the picture's upper edge or a pane's lower one, for a while."""

from __future__ import annotations

from collections import deque

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QAccessible, QAccessibleEvent
from PySide6.QtWidgets import QWidget

from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import pixels

SHOWN_MS = 8000
WIDEST, KEPT = 760, 50
LEFT, TOP, BOTTOM = 18, 56, 14


class Notification(PlainLabel):
    """A sentence that takes neither room nor focus; ``said`` are the latest ones, to be read again."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent=parent)
        self.setObjectName("message")
        self.setAccessibleName("Notification")
        self.setWordWrap(True)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.said: deque[str] = deque(maxlen=KEPT)
        self._quiet = QTimer(self, singleShot=True, interval=SHOWN_MS)
        self._quiet.timeout.connect(self.hide)
        self.hide()

    def say(self, text: str, over_picture: bool = True) -> None:
        """Show a sentence and tell it to screen readers; an empty one takes the last away.

        Over the picture it stands at the upper edge, off the floor; elsewhere at the lower one, off the controls.
        """
        self.setText(text)
        if not text:
            self.hide()
            return
        self.said.append(text)
        room = self.window().width() - 2 * LEFT
        one_line = self.fontMetrics().horizontalAdvance(text) + 34
        self.setFixedWidth(min(one_line, pixels(WIDEST), room))
        self.setFixedHeight(self.heightForWidth(self.width()))
        below = (self.window().width() - self.width()) // 2, self.window().height() - self.height() - BOTTOM
        self.move(*((LEFT, TOP) if over_picture else below))
        self.show()
        self.raise_()
        self._quiet.start()
        QAccessible.updateAccessibility(QAccessibleEvent(self, QAccessible.Event.Alert))
