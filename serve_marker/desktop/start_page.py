"""What the window shows before there is a clip: what to do, and the cautions that come before filming."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QEvent, QSize, Qt, Signal
from PySide6.QtGui import QIcon, QPixmap, QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QToolButton, QVBoxLayout, QWidget

from serve_marker.desktop.recent_files import RecentLogbook
from serve_marker.desktop.start_drawing import StartDrawing
from serve_marker.desktop.widgets.plain_text import PlainLabel, tooltip
from serve_marker.desktop.widgets.theme import current

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
LEAST_PICTURE_PX, PICTURE_SHARE = 84, 1 / 7
"""How high the pictures of cards are at least, and how much of the page's height."""


class LogbookCard(QToolButton):
    """A logbook opened lately, with its last picture, its name and its date."""

    def __init__(self, logbook: RecentLogbook) -> None:
        super().__init__()
        name = Path(logbook.path).stem
        self._picture = logbook.picture
        self.setText("\n".join((name.replace("&", "&&"), logbook.date or " ")))
        self.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextUnderIcon)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setToolTip(tooltip(logbook.path))
        self.setAccessibleName(f"Open logbook {name}")
        self.setAccessibleDescription(logbook.date)
        self.show_picture(LEAST_PICTURE_PX)

    def show_picture(self, height_px: int) -> None:
        """Show the picture so high, 16 to 9; a plain ground where there is none."""
        size = QSize(round(16 / 9 * height_px), height_px)
        shown = QPixmap(size)
        shown.fill(current().raised)
        if not self._picture.isNull():
            fill, smooth = Qt.AspectRatioMode.KeepAspectRatioByExpanding, Qt.TransformationMode.SmoothTransformation
            scaled = QPixmap.fromImage(self._picture.scaled(size, fill, smooth))
            shown = scaled.copy((scaled.width() - size.width()) // 2, 0, size.width(), size.height())
        self.setIconSize(size)
        self.setIcon(QIcon(shown))
        self.ensurePolished()
        self.setFixedHeight(self.sizeHint().height())


class StartPage(QWidget):
    """A big place to drop a clip on, with a drawing of the job; recent logbooks as cards; a caution."""

    clip_asked = Signal()
    logbook_asked = Signal()
    new_asked = Signal()
    recent_chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.drop_place = QFrame()
        self.drop_place.setObjectName("dropPlace")
        self.drop_place.setAccessibleName("Place to drop a clip")
        self.logbook_words = self._line("muted", "")
        choose = QPushButton("Choose a clip…")
        choose.setDefault(True)
        self.setFocusProxy(choose)
        choose.clicked.connect(self.clip_asked)
        inside = QVBoxLayout(self.drop_place)
        inside.setContentsMargins(24, 16, 24, 16)
        inside.setSpacing(6)
        inside.addWidget(StartDrawing(), 1)
        for role, sentence in zip(("title", "", ""), SENTENCES, strict=True):
            inside.addWidget(self._line(role, sentence))
        inside.addSpacing(6)
        inside.addWidget(choose, alignment=Qt.AlignmentFlag.AlignCenter)
        inside.addWidget(self.logbook_words)

        open_book = QPushButton("Open logbook…")
        open_book.clicked.connect(self.logbook_asked)
        new_book = QPushButton("New logbook…")
        new_book.clicked.connect(self.new_asked)
        self._asking = QVBoxLayout()
        self._asking.addWidget(open_book)
        self._asking.addWidget(new_book)
        self._asking.addStretch(1)
        self.cards: list[LogbookCard] = []
        self._recent = QHBoxLayout()
        self._recent.setSpacing(8)
        books = QHBoxLayout()
        books.setSpacing(20)
        books.addLayout(self._asking)
        books.addLayout(self._recent)
        books.addStretch(1)
        caution = PlainLabel(CAUTION)
        caution.setProperty("role", "muted")
        caution.setWordWrap(True)
        caution.setAccessibleName("Before filming")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(40, 20, 40, 16)
        layout.setSpacing(14)
        layout.addWidget(self.drop_place, 1)
        layout.addLayout(books)
        layout.addWidget(caution)

    def show_state(self, logbook: str, recent: Sequence[RecentLogbook], missing: str) -> None:
        """Show the open logbook's name, else that of the last one where it has gone, and the ones opened lately."""
        words = "You will be asked once where to keep your logbook."
        if logbook:
            words = f"It goes into the logbook {logbook}."
        elif missing:
            words = f"{missing} is not where it was; open it where it is now."
        self.logbook_words.setText(words)
        for card in self.cards:
            self._recent.removeWidget(card)
            card.deleteLater()
        self.cards = [LogbookCard(one) for one in recent]
        for card, one in zip(self.cards, recent, strict=True):
            card.clicked.connect(lambda _checked=False, path=one.path: self.recent_chosen.emit(path))
            self._recent.addWidget(card)
        self._show_fitting()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._show_fitting()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.PaletteChange):
            self._show_fitting()

    def _show_fitting(self) -> None:
        """Show as many cards as there is room for, the latest first."""
        room = self.width() - self._asking.sizeHint().width() - 100
        for card in self.cards:
            card.show_picture(max(LEAST_PICTURE_PX, round(PICTURE_SHARE * self.height())))
            room -= card.sizeHint().width() + self._recent.spacing()
            card.setVisible(room > 0)

    @staticmethod
    def _line(role: str, sentence: str) -> PlainLabel:
        label = PlainLabel(sentence)
        label.setProperty("role", role)
        label.setAlignment(Qt.AlignmentFlag.AlignCenter)
        label.setWordWrap(True)
        return label
