"""The roster, edited as a plain table."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QDate, Qt, Signal
from PySide6.QtWidgets import (
    QDateEdit,
    QDialog,
    QFormLayout,
    QHBoxLayout,
    QHeaderView,
    QLineEdit,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.errors import UserError
from serve_marker.logbook.records import HANDS, Player, new_id
from serve_marker.logbook.seasons import refuse_shared_numbers

COLUMNS = ("number", "name", "position", "serving hand", "standing reach [cm]", "jump reach [cm]")
REACH_RANGE_M = (1.0, 4.5)


class RosterDialog(QDialog):
    """One row per player; the last row is for the next one. ``new_season`` asks to begin one."""

    new_season = Signal()

    def __init__(self, players: list[Player], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Players")
        self.resize(860, 460)
        self._players: list[Player | None] = []
        self.table = QTableWidget(0, len(COLUMNS))
        self.table.setHorizontalHeaderLabels(list(COLUMNS))
        self.table.verticalHeader().setVisible(False)
        self.table.horizontalHeader().setSectionResizeMode(1, QHeaderView.ResizeMode.Stretch)
        self.table.setAccessibleName("Players")
        for player in [*players, None]:
            self._add_row(player)
        self.trouble = PlainLabel(" ")
        self.trouble.setWordWrap(True)
        for column in (3, 4, 5):
            self.table.horizontalHeader().setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
        self.table.setColumnWidth(0, 80)
        add = QPushButton("Another player", autoDefault=False)
        add.clicked.connect(self._another)
        take_out = QPushButton("Take out", autoDefault=False)
        take_out.clicked.connect(self._take_out)
        buttons = QHBoxLayout()
        buttons.addWidget(add)
        buttons.addWidget(take_out)
        begin = QPushButton("New season...", autoDefault=False)
        begin.clicked.connect(self._begin_season)
        buttons.addWidget(begin)
        buttons.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addWidget(self.table)
        layout.addWidget(self.trouble)
        layout.addLayout(buttons)
        layout.addWidget(accept_reject_buttons(self))
        self.removed: list[Player] = []

    def accept(self) -> None:
        try:
            self.players()
        except UserError as error:
            self.trouble.setText(str(error))
            return
        super().accept()

    def players(self) -> list[Player]:
        """Return the players as edited; rows left empty are none."""
        rows = [self._player(row) for row in range(self.table.rowCount())]
        found = [player for player in rows if player is not None]
        refuse_shared_numbers(found)
        return found

    def _player(self, row: int) -> Player | None:
        number, name, position, hand, standing, jump = (self._text(row, column) for column in range(len(COLUMNS)))
        if not any((number, name, position)):
            return None
        if number and not number.isdigit():
            raise UserError(f"{number} is no shirt number; write digits only.")
        if not name:
            raise UserError(f"The player of number {number or 'unknown'} needs a name.")
        if (hand or "right") not in HANDS:
            raise UserError(f"{hand} is no serving hand; write right or left.")
        known = self._players[row] or Player(id=new_id(), name=name)
        return replace(
            known,
            name=name,
            number=int(number) if number else None,
            position=position,
            hand=hand or "right",
            standing_reach_m=_reach_m(standing, name),
            jump_reach_m=_reach_m(jump, name),
        )

    def _text(self, row: int, column: int) -> str:
        item = self.table.item(row, column)
        return item.text().strip() if item is not None else ""

    def _add_row(self, player: Player | None) -> None:
        row = self.table.rowCount()
        self.table.insertRow(row)
        self._players.append(player)
        if player is None:
            return
        texts = (
            "" if player.number is None else str(player.number),
            player.name,
            player.position,
            player.hand,
            _cm(player.standing_reach_m),
            _cm(player.jump_reach_m),
        )
        for column, text in enumerate(texts):
            self.table.setItem(row, column, QTableWidgetItem(text))

    def _another(self) -> None:
        self._add_row(None)
        self.table.setCurrentCell(self.table.rowCount() - 1, 0)
        self.table.setFocus()

    def _begin_season(self) -> None:
        self.accept()
        if self.result() == QDialog.DialogCode.Accepted:
            self.new_season.emit()

    def _take_out(self) -> None:
        row = self.table.currentRow()
        if row < 0:
            return
        self.table.removeRow(row)
        gone = self._players.pop(row)
        if gone is not None:
            self.removed.append(gone)


class SeasonDialog(QDialog):
    """Name and first day of a new season."""

    def __init__(self, today: QDate, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("New season")
        self.name = QLineEdit(f"{today.year()}/{(today.year() + 1) % 100:02d}")
        self.name.setAccessibleName("Name of the season")
        self.begins = QDateEdit(today)
        self.begins.setDisplayFormat("yyyy-MM-dd")
        self.begins.setAccessibleName("First day of the season")
        words = PlainLabel("All players stay. Give their numbers anew; earlier pages keep the old ones.")
        words.setWordWrap(True)
        form = QFormLayout()
        form.addRow("Name", self.name)
        form.addRow("First day", self.begins)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addWidget(words)
        layout.addLayout(form)
        layout.addWidget(accept_reject_buttons(self))

    def season(self) -> tuple[str, str]:
        """Return the name and the first day."""
        begins = self.begins.date()
        return self.name.text().strip() or str(begins.year()), begins.toString(Qt.DateFormat.ISODate)


def _cm(reach_m: float | None) -> str:
    return "" if reach_m is None else f"{100 * reach_m:.0f}"


def _reach_m(text: str, name: str) -> float | None:
    if not text:
        return None
    try:
        reach_m = float(text.replace(",", ".")) / 100
    except ValueError:
        reach_m = -1.0
    low_m, high_m = REACH_RANGE_M
    if not low_m <= reach_m <= high_m:
        raise UserError(f"{name}'s reach of {text} cannot be; write centimetres, such as 245.")
    return reach_m
