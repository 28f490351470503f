"""Choosing a stored view for this clip with one yes: the court is shown over the picture before it is taken."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.setup.view_sentences import CHECK_WORDS
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import resize_with_letters
from serve_marker.logbook.records import Gym, StoredView
from serve_marker.study.sentences import date_words


class StoredViewDialog(QDialog):
    """The stored views that fit this clip's picture, the newest first."""

    def __init__(
        self,
        views: list[StoredView],
        gyms: list[Gym],
        preview: Callable[[StoredView | None], None],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Use a stored view")
        resize_with_letters(self, 420, 280)
        self._views = {view.id: view for view in views}
        self._preview = preview
        gym_names = {gym.id: gym.name for gym in gyms}
        self.list = QListWidget()
        self.list.setAccessibleName("Stored views")
        for view in views:
            item = QListWidgetItem(f"{gym_names.get(view.gym_id, '')} / {view.name}   ({date_words(view.made_on)})")
            item.setData(Qt.ItemDataRole.UserRole, view.id)
            self.list.addItem(item)
        self.list.currentItemChanged.connect(lambda _now, _before: self._preview(self.chosen()))
        self.list.itemActivated.connect(lambda _item: self.accept())
        self.finished.connect(lambda _result: self._preview(None))
        words = PlainLabel(CHECK_WORDS)
        words.setWordWrap(True)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addWidget(words)
        layout.addWidget(self.list)
        layout.addWidget(accept_reject_buttons(self, "Yes, use it"))
        if views:
            self.list.setCurrentRow(0)

    def chosen(self) -> StoredView | None:
        """Return the view under the bar."""
        item = self.list.currentItem()
        return self._views.get(item.data(Qt.ItemDataRole.UserRole)) if item is not None else None
