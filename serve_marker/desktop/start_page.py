"""What the window shows before there is a clip: what to do, and the cautions that come before filming."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from serve_marker.desktop.recent_files import SHOWN
from serve_marker.desktop.widgets.plain_text import PlainLabel, tooltip

SENTENCES = (
    "Drop a clip of serving practice here.",
    "Mark four crossings of court lines, and the whole court is known.",
    "Then every serve is one click where the ball touched the floor.",
)
CAUTION = (
    "Before filming: everyone in the picture has agreed, for minors their parents. "
    "Tripod and cables stand outside the playing area. Loose balls are cleared away. "
    "Clips stay on this computer. Nothing is sent anywhere."
)


class StartPage(QWidget):
    """Three sentences, a big place to drop a clip on, recent logbooks, a caution."""

    clip_asked = Signal()
    logbook_asked = Signal()
    new_asked = Signal()
    recent_chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.drop_place = QFrame()
        self.drop_place.setObjectName("dropPlace")
        self.drop_place.setAccessibleName("Place to drop a clip")
        self.drop_place.setMinimumSize(QSize(640, 260))
        self.logbook_words = PlainLabel()
        self.logbook_words.setProperty("role", "muted")
        self.logbook_words.setAlignment(Qt.AlignmentFlag.AlignCenter)
        choose = QPushButton("Choose a clip…")
        choose.setDefault(True)
        self.setFocusProxy(choose)
        choose.clicked.connect(self.clip_asked)
        inside = QVBoxLayout(self.drop_place)
        inside.setContentsMargins(32, 28, 32, 28)
        inside.setSpacing(10)
        inside.addStretch(1)
        for place, sentence in enumerate(SENTENCES):
            label = PlainLabel(sentence)
            label.setProperty("role", "large" if place else "title")
            label.setAlignment(Qt.AlignmentFlag.AlignCenter)
            label.setWordWrap(True)
            inside.addWidget(label)
        inside.addSpacing(12)
        inside.addWidget(choose, alignment=Qt.AlignmentFlag.AlignCenter)
        inside.addWidget(self.logbook_words)
        inside.addStretch(1)

        open_book = QPushButton("Open logbook…")
        open_book.clicked.connect(self.logbook_asked)
        new_book = QPushButton("New logbook…")
        new_book.clicked.connect(self.new_asked)
        self._recent = QHBoxLayout()
        books = QHBoxLayout()
        books.addWidget(open_book)
        books.addWidget(new_book)
        books.addSpacing(20)
        books.addLayout(self._recent)
        books.addStretch(1)
        caution = PlainLabel(CAUTION)
        caution.setProperty("role", "muted")
        caution.setWordWrap(True)
        caution.setAccessibleName("Before filming")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(60, 36, 60, 28)
        layout.setSpacing(20)
        layout.addWidget(self.drop_place, 1)
        layout.addLayout(books)
        layout.addWidget(caution)

    def show_state(self, logbook: str, recent: list[str], missing: str) -> None:
        """Show the open logbook's name, else that of the last one where it has gone, and the ones opened lately."""
        words = "You will be asked once where to keep your logbook."
        if logbook:
            words = f"It goes into the logbook {logbook}."
        elif missing:
            words = f"{missing} is not where it was; open it where it is now."
        self.logbook_words.setText(words)
        while (item := self._recent.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.deleteLater()
        if recent:
            self._recent.addWidget(PlainLabel("Lately:"))
        for path in recent[:SHOWN]:
            button = QPushButton(Path(path).stem)
            button.setAutoDefault(True)
            button.setToolTip(tooltip(path))
            button.setAccessibleName(f"Open logbook {Path(path).stem}")
            button.clicked.connect(lambda _checked=False, path=path: self.recent_chosen.emit(path))
            self._recent.addWidget(button)
