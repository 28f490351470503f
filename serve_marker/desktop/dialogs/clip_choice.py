"""All practices with their clips: one to open, or some to move or remove."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.widgets.text_sizes import pixels, resize_with_letters
from serve_marker.logbook.records import ClipEntry, Practice

COLUMNS = (("practice and clip", 330), ("date", 110), ("serves", 70), ("view", 120))


class ClipChoice(QDialog):
    """The clips of all practices, the latest first, with how many serves each holds and its view.

    Signals
    -------
    picked(clip_id) : a clip is to be opened.
    move_asked(clip_ids), remove_asked(clip_ids) : the chosen clips are to go elsewhere.
    """

    picked = Signal(str)
    move_asked = Signal(object)
    remove_asked = Signal(object)

    def __init__(
        self,
        practices: list[Practice],
        clips: list[ClipEntry],
        serve_counts: Mapping[str, int],
        view_names: Mapping[str, str],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Another practice or clip")
        resize_with_letters(self, 700, 420)
        self.tree = QTreeWidget()
        self.tree.setHeaderLabels([title for title, _ in COLUMNS])
        self.tree.setAccessibleName("Practices and their clips")
        self.tree.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        for column, (_, width_px) in enumerate(COLUMNS):
            self.tree.setColumnWidth(column, pixels(width_px))
        for practice in reversed(practices):
            branch = QTreeWidgetItem([practice.name, practice.date])
            branch.setFlags(Qt.ItemFlag.ItemIsEnabled)
            self.tree.addTopLevelItem(branch)
            for clip in clips:
                if clip.practice_id == practice.id:
                    view_ids = (clip.view_id, *(view_id for _, view_id in clip.later_views))
                    named = next((view_names[view_id] for view_id in view_ids if view_id), "none")
                    leaf = QTreeWidgetItem([clip.file_name, "", str(serve_counts.get(clip.id, 0)), named])
                    leaf.setData(0, Qt.ItemDataRole.UserRole, clip.id)
                    branch.addChild(leaf)
            branch.setExpanded(True)
        self.tree.itemActivated.connect(lambda _item, _column: self.accept())
        buttons = accept_reject_buttons(self, "Open")
        for text, tell in (("Move…", self.move_asked.emit), ("Remove…", self.remove_asked.emit)):
            button = buttons.addButton(text, QDialogButtonBox.ButtonRole.ActionRole)
            button.clicked.connect(lambda _checked=False, tell=tell: self._ask(tell))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addWidget(self.tree)
        layout.addWidget(buttons)
        self.accepted.connect(self._tell)

    def _chosen(self) -> list[str]:
        return [item.data(0, Qt.ItemDataRole.UserRole) for item in self.tree.selectedItems()]

    def _ask(self, tell: Callable[[list[str]], None]) -> None:
        chosen = self._chosen()
        if chosen:
            self.reject()
            tell(chosen)

    def _tell(self) -> None:
        item = self.tree.currentItem()
        clip_id = item.data(0, Qt.ItemDataRole.UserRole) if item is not None else None
        if clip_id:
            self.picked.emit(clip_id)
