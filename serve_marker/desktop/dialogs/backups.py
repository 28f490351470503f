"""The backups of a logbook, to choose one to restore."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTreeWidget, QTreeWidgetItem, QVBoxLayout, QWidget

from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import pixels, resize_with_letters
from serve_marker.logbook.backups import Backup
from serve_marker.study.sentences import count_words, date_words

COLUMNS = (("made on", 200), ("at", 90), ("holds", 160))


class BackupsDialog(QDialog):
    """Backups, the newest first and chosen, each with its serves.

    ``words`` stand above them. ``rescue_asked``: of a damaged logbook, what can be read is to be opened.
    """

    rescue_asked = Signal()

    def __init__(
        self,
        words: str,
        backups: Sequence[tuple[Backup, int | None]],
        damaged: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Backups")
        resize_with_letters(self, 520, 420)
        self.words = PlainLabel(words)
        self.words.setWordWrap(True)
        self.list = QTreeWidget()
        self.list.setRootIsDecorated(False)
        self.list.setHeaderLabels([title for title, _ in COLUMNS])
        self.list.setAccessibleName("Backups")
        for column, (_, width_px) in enumerate(COLUMNS):
            self.list.setColumnWidth(column, pixels(width_px))
        for backup, serves in backups:
            holds = "cannot be read" if serves is None else count_words(serves, "serve")
            day = date_words(f"{backup.made:%Y-%m-%d}")
            item = QTreeWidgetItem([day, f"{backup.made:%H:%M}", holds])
            item.setData(0, Qt.ItemDataRole.UserRole, backup)
            item.setDisabled(serves is None)
            self.list.addTopLevelItem(item)
            if serves is not None and self.list.currentItem() is None:
                self.list.setCurrentItem(item)
        self.buttons = accept_reject_buttons(self, "Restore")
        restore = self.buttons.buttons()[0]
        restore.setEnabled(self.list.currentItem() is not None)
        if damaged:
            button = self.buttons.addButton("Open what can be read", QDialogButtonBox.ButtonRole.ActionRole)
            button.clicked.connect(self._ask_rescue)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.setSpacing(12)
        layout.addWidget(self.words)
        layout.addWidget(self.list)
        layout.addWidget(self.buttons)

    def chosen(self) -> Backup | None:
        """Return the backup chosen."""
        item = self.list.currentItem()
        return None if item is None else Backup(*item.data(0, Qt.ItemDataRole.UserRole))

    def _ask_rescue(self) -> None:
        self.reject()
        self.rescue_asked.emit()
