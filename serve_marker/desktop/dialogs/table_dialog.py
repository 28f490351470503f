"""What dialogs with a table to type into have in common: nothing typed is lost unasked, nothing unreadable is kept."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFormLayout, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
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

    def lay_out(
        self, *buttons: tuple[str, Callable[[], object]], above: QFormLayout | None = None, below: QWidget | None = None
    ) -> None:
        """Stand the table above what is said of it, ``buttons`` that work on it and those that close the dialog.

        Fields stand ``above`` the table, words ``below`` its buttons. Enter in the table presses none of these.
        """
        row = QHBoxLayout()
        for words, handler in buttons:
            button = QPushButton(words, autoDefault=False)
            button.clicked.connect(lambda _checked, handler=handler: handler())
            row.addWidget(button)
        row.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        if above is not None:
            layout.addLayout(above)
        layout.addWidget(self.table)
        layout.addWidget(self.trouble)
        layout.addLayout(row)
        if below is not None:
            layout.addWidget(below)
        layout.addWidget(accept_reject_buttons(self))


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
