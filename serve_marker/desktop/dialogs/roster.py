"""The roster, typed or pasted as a plain table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QDate, Qt, Signal
from PySide6.QtWidgets import (
    QDialog,
    QFormLayout,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.dialogs.date_field import DateField
from serve_marker.desktop.dialogs.table_dialog import TableDialog
from serve_marker.desktop.widgets.growing_table import GrowingTable
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import resize_with_letters
from serve_marker.errors import UserError
from serve_marker.logbook.records import HANDS, Player, new_id
from serve_marker.logbook.seasons import refuse_shared_numbers

COLUMNS = ("number", "name", "position", "hand", "reach [cm]", "jump reach [cm]")
NUMBER, NAME, POSITION, HAND = range(4)
REACH_RANGE_M = (1.0, 4.5)
MOST_DIGITS = 3
MOST_NAMED = 6
KNOWN = Qt.ItemDataRole.UserRole
"""Under which the first cell of a row keeps the player who stood in it when the dialog was opened."""


class RosterDialog(TableDialog):
    """One row per player; the last row is for the next one. ``new_season`` asks to begin one."""

    new_season = Signal()

    def __init__(self, players: list[Player], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Players")
        resize_with_letters(self, 860, 460)
        self.table = GrowingTable(COLUMNS, _fits)
        self.table.give_room_to(NAME)
        self.table.setAccessibleName("Players")
        for player in players:
            row = self.table.add_row(_texts(player))
            self.table.model().setData(self.table.model().index(row, NUMBER), player, KNOWN)
        self.table.setCurrentCell(self.table.next_row(), NUMBER)
        self.table.pasted.connect(self._tell_refused)
        self.trouble = PlainLabel("Tab and Enter go on to the next; Ctrl and Enter keep them all.")
        self.trouble.setWordWrap(True)
        self.lay_out(("Add player", self._add_player), ("Remove", self._remove), ("New season…", self._begin_season))
        self.removed: list[Player] = []

    def read(self) -> None:
        self.players()

    def lost_question(self) -> str:
        lost = self._lost_words()
        return f"Close the list without keeping this? {lost}" if lost else ""

    def players(self) -> list[Player]:
        """Return the players as edited; rows left empty are none."""
        rows = [self._player(row) for row in range(self.table.rowCount())]
        found = [player for player in rows if player is not None]
        refuse_shared_numbers(found)
        return found

    def _player(self, row: int) -> Player | None:
        texts = self.table.row_texts(row)
        if not any(texts):
            return None
        number, name, position, hand, standing, jump = texts
        if number and not _is_number(number):
            raise UserError(f"{number} is not a shirt number; write one to three digits.")
        if not name:
            raise UserError(f"The player of number {number or 'unknown'} needs a name.")
        hand = hand.casefold() or HANDS[0]
        if hand not in HANDS:
            raise UserError(f"{hand} is no serving hand; write right or left.")
        known = self._known(row) or Player(id=new_id(), name=name)
        return replace(
            known,
            name=name,
            number=int(number) if number else None,
            position=position,
            hand=hand,
            standing_reach_m=_reach_m(standing, name),
            jump_reach_m=_reach_m(jump, name),
        )

    def _known(self, row: int) -> Player | None:
        known: Player | None = self.table.model().index(row, NUMBER).data(KNOWN)
        return known

    def _lost_words(self) -> str:
        """What closing would lose; "" where all is as it was."""
        typed = []
        for row in range(self.table.rowCount()):
            texts, known = self.table.row_texts(row), self._known(row)
            if texts != (_texts(known) if known else ("",) * len(COLUMNS)):
                typed.append(" ".join(texts[NUMBER : NAME + 1]).strip() or "a row without a name")
        gone = [" ".join(_texts(player)[NUMBER : NAME + 1]).strip() for player in self.removed]
        parts = (f"{what}: {_listed(names)}." for what, names in (("Typed", typed), ("Removed", gone)) if names)
        return " ".join(parts)

    def _tell_refused(self, refused: list[str]) -> None:
        self.trouble.setText(f"Left out, since it fits no column: {_listed(refused)}." if refused else " ")

    def _add_player(self) -> None:
        self.table.setCurrentCell(self.table.next_row(), NUMBER)
        self.table.setFocus()

    def _begin_season(self) -> None:
        self.accept()
        if self.result() == QDialog.DialogCode.Accepted:
            self.new_season.emit()

    def _remove(self) -> None:
        row = self.table.currentRow()
        if row < 0:
            return
        gone = self._known(row)
        self.table.removeRow(row)
        if gone is not None:
            self.removed.append(gone)


class SeasonDialog(QDialog):
    """Name and first day of a new season."""

    def __init__(self, today: QDate, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("New season")
        self.name = QLineEdit(f"{today.year()}/{(today.year() + 1) % 100:02d}")
        self.name.setAccessibleName("Name of the season")
        self.begins = DateField(today, "First day of the season")
        words = PlainLabel("All players stay. Give new numbers; earlier pages keep the old ones.")
        words.setWordWrap(True)
        form = QFormLayout()
        form.addRow("Name", self.name)
        form.addRow("First day", self.begins)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addWidget(words)
        layout.addLayout(form)
        layout.addWidget(accept_reject_buttons(self))

    def accept(self) -> None:
        if self.begins.is_understood():
            super().accept()

    def season(self) -> tuple[str, str]:
        """Return the name and the first day."""
        begins = self.begins.date()
        return self.name.text().strip() or str(begins.year()), begins.toString(Qt.DateFormat.ISODate)


def _texts(player: Player) -> tuple[str, ...]:
    """What a player's row says, column by column."""
    return (
        "" if player.number is None else str(player.number),
        player.name,
        player.position,
        player.hand,
        _cm(player.standing_reach_m),
        _cm(player.jump_reach_m),
    )


def _listed(texts: Sequence[str]) -> str:
    more = len(texts) - MOST_NAMED
    return ", ".join(texts[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _is_number(text: str) -> bool:
    return text.isdecimal() and len(text) <= MOST_DIGITS


def _fits(column: int, text: str) -> bool:
    """Whether a text can stand in a column."""
    if not text or column in (NAME, POSITION):
        return True
    if column == NUMBER:
        return _is_number(text)
    if column == HAND:
        return text.casefold() in HANDS
    try:
        _reach_m(text, "")
    except UserError:
        return False
    return True


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
