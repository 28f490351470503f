"""Share: what will be made is shown as it will look, with what is chosen on the left."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QTimer, QUrl
from PySide6.QtGui import QDesktopServices, QShowEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from serve_marker.desktop.dialogs.file_dialog import file_dialog
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import NO_LOGBOOK, Workspace
from serve_marker.desktop.share.exports import KINDS, Kind, Order, Preview, make, preview, printed_pages, today
from serve_marker.desktop.widgets.chart_view import ChartView, image_of
from serve_marker.desktop.widgets.combo_box import ComboBox
from serve_marker.desktop.widgets.plain_text import PlainLabel, tooltip
from serve_marker.desktop.widgets.printing import ask_to_print
from serve_marker.desktop.widgets.scrolled import Scrolled
from serve_marker.desktop.widgets.text_sizes import pixels
from serve_marker.desktop.widgets.zoomed_picture import ZoomedPicture
from serve_marker.errors import UserError
from serve_marker.logbook.sharing import players_left_out
from serve_marker.logbook.store import Logbook
from serve_marker.report.erase_player import sheets_folder
from serve_marker.report.paper_sizes import PAPERS_IN
from serve_marker.report.still_sizes import STILL_SIZES
from serve_marker.study.sentences import count_words, date_words
from serve_marker.study.serve_columns import server_words

CONSENT = "Show faces only to people who may see them. For minors the parents decide."
AUDIENCE_WORDS = {"The team": "team", "Others outside": "outside", "Me, the coach": "coach"}
LEFT_PX = 300


def open_in_files(folder: Path) -> None:
    """Show a folder in the system's own window for files."""
    QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder)))


class SharePane(QWidget):
    """Makes sheets, stills and tables off the window's thread, into one folder that opens when all is done."""

    def __init__(
        self,
        workspace: Workspace,
        parent: QWidget | None = None,
        open_folder: Callable[[Path], object] = open_in_files,
    ) -> None:
        super().__init__(parent)
        self.setAccessibleName("Share")
        self._workspace = workspace
        self._open_folder = open_folder
        self._worker = Worker("report", self)
        self._busy_with: QPushButton | None = None
        self._book: Logbook | None = None
        self._folder: Path | None = None
        self._open_practice: str | None = None
        self._later = QTimer(self, singleShot=True, interval=120)
        self._later.timeout.connect(self.look)

        self.practice = self._box("Practice")
        self.server = self._box("Server")
        self.audience = self._box("For")
        for words, key in AUDIENCE_WORDS.items():
            self.audience.addItem(words, key)
        self.consent = self._label("muted")
        self.paper = self._box("Paper")
        for name in PAPERS_IN:
            self.paper.addItem(name, name)
        self.still_size = self._box("Size of stills")
        for name, size in STILL_SIZES.items():
            self.still_size.addItem(size.words, name)
        self.kinds = {kind.key: self._kind_button(kind) for kind in KINDS}
        self._chosen = QButtonGroup(self)
        self.make_button = QPushButton("Make")
        self.make_button.setDefault(True)
        self.print_button = QPushButton("Print…")
        self.progress = QProgressBar()
        self.progress.setAccessibleName("Progress")
        self.cancel = QPushButton("Cancel")
        self.cancel.setAccessibleName("Cancel what is being made")
        self.folder_button = QPushButton("Folder…")
        self.folder_button.setAccessibleName("Choose the folder the files go into")
        self.open_button = QPushButton("Open folder")
        self.folder_words = self._label("muted")
        self.result = self._label("")
        self.picture = ChartView()
        self.zoomed = ZoomedPicture(self.picture)
        self.caption = self._label("muted")
        self._lay_out()

        self.cancel.clicked.connect(self._cancel)
        self.folder_button.clicked.connect(self._choose_folder)
        self.open_button.clicked.connect(lambda: self._open_folder(self.folder))
        self._chosen.buttonClicked.connect(self._kind_chosen)
        self.make_button.clicked.connect(self.make)
        self.print_button.clicked.connect(self.print)
        self.practice.currentIndexChanged.connect(self._practice_chosen)
        self.audience.currentIndexChanged.connect(self._practice_chosen)
        for box in (self.server, self.paper, self.still_size):
            box.currentIndexChanged.connect(self.look)
        self._worker.progressed.connect(self._progressed)
        workspace.logbook_changed.connect(self._logbook_changed)
        for signal in (workspace.practice_changed, workspace.serves_changed):
            signal.connect(self._out_of_date)
        self._logbook_changed()

    @property
    def busy(self) -> bool:
        """Whether something is being made or drawn."""
        return self._worker.busy or self._later.isActive()

    @property
    def folder(self) -> Path:
        """Where the files go: the folder chosen, else one beside the logbook."""
        if self._folder is not None:
            return self._folder
        return sheets_folder(self._workspace.book().path)

    @property
    def order(self) -> Order:
        """What is chosen on the left."""
        return Order(
            self.practice.currentData() or None,
            self.server.currentData() or "",
            self.paper.currentText(),
            self.still_size.currentData(),
            self.audience.currentData(),
        )

    def close_workers(self) -> None:
        """Let the work that runs end."""
        self._later.stop()
        self._worker.close()

    def set_folder(self, folder: Path) -> None:
        """Let the files go into another folder."""
        self._folder = folder
        self._settle()

    @property
    def kind(self) -> Kind:
        """The kind of thing chosen."""
        return next(kind for kind in KINDS if self.kinds[kind.key].isChecked())

    def make(self) -> None:
        """Write what is chosen into the folder."""
        self._begin("Making", self.make_button, make, self._made, self.folder)

    def print(self) -> None:
        """Draw the pages of what is chosen, then ask for a printer."""
        self._begin("Drawing", self.print_button, printed_pages, self._drawn)

    def _begin(
        self,
        doing: str,
        button: QPushButton,
        work: Callable[..., object],
        done: Callable[[Any], object],
        *more: object,
    ) -> None:
        book = self._workspace.logbook
        if book is None or self._busy_with is not None:
            return
        self._busy_with, self._book = button, book
        self.result.setText(f"{doing}: {self.kind.name.lower()}…")
        self.progress.setRange(0, 0)
        self._settle()
        told = self._worker.progressed.emit, self._worker.cancelled
        self._worker.submit(work, book, self.kind, self.order, *more, *told, done=done, failed=self._failed)
        self.cancel.setFocus()

    def look(self) -> None:
        """Show how the thing chosen above the picture will look."""
        self._later.stop()
        book = self._workspace.logbook
        if book is None or self._busy_with is not None:
            return
        self._book = book
        self._worker.submit(
            preview, book, self.kind, self.order, self._worker.cancelled, done=self._seen, failed=self._unseen
        )

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._out_of_date()

    def _made(self, made: tuple[list[Path], list[str]]) -> None:
        paths, said = made
        self._end()
        written = paths[0].name if len(paths) == 1 else count_words(len(paths), "file")
        words = f"{written} written." if paths else "There was nothing to write."
        self.result.setText(" ".join([words, *said]))
        self.look()
        if paths:
            self._open_folder(self.folder)

    def _drawn(self, pages: list[NDArray[np.uint8]]) -> None:
        self._end()
        self.result.setText("")
        self.look()
        pdf = self.folder.parent / f"{self.kind.name}.pdf"
        images = [image_of(page) for page in pages]
        try:
            ask_to_print(self, self.kind.name, images, pdf, self.result.setText, self.paper.currentText())
        except UserError as error:
            self.result.setText(str(error))

    def _kind_chosen(self) -> None:
        self.zoomed.zoom_by(0)
        self._settle()
        self.look()

    def _failed(self, error: BaseException) -> None:
        self._end()
        self.result.setText(str(error) if isinstance(error, UserError) else "")

    def _cancel(self) -> None:
        if self._busy_with is not None:
            self._worker.cancel()
            self._end()
            self.result.setText("Cancelled. What was written by then is whole.")
            self.look()

    def _end(self) -> None:
        button, self._busy_with = self._busy_with, None
        self._settle()
        if button is not None:
            button.setFocus()

    def _progressed(self, done: int, of: int) -> None:
        if self._busy_with is not None:
            self.progress.setRange(0, max(of, 1))
            self.progress.setValue(done)

    def _seen(self, seen: Preview) -> None:
        self.picture.set_chart(seen.pixels)
        self.caption.setText(seen.words)
        self.picture.setAccessibleName(f"Preview: {seen.words}")

    def _unseen(self, error: BaseException) -> None:
        self._seen(Preview(None, str(error) if isinstance(error, UserError) else ""))

    def _choose_folder(self) -> None:
        dialog = file_dialog(self, "Folder for sheets, stills and tables", self.folder.parent)
        dialog.fileSelected.connect(lambda text: self.set_folder(Path(text)))
        dialog.open()

    def _logbook_changed(self) -> None:
        self._folder = None
        if self._workspace.logbook is not self._book:
            self._cancel()
            self._worker.cancel()
        self._out_of_date()
        self._settle()
        if self._workspace.logbook is None:
            self._seen(Preview(None, NO_LOGBOOK))

    def _out_of_date(self) -> None:
        if self.isVisible():
            self._fill()
            self._later.start()

    def _practice_chosen(self) -> None:
        self._fill_servers()
        self.look()

    def _fill(self) -> None:
        book = self._workspace.logbook
        practices = book.practices() if book else []
        named = [(f"{date_words(p.date)}  {p.name or 'Practice'}", p.id) for p in reversed(practices)]
        now = self._workspace.practice.id if self._workspace.practice else None
        _offer(self.practice, [("All practices", ""), *named], now if now != self._open_practice else None)
        self._open_practice = now
        self._fill_servers()
        self._settle()

    def _fill_servers(self) -> None:
        book = self._workspace.logbook
        served = {serve.player_id for serve in book.serves(practice_id=self.order.practice_id)} if book else set()
        gone = players_left_out(book, self.order.audience, today()) if book else []
        players = [one for one in book.players() if one.id in served and one not in gone] if book else []
        without = f"{count_words(len(gone), 'player')} left out, without consent." if gone else ""
        self.consent.setText(" ".join(words for words in (without, CONSENT) if words))
        self.consent.setToolTip(tooltip(", ".join(map(server_words, gone))))
        _offer(self.server, [("All servers", ""), *((server_words(player), player.id) for player in players)])

    def _settle(self) -> None:
        book = self._workspace.logbook
        free = book is not None and self._busy_with is None
        chosen = (self.practice, self.server, self.audience, self.paper, self.still_size)
        for control in (*self.kinds.values(), self.make_button, *chosen, self.folder_button):
            control.setEnabled(free)
        self.print_button.setEnabled(free and self.kind.is_pages)
        self.progress.setVisible(self._busy_with is not None)
        self.cancel.setVisible(self._busy_with is not None)
        words = f"Files go into: {self.folder.name}" if book is not None else ""
        self.folder_words.setText(words)
        self.folder_words.setToolTip(tooltip(str(self.folder) if book is not None else ""))
        self.open_button.setEnabled(book is not None and self.folder.is_dir())

    @staticmethod
    def _kind_button(kind: Kind) -> QPushButton:
        button = QPushButton(kind.name)
        button.setCheckable(True)
        button.setChecked(kind is KINDS[0])
        button.setAccessibleName(f"Share: {kind.name.lower()}")
        button.setAccessibleDescription(kind.words)
        button.setToolTip(tooltip(kind.words))
        return button

    @staticmethod
    def _box(name: str) -> QComboBox:
        box = ComboBox()
        box.setAccessibleName(name)
        box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        return box

    @staticmethod
    def _label(role: str) -> QLabel:
        label = PlainLabel()
        label.setProperty("role", role)
        label.setWordWrap(True)
        return label

    def _lay_out(self) -> None:
        left = QVBoxLayout()
        left.setSpacing(7)
        left.setContentsMargins(0, 0, 6, 0)
        kinds = QGridLayout()
        kinds.setSpacing(4)
        for place, button in enumerate(self.kinds.values()):
            self._chosen.addButton(button, place)
            kinds.addWidget(button, place // 2, place % 2)
        left.addLayout(kinds)
        left.addSpacing(4)
        of = QGridLayout()
        of.setSpacing(4)
        of.setColumnStretch(1, 1)
        boxes = {"Practice": self.practice, "Server": self.server, "For": self.audience}
        boxes |= {"Paper": self.paper, "Stills": self.still_size}
        for row, (words, box) in enumerate(boxes.items()):
            of.addWidget(self._titled(words, box), row, 0)
            of.addWidget(box, row, 1)
        left.addLayout(of)
        left.addSpacing(8)
        for pair in ((self.make_button, self.print_button), (self.folder_button, self.open_button)):
            beside = QHBoxLayout()
            for button in pair:
                beside.addWidget(button)
            left.addLayout(beside)
        for part in (self.progress, self.cancel, self.result):
            left.addWidget(part)
        left.addStretch(1)
        for label in (self.folder_words, self.consent):
            left.addWidget(label)
        inside = QWidget()
        inside.setLayout(left)
        self._column = Scrolled(inside)
        self._give_room()
        self.setFocusProxy(self.kinds[KINDS[0].key])

        below = QHBoxLayout()
        below.addWidget(self.caption, 1)
        self.zoom_buttons = [QPushButton(words) for words in ("Zoom out", "Fit", "Zoom in")]
        for steps, button in zip((-1, 0, 1), self.zoom_buttons, strict=True):
            button.setProperty("role", "small")
            button.clicked.connect(lambda _checked=False, steps=steps: self.zoomed.zoom_by(steps))
            below.addWidget(button)
        right = QVBoxLayout()
        right.addWidget(self.zoomed, 1)
        right.addLayout(below)
        whole = QHBoxLayout(self)
        whole.setContentsMargins(18, 14, 18, 14)
        whole.setSpacing(18)
        whole.addWidget(self._column)
        whole.addLayout(right, 1)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._give_room()

    def _give_room(self) -> None:
        self._column.setFixedWidth(pixels(LEFT_PX))

    @staticmethod
    def _titled(words: str, buddy: QWidget | None) -> QLabel:
        label = PlainLabel(words)
        label.setProperty("role", "muted")
        if buddy is not None:
            label.setBuddy(buddy)
        return label


def _offer(box: QComboBox, items: list[tuple[str, Any]], first: str | None = None) -> None:
    """Offer other items; what was chosen stays chosen where it is still there."""
    kept = first if first is not None else box.currentData()
    box.blockSignals(True)
    box.clear()
    for words, key in items:
        box.addItem(words, key)
    box.setCurrentIndex(max(0, box.findData(kept)))
    box.blockSignals(False)
