"""To which practice clips belong, asked once for all of them together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QDate, Qt
from PySide6.QtWidgets import QDialog, QFormLayout, QLineEdit, QVBoxLayout, QWidget

from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.dialogs.date_field import DateField
from serve_marker.desktop.widgets.combo_box import ComboBox
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import pixels
from serve_marker.logbook.practice_of_clip import UNNAMED_PRACTICE, practice_of_day
from serve_marker.logbook.records import Practice, new_id
from serve_marker.study.sentences import date_words

BY_DAY, NEW = "by day", "new"


class PracticeOfClips(QDialog):
    """One practice for all, a practice for each day they were filmed on, or a new one with its name and date.

    Parameters
    ----------
    words : what is asked.
    accept : what the button that answers it says.
    days : the days (YYYY-MM-DD) on which the clips were filmed.
    practices : those of the logbook, the oldest first.
    open_now : the practice that is open.
    """

    def __init__(
        self,
        words: str,
        accept: str,
        days: Sequence[str],
        practices: Sequence[Practice],
        open_now: Practice | None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Practice of clips")
        self._practices = list(practices)
        self._open_now = open_now
        self._new = Practice(id=new_id(), date=min(days), name=UNNAMED_PRACTICE)
        self.words = PlainLabel(words)
        self.words.setWordWrap(True)
        self.words.setMinimumWidth(pixels(420))
        self.practice = ComboBox()
        self.practice.setAccessibleName("Practice")
        if len(set(days)) > 1:
            self.practice.addItem("A practice for each day", BY_DAY)
        self.practice.addItem("New practice", NEW)
        for known in reversed(self._practices):
            self.practice.addItem(f"{known.name}, {date_words(known.date)}", known.id)
        self.name = QLineEdit(self._new.name)
        self.name.setAccessibleName("Name of the new practice")
        self.date = DateField(QDate.fromString(self._new.date, Qt.DateFormat.ISODate), "Date of the new practice")
        form = QFormLayout()
        for text, control in (("Practice", self.practice), ("Name", self.name), ("Date", self.date)):
            form.addRow(text, control)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.setSpacing(14)
        layout.addWidget(self.words)
        layout.addLayout(form)
        layout.addWidget(accept_reject_buttons(self, accept))
        self.practice.currentIndexChanged.connect(self._show_new)
        if len(set(days)) == 1:
            of_day = practice_of_day(days[0], open_now, self._practices)
            self.practice.setCurrentIndex(max(self.practice.findData(of_day.id), 0))
        self._show_new()

    def accept(self) -> None:
        if not self.date.isEnabled() or self.date.is_understood():
            super().accept()

    def _show_new(self) -> None:
        is_new = self.practice.currentData() == NEW
        self.name.setEnabled(is_new)
        self.date.setEnabled(is_new)

    def practices_by_day(self, days: Sequence[str]) -> dict[str, Practice]:
        """Return the practice chosen for clips of each day."""
        chosen = self.practice.currentData()
        if chosen == BY_DAY:
            return {day: practice_of_day(day, self._open_now, self._practices) for day in days}
        edited = replace(
            self._new,
            name=self.name.text().strip() or UNNAMED_PRACTICE,
            date=self.date.date().toString(Qt.DateFormat.ISODate),
        )
        return dict.fromkeys(days, next((known for known in self._practices if known.id == chosen), edited))
