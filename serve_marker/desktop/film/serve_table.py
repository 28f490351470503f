"""The list of serves, edited in place."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from PySide6.QtCore import (
    QAbstractItemModel,
    QAbstractTableModel,
    QEvent,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QSortFilterProxyModel,
    Qt,
    Signal,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from serve_marker.desktop.film.timeline import time_text
from serve_marker.desktop.widgets.draw_shape import shape_icon
from serve_marker.desktop.widgets.text_sizes import pixels
from serve_marker.desktop.widgets.theme import current
from serve_marker.logbook.outcomes import OUTCOMES, RECEPTIONS
from serve_marker.logbook.records import SERVE_TYPES, TARGET_KINDS, Player, Serve, player_words
from serve_marker.marking.judging import Judgement
from serve_marker.report.overlay_items import SHAPE_WORDS
from serve_marker.report.place_words import error_m, landing_error_words, place_name

AnyIndex = QModelIndex | QPersistentModelIndex

COLUMNS = {
    "moment_s": "time",
    "server": "server",
    "serve_type": "type",
    "aim": "aim",
    "outcome": "outcome",
    "area": "area",
    "verdict": "verdict",
    "error": "error",
    "pace": "pace",
    "landing_height_m": "height",
    "pass_rating": "pass",
    "passer": "passer",
    "reception": "reception",
    "target_kind": "targets",
    "note": "note",
}
EDITABLE = (
    *("server", "serve_type", "aim", "outcome", "landing_height_m", "pass_rating", "passer"),
    *("reception", "target_kind", "note"),
)
KEYS = tuple(COLUMNS)
SORT_ROLE = Qt.ItemDataRole.UserRole
WORDS: dict[str, Callable[[Any], str]] = {
    "moment_s": time_text,
    "error": landing_error_words,
    "pace": lambda pace: f"{pace:.0f}",
}
HINTS = {
    "error": "How far off the landing may be",
    "pace": "Mean pace of the flight, in the unit of the settings",
    "landing_height_m": "How high the ball was received [m]",
    "pass_rating": "Pass rating, on the team's scale",
}
ROW_PX = 30
WIDTHS = {
    **{"moment_s": 90, "server": 78, "serve_type": 74, "aim": 72, "outcome": 70, "area": 74},
    **{
        "verdict": 62,
        "error": 66,
        "pace": 44,
        "landing_height_m": 56,
        "pass_rating": 42,
        "passer": 58,
        "reception": 76,
        "target_kind": 58,
        "note": 38,
    },
}
"""In a window 1280 wide the list is 960 wide, and the last column takes what is left."""


def serve_row(
    serve: Serve,
    judgement: Judgement,
    shape: str,
    players: Mapping[str, Player],
    time_scale: float,
    pace: float | None,
) -> dict[str, object]:
    """Return a row of the list: its cells by COLUMNS, and the serve's id and shape."""
    player, passer = (players.get(key or "") for key in (serve.player_id, serve.passer_id))
    return {
        "serve_id": serve.id,
        "shape": shape,
        "moment_s": None if serve.moment_s is None else serve.moment_s * time_scale,
        "server": player_words(player) if player else "",
        "serve_type": serve.serve_type,
        "aim": serve.aim,
        "outcome": serve.outcome,
        "area": place_name(judgement),
        "verdict": judgement.verdict,
        "error": off_m if math.isfinite(off_m := error_m(judgement)) else None,
        "pace": pace,
        "landing_height_m": serve.landing_height_m,
        "pass_rating": serve.pass_rating,
        "passer": player_words(passer) if passer else "",
        "reception": serve.reception,
        "target_kind": serve.target_kind,
        "note": serve.note,
    }


class ServeTableModel(QAbstractTableModel):
    """Rows of plain dictionaries: ``serve_id``, ``shape`` and the keys of COLUMNS."""

    edited = Signal(str, str, str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._rows: list[dict[str, Any]] = []

    def set_rows(self, rows: Sequence[Mapping[str, Any]]) -> None:
        """Take the rows; only what changed is announced while the same serves stand in the same order."""
        fresh = [dict(row) for row in rows]
        if [row["serve_id"] for row in fresh] == [row["serve_id"] for row in self._rows]:
            before, self._rows = self._rows, fresh
            for place, (old, new) in enumerate(zip(before, fresh, strict=True)):
                if old != new:
                    self.dataChanged.emit(self.index(place, 0), self.index(place, len(KEYS) - 1))
            return
        self.beginResetModel()
        self._rows = fresh
        self.endResetModel()

    def serve_id(self, row: int) -> str:
        """The serve in a row."""
        return str(self._rows[row]["serve_id"])

    def row_of(self, serve_id: str) -> int | None:
        """The row of a serve."""
        return next((place for place, row in enumerate(self._rows) if row["serve_id"] == serve_id), None)

    def rowCount(self, parent: AnyIndex = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: AnyIndex = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(KEYS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if role == Qt.ItemDataRole.ToolTipRole and orientation == Qt.Orientation.Horizontal:
            return HINTS.get(KEYS[section])
        if role != Qt.ItemDataRole.DisplayRole:
            return None
        return COLUMNS[KEYS[section]] if orientation == Qt.Orientation.Horizontal else section + 1

    def data(self, index: AnyIndex, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        row, key = self._rows[index.row()], KEYS[index.column()]
        value = row.get(key)
        if role == SORT_ROLE:
            return _sortable(value)
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return "" if value is None else WORDS.get(key, str)(value)
        shape = str(row.get("shape", ""))
        if key == "moment_s" and shape in SHAPE_WORDS:
            if role == Qt.ItemDataRole.DecorationRole:
                return shape_icon(shape, current())
            if role in (Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleDescriptionRole):
                return SHAPE_WORDS[shape]
        return None

    def setData(self, index: AnyIndex, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.EditRole or str(value) == self.data(index):
            return False
        self.edited.emit(self.serve_id(index.row()), KEYS[index.column()], str(value))
        return True

    def flags(self, index: AnyIndex) -> Qt.ItemFlag:
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        return flags | Qt.ItemFlag.ItemIsEditable if KEYS[index.column()] in EDITABLE else flags


class ChoiceDelegate(QStyledItemDelegate):
    """A box of choices where there are some, a line of text elsewhere."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.choices: dict[str, tuple[str, ...]] = {}
        self.open_choices = ("aim",)

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: AnyIndex) -> QWidget:
        key = KEYS[index.column()]
        if key not in self.choices:
            line = QLineEdit(parent)
            line.setAccessibleName(COLUMNS[key])
            return line
        box = QComboBox(parent)
        box.setAccessibleName(COLUMNS[key])
        box.setEditable(key in self.open_choices)
        box.addItems(self.choices[key])
        box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        if not box.isEditable():
            box.activated.connect(lambda _place: self._take(box))
        return box

    def setEditorData(self, editor: QWidget, index: AnyIndex) -> None:
        text = str(index.data(Qt.ItemDataRole.EditRole))
        if isinstance(editor, QComboBox):
            place = editor.findText(text)
            editor.setCurrentIndex(place)
            if editor.isEditable():
                editor.setEditText(text)
        elif isinstance(editor, QLineEdit):
            editor.setText(text)

    def setModelData(self, editor: QWidget, model: QAbstractItemModel, index: AnyIndex) -> None:
        if isinstance(editor, QComboBox):
            if editor.currentIndex() >= 0 or editor.isEditable():
                model.setData(index, editor.currentText())
        elif isinstance(editor, QLineEdit):
            model.setData(index, editor.text())

    def _take(self, box: QComboBox) -> None:
        self.commitData.emit(box)
        self.closeEditor.emit(box)


class ServeTable(QTableView):
    """All serves with their server, aim and outcome.

    Signals
    -------
    edited(serve_id, column, text) : a cell got a new text; the caller stores it and calls ``set_rows``.
    chosen(serve_id) : go to this serve (Enter on a read-only cell, a double click there, or a click on its time).
    selection_changed(serve_ids) : rows were selected.
    """

    edited = Signal(str, str, str)
    chosen = Signal(str)
    selection_changed = Signal(list)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("List of serves")
        self.setObjectName("serveList")
        self._model = ServeTableModel(self)
        self._model.edited.connect(self.edited)
        self._sorted = QSortFilterProxyModel(self)
        self._sorted.setSourceModel(self._model)
        self._sorted.setSortRole(SORT_ROLE)
        self._sorted.setDynamicSortFilter(True)
        self.setModel(self._sorted)
        self._delegate = ChoiceDelegate(self)
        self.setItemDelegate(self._delegate)
        self.set_choices("serve_type", ("", *SERVE_TYPES))
        self.set_choices("outcome", OUTCOMES)
        self.set_choices("reception", RECEPTIONS)
        self.set_choices("target_kind", TARGET_KINDS)
        self.set_choices("pass_rating", ("", "0", "1", "2", "3", "4"))
        self.setSortingEnabled(True)
        self.sortByColumn(0, Qt.SortOrder.AscendingOrder)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.AnyKeyPressed
        )
        self.setTabKeyNavigation(False)
        self.setAlternatingRowColors(True)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.verticalHeader().hide()
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        self.horizontalHeader().setStretchLastSection(True)
        self.horizontalHeader().setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self._give_room()
        self.clicked.connect(self._clicked)
        self.doubleClicked.connect(self._go)
        self.selectionModel().selectionChanged.connect(lambda *_: self.selection_changed.emit(self.selection()))

    def set_rows(self, rows: Sequence[Mapping[str, Any]]) -> None:
        """Show these serves; sorting, place, current cell and selection stay."""
        kept, column = set(self.selection()), self.currentIndex().column()
        current_id = self._id_at(self.currentIndex())
        scrolled = self.verticalScrollBar().value()
        self._model.set_rows(rows)
        self.verticalScrollBar().setValue(scrolled)
        if self.selection() != sorted(kept, key=self._view_row) or self._id_at(self.currentIndex()) != current_id:
            self._restore(kept, current_id, max(column, 0), scrolled)

    def set_choices(self, column: str, choices: Sequence[str]) -> None:
        """Offer these texts in a column ("server", "aim", "passer", ...); any text may still be typed for an aim."""
        self._delegate.choices[column] = tuple(choices)

    def set_current(self, serve_id: str) -> None:
        """Mark a serve as the one on the screen and bring it into sight."""
        row = self._view_row(serve_id)
        if row >= 0:
            index = self._sorted.index(row, max(self.currentIndex().column(), 0))
            if index != self.currentIndex():
                chooser = self.selectionModel()
                chooser.setCurrentIndex(index, chooser.SelectionFlag.ClearAndSelect | chooser.SelectionFlag.Rows)
            self.scrollTo(index)

    def selection(self) -> list[str]:
        """The selected serves as they stand in the list."""
        return [self._id_at(index) for index in sorted(self.selectionModel().selectedRows())]

    def keyPressEvent(self, event: Any) -> None:
        index = self.currentIndex()
        on_row = index.isValid() and self.state() != QAbstractItemView.State.EditingState
        if on_row and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.chosen.emit(self._id_at(index))
        else:
            super().keyPressEvent(event)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange:
            self.viewport().update()
        elif event.type() == QEvent.Type.FontChange:
            self._give_room()

    def _give_room(self) -> None:
        """Make rows and columns as large as the letters ask for."""
        self.verticalHeader().setDefaultSectionSize(pixels(ROW_PX))
        for key, width in WIDTHS.items():
            self.setColumnWidth(KEYS.index(key), pixels(width))

    def _id_at(self, index: AnyIndex) -> str:
        return self._model.serve_id(self._sorted.mapToSource(index).row()) if index.isValid() else ""

    def _view_row(self, serve_id: str) -> int:
        row = self._model.row_of(serve_id)
        return -1 if row is None else self._sorted.mapFromSource(self._model.index(row, 0)).row()

    def _restore(self, kept: set[str], current_id: str, column: int, scrolled: int) -> None:
        chooser = self.selectionModel()
        row = self._view_row(current_id)
        if row >= 0:
            chooser.setCurrentIndex(self._sorted.index(row, column), chooser.SelectionFlag.NoUpdate)
        for serve_id in kept:
            if self._view_row(serve_id) >= 0:
                index = self._sorted.index(self._view_row(serve_id), 0)
                chooser.select(index, chooser.SelectionFlag.Select | chooser.SelectionFlag.Rows)
        self.verticalScrollBar().setValue(scrolled)

    def _clicked(self, index: QModelIndex) -> None:
        if KEYS[index.column()] == "moment_s":
            self.chosen.emit(self._id_at(index))

    def _go(self, index: QModelIndex) -> None:
        if KEYS[index.column()] not in (*EDITABLE, "moment_s"):
            self.chosen.emit(self._id_at(index))


def _sortable(value: Any) -> Any:
    if isinstance(value, int | float):
        return float(value)
    text = "" if value is None else str(value)
    number, _, rest = text.partition(" ")
    return f"{int(number):06d} {rest}" if number.isdecimal() else text.casefold()
