"""The card of all keys, made from the table of actions: headed groups, each key drawn as its cap."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QPoint, QSize, QStandardPaths, Qt
from PySide6.QtGui import QImage, QKeySequence, QRegion, QResizeEvent
from PySide6.QtWidgets import QDialog, QGridLayout, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.printing import ask_to_print
from serve_marker.desktop.widgets.scrolled import Scrolled
from serve_marker.desktop.widgets.style_sheet import style_sheet
from serve_marker.desktop.widgets.text_sizes import pixels
from serve_marker.desktop.widgets.theme import LIGHT

MOST_COLUMNS, APART_PX, SCROLL_BAR_PX = 5, 10, 14
BESIDE = QSize(24, 44)
"""How much smaller than the window the card is."""
PRINTED_COLUMNS, PRINTED_TIMES, PRINTED_MARGIN_PX = 4, 3, 24
TITLE = "Card of all keys"


@dataclass(frozen=True)
class KeyGroup:
    """Keys under one heading, with the menu they belong to, "" for none; ``rows`` hold key and text."""

    heading: str
    menu: str
    rows: tuple[tuple[str, str], ...]


BY_HAND = KeyGroup(
    "On the picture",
    "",
    (
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
    ),
)
"""What the hand does on the picture."""


def key_words(key: str) -> str:
    """Return a key as this computer writes it."""
    return QKeySequence(key).toString(QKeySequence.SequenceFormat.NativeText)


def caps_of(key: str) -> list[str]:
    """Return the caps pressed together for a key as written.

    Examples
    --------
    >>> caps_of("Ctrl+Shift+S"), caps_of("+"), caps_of("0 … 9")
    (['Ctrl', 'Shift', 'S'], ['+'], ['0 … 9'])
    """
    return key.split("+") if "+" in key[1:-1] else [key]


class KeyGroups(QWidget):
    """The groups in columns of about the same length."""

    def __init__(self, groups: Sequence[KeyGroup]) -> None:
        super().__init__()
        self._boxes = [_group(group) for group in groups]
        for box in self._boxes:
            box.setParent(self)

    def set_columns(self, columns: int) -> int:
        """Lay the groups out in so many columns, in their order, and return how wide they are together."""
        for box in self._boxes:
            box.ensurePolished()
        apart = pixels(APART_PX)
        share = sum(box.sizeHint().height() + apart for box in self._boxes) / columns
        left = down = widest = lowest = filled = 0
        column = 1
        for box in self._boxes:
            size = box.sizeHint()
            if down and filled + size.height() / 2 > share * column:
                column += 1
                left, down, widest = left + widest + 2 * apart, 0, 0
            box.setGeometry(left, down, size.width(), size.height())
            down += size.height() + apart
            filled += size.height() + apart
            widest, lowest = max(widest, size.width()), max(lowest, down)
        self.setMinimumSize(left + widest, lowest)
        return left + widest


def _group(group: KeyGroup) -> QWidget:
    box = QWidget()
    grid = QGridLayout(box)
    grid.setContentsMargins(0, 0, 0, 0)
    grid.setHorizontalSpacing(10)
    grid.setVerticalSpacing(3)
    heading, menu = PlainLabel(group.heading), PlainLabel(group.menu)
    heading.setProperty("role", "large")
    menu.setProperty("role", "muted")
    above = QHBoxLayout()
    above.setSpacing(8)
    above.addWidget(heading)
    above.addWidget(menu, 1)
    grid.addLayout(above, 0, 0, 1, 2)
    for row, (key, text) in enumerate(group.rows, start=1):
        caps = QHBoxLayout()
        caps.setSpacing(3)
        for name in caps_of(key):
            cap = PlainLabel(name)
            cap.setProperty("role", "key")
            caps.addWidget(cap)
        caps.addStretch(1)
        grid.addLayout(caps, row, 0)
        words = PlainLabel(text.rstrip("…"))
        words.setAccessibleName(f"{key}: {words.text()}")
        grid.addWidget(words, row, 1)
    grid.setColumnMinimumWidth(0, pixels(88))
    grid.setColumnStretch(1, 1)
    return box


class ShortcutsDialog(QDialog):
    """Every key on one card, which can be printed; ``tell`` takes how printing ended."""

    def __init__(self, groups: Sequence[KeyGroup], tell: Callable[[str], object], parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keys")
        self.setAccessibleName(TITLE)
        self._all = (BY_HAND, *groups)
        self._tell = tell
        self._groups = KeyGroups(self._all)
        self._scrolled = Scrolled(self._groups)
        self.print_button = QPushButton("Print…")
        self.print_button.setAutoDefault(False)
        self.print_button.clicked.connect(self._print)
        close = QPushButton("Close")
        close.setDefault(True)
        close.clicked.connect(self.accept)
        below = QHBoxLayout()
        below.addStretch(1)
        below.addWidget(self.print_button)
        below.addWidget(close)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addWidget(self._scrolled, 1)
        layout.addLayout(below)
        self.resize(parent.size() - BESIDE)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        room = self._scrolled.maximumViewportSize().width() - SCROLL_BAR_PX
        for columns in range(MOST_COLUMNS, 0, -1):
            if self._groups.set_columns(columns) <= room:
                break

    def _print(self) -> None:
        folder = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
        ask_to_print(self, TITLE, [card_picture(self._all)], Path(folder) / f"{TITLE}.pdf", self._tell)


def card_picture(groups: Sequence[KeyGroup]) -> QImage:
    """Return the whole card on white, in dark letters, for paper that lies on its side."""
    card = KeyGroups(groups)
    card.setStyleSheet(style_sheet(LIGHT))
    card.set_columns(PRINTED_COLUMNS)
    card.resize(card.minimumSize())
    edges = QSize(2 * PRINTED_MARGIN_PX, 2 * PRINTED_MARGIN_PX)
    image = QImage((card.size() + edges) * PRINTED_TIMES, QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(PRINTED_TIMES)
    image.fill(Qt.GlobalColor.white)
    card.render(image, QPoint(PRINTED_MARGIN_PX, PRINTED_MARGIN_PX), QRegion(), QWidget.RenderFlag.DrawChildren)
    return image
