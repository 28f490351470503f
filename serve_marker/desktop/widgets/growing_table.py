"""A table to type into: Tab and Enter make rows, Delete empties a cell, lines copied from a spreadsheet fill them."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence

from PySide6.QtCore import QEvent, QModelIndex, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QApplication,
    QHeaderView,
    QStyledItemDelegate,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
SEPARATORS = "\t;,"


class GrowingTable(QTableWidget):
    """Cells of text, the last row for the next entry.

    Parameters
    ----------
    titles : what stands above the columns.
    fits : whether a pasted text can stand in a column (counted from 0).

    Signals
    -------
    pasted(refused) : lines were pasted; ``refused`` are the texts that fitted nowhere.
    """

    pasted = Signal(list)

    def __init__(self, titles: Sequence[str], fits: Callable[[int, str], bool]) -> None:
        super().__init__(0, len(titles))
        self._titles = tuple(titles)
        self._fits = fits
        self._given_room: tuple[int, ...] = ()
        self.setHorizontalHeaderLabels(list(titles))
        self.verticalHeader().setVisible(False)
        self.setItemDelegate(_TypingKeys(self))

    def give_room_to(self, *columns: int) -> None:
        """Let these share what room the words of all columns leave; where there is none, the table scrolls."""
        self._given_room = columns

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        header = self.horizontalHeader()
        widths = (max(self.sizeHintForColumn(n), header.sectionSizeHint(n)) for n in range(self.columnCount()))
        fits = sum(widths) <= self.viewport().width()
        for column in range(self.columnCount()):
            given = fits and column in self._given_room
            header.setSectionResizeMode(
                column, QHeaderView.ResizeMode.Stretch if given else QHeaderView.ResizeMode.ResizeToContents
            )

    def row_texts(self, row: int) -> tuple[str, ...]:
        """Return the texts of a row, "" for empty cells."""
        items = (self.item(row, column) for column in range(self.columnCount()))
        return tuple(item.text().strip() if item is not None else "" for item in items)

    def add_row(self, texts: Sequence[str] = ()) -> int:
        """Add a row below the others; returns which one it is."""
        row = self.rowCount()
        self.insertRow(row)
        for column, text in enumerate(texts):
            self.setItem(row, column, QTableWidgetItem(text))
        return row

    def next_row(self) -> int:
        """Return the empty row below all others, made where there is none."""
        last = self.rowCount() - 1
        return last if last >= 0 and not any(self.row_texts(last)) else self.add_row()

    def commit(self) -> None:
        """Take what is being typed into its cell."""
        editor = QApplication.focusWidget()
        if editor is not None and self.isAncestorOf(editor) and self.state() == QAbstractItemView.State.EditingState:
            self.commitData(editor)

    def go_down(self) -> None:
        """Go to the cell below; from the last row to the beginning of the next entry."""
        if self.currentRow() < self.rowCount() - 1:
            self.setCurrentCell(self.currentRow() + 1, self.currentColumn())
        else:
            self.setCurrentCell(self.next_row(), 0)

    def paste(self) -> None:
        """Fill rows from the current cell on with what was copied."""
        top, left = max(self.currentRow(), 0), max(self.currentColumn(), 0)
        refused: list[str] = []
        lines = [line for line in copied_lines() if not self._is_heading(line, left)]
        for row, line in enumerate(lines, start=top):
            if row == self.rowCount():
                self.add_row()
            for column, text in enumerate(line, start=left):
                if column < self.columnCount() and self._fits(column, text):
                    self.model().setData(self.model().index(row, column), text)
                elif text:
                    refused.append(text)
        self.next_row()
        self.pasted.emit(refused)

    def _is_heading(self, line: Sequence[str], left: int) -> bool:
        return any(text.casefold() == title for text, title in zip(line, self._titles[left:], strict=False))

    def moveCursor(self, action: QAbstractItemView.CursorAction, modifiers: Qt.KeyboardModifier) -> QModelIndex:
        if action == QAbstractItemView.CursorAction.MoveNext and self._in_last_cell():
            return self.model().index(self.next_row(), 0)
        return super().moveCursor(action, modifiers)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Paste):
            self.paste()
        elif event.key() in ENTER:
            self.go_down()
        elif event.matches(QKeySequence.StandardKey.Delete):
            self.model().setData(self.currentIndex(), "")
        elif event.key() == Qt.Key.Key_Tab and self._in_last_cell() and not any(self.row_texts(self.currentRow())):
            event.ignore()
        else:
            super().keyPressEvent(event)

    def _in_last_cell(self) -> bool:
        return (self.currentRow(), self.currentColumn()) == (self.rowCount() - 1, self.columnCount() - 1)


class _TypingKeys(QStyledItemDelegate):
    """Enter and pasted lines while a cell is being typed."""

    def __init__(self, table: GrowingTable) -> None:
        super().__init__(table)
        self._table = table

    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        if not isinstance(event, QKeyEvent) or event.type() != QEvent.Type.KeyPress or not isinstance(editor, QWidget):
            return super().eventFilter(editor, event)
        if event.key() in ENTER:
            self.commitData.emit(editor)
            self.closeEditor.emit(editor)
            self._table.go_down()
            return True
        if event.matches(QKeySequence.StandardKey.Paste) and sum(map(len, copied_lines())) > 1:
            self.closeEditor.emit(editor)
            self._table.paste()
            return True
        return super().eventFilter(editor, event)


def copied_lines() -> list[list[str]]:
    """Return what was copied, line by line and cell by cell; the cells of a line may stand between tabs, ";" or ","."""
    lines = [line for line in QApplication.clipboard().text().splitlines() if line.strip()]
    separator = next((mark for mark in SEPARATORS if any(mark in line for line in lines)), "\t")
    return [[cell.strip() for cell in cells] for cells in csv.reader(lines, delimiter=separator)]
