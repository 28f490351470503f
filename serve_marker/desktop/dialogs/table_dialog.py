"""What dialogs with a table to type into have in common: nothing typed is lost unasked, nothing unreadable is kept."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton

from serve_marker.desktop.dialogs.confirmation import Confirmation
from serve_marker.desktop.dialogs.date_field import DateField
from serve_marker.desktop.widgets.growing_table import GrowingTable
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.errors import UserError


class TableDialog(QDialog):
    """A dialog around ``table``, with ``trouble`` for what cannot be read."""

    table: GrowingTable
    trouble: PlainLabel

    def read(self) -> None:
        """Read the table; a UserError says what cannot be read."""
        raise NotImplementedError

    def lost_question(self) -> str:
        """Return what to ask before the dialog is closed without keeping; "" where nothing would be lost."""
        raise NotImplementedError

    def typed_rows(self) -> list[tuple[str, ...]]:
        """Return the texts of the rows that hold anything."""
        rows = (self.table.row_texts(row) for row in range(self.table.rowCount()))
        return [texts for texts in rows if any(texts)]

    def accept(self) -> None:
        self.table.commit()
        try:
            self.read()
        except UserError as error:
            self.trouble.setText(str(error))
            return
        super().accept()

    def reject(self) -> None:
        self.table.commit()
        question = self.lost_question()
        if not question:
            super().reject()
            return
        asked = Confirmation(question, "Close", self)
        asked.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        asked.accepted.connect(lambda: QDialog.reject(self))
        asked.open()

    @staticmethod
    def button_row(*buttons: tuple[str, Callable[[], object]]) -> QHBoxLayout:
        """Return buttons from the left; Enter in the table presses none of them."""
        row = QHBoxLayout()
        for words, handler in buttons:
            button = QPushButton(words, autoDefault=False)
            button.clicked.connect(lambda _checked, handler=handler: handler())
            row.addWidget(button)
        row.addStretch(1)
        return row


class DayTableDialog(TableDialog):
    """A table that belongs to the day in ``date``."""

    date: DateField

    def day(self) -> str:
        """Return the day in the field, YYYY-MM-DD."""
        return self.date.date().toString(Qt.DateFormat.ISODate)

    def accept(self) -> None:
        if self.date.is_understood():
            self.date.settle()
            super().accept()
