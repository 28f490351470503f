"""The coach's guide, as it is shipped with the program, in a window of its own."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QDesktopServices, QImage, QKeyEvent, QKeySequence, QTextBlock, QTextCursor, QTextDocument
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QTextBrowser, QVBoxLayout, QWidget

GUIDE = "guide.md"
MARGIN = 40


class GuideWindow(QWidget):
    """The guide with its pictures; links to its headings and to the other pages are followed inside it."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self.setWindowTitle("Guide")
        self.resize(900, 680)
        self._text = _Pages()
        self.pictures = self._text.pictures
        home, back = QPushButton("Beginning"), QPushButton("Back")
        home.clicked.connect(self._text.home)
        back.clicked.connect(self._text.backward)
        self._text.backwardAvailable.connect(back.setEnabled)
        back.setEnabled(False)
        row = QHBoxLayout()
        row.addWidget(home)
        row.addWidget(back)
        row.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 12, 16, 16)
        layout.addLayout(row)
        layout.addWidget(self._text)

    def open(self) -> None:
        """Show the guide where it was left, in front."""
        self.show()
        self.raise_()
        self.activateWindow()
        if self._text.source().isEmpty():
            self._text.setSource(QUrl.fromLocalFile(str(guide_path())))
        self._text.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Cancel):
            self.close()
        else:
            super().keyPressEvent(event)


class _Pages(QTextBrowser):
    """Markdown pages; pictures are made no wider than the window."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Guide")
        self.setOpenLinks(False)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.anchorClicked.connect(self._follow)
        self.pictures: dict[str, QImage] = {}
        self.sourceChanged.connect(self._wrap_long_lines)

    def loadResource(self, kind: int, name: QUrl | str) -> Any:
        if kind != QTextDocument.ResourceType.ImageResource.value:
            return super().loadResource(kind, name)
        path = self.source().resolved(QUrl(name)).toLocalFile()
        picture = QImage(path)
        if picture.width() > (room := self.viewport().width() - MARGIN):
            picture = picture.scaledToWidth(room, Qt.TransformationMode.SmoothTransformation)
        self.pictures[path] = picture
        return picture

    def _wrap_long_lines(self) -> None:
        """Let what is written letter by letter be no wider than the window either."""
        self.document().setDocumentMargin(MARGIN / 2)
        block, within = self.document().begin(), QTextCursor(self.document())
        while block.isValid():
            if block.blockFormat().nonBreakableLines():
                wrapped = block.blockFormat()
                wrapped.setNonBreakableLines(False)
                within.setPosition(block.position())
                within.setBlockFormat(wrapped)
            block = block.next()
        self.document().markContentsDirty(0, self.document().characterCount())

    def _follow(self, link: QUrl) -> None:
        if not link.isLocalFile():
            QDesktopServices.openUrl(link)
        elif link.toLocalFile() == self.source().toLocalFile():
            self._go_to_heading(link.fragment())
        else:
            self.setSource(link)

    def _go_to_heading(self, anchor: str) -> None:
        block = self.document().begin()
        while block.isValid() and not _is_heading(block, anchor):
            block = block.next()
        if block.isValid():
            top = self.document().documentLayout().blockBoundingRect(block).top()
            self.verticalScrollBar().setValue(round(top))


def _is_heading(block: QTextBlock, anchor: str) -> bool:
    """Whether a block is the heading that an anchor such as ``once-per-gym`` means."""
    words = re.sub(r"[^\w ]", "", block.text().casefold()).replace(" ", "-")
    return block.blockFormat().headingLevel() > 0 and words == anchor


def guide_path() -> Path:
    """Return where the guide lies on this computer."""
    return Path(str(files("serve_marker.docs") / GUIDE))
