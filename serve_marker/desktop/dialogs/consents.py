"""Who agreed to what, and until when, typed as a table."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QDate, Qt
from PySide6.QtWidgets import QTableWidgetItem, QWidget

from serve_marker.desktop.dialogs.date_field import date_from_text
from serve_marker.desktop.dialogs.table_dialog import TableDialog
from serve_marker.desktop.widgets.growing_table import GrowingTable
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import resize_with_letters
from serve_marker.errors import UserError
from serve_marker.logbook.consents import CONSENT_COLUMNS, Consent, overdue_sentences
from serve_marker.logbook.records import Player, player_words

TITLES = ("player", "filmed from", "until", "team from", "until", "outside from", "until", "keep until")
AGREED = ("filmed_from", "team_from")
NOTE = (
    "The day she, or her parents, agreed to being filmed, and to being shown. "
    "Once one consent is entered, sheets leave out players without one."
)


class ConsentsDialog(TableDialog):
    """One row for each player of the roster; an empty cell is no consent, or no end."""

    def __init__(
        self, players: Sequence[Player], consents: Sequence[Consent], today: QDate, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Consents")
        resize_with_letters(self, 980, 460)
        self._players, self._today = list(players), today
        self._before = {consent.id: consent for consent in consents}
        self.table = GrowingTable(TITLES, lambda column, text: column > 0 and self._fits(text))
        self.table.setAccessibleName("Consents")
        for player in players:
            known = self._before.get(player.id, Consent(id=player.id))
            self.table.add_row([player_words(player), *(getattr(known, name) or "" for name in CONSENT_COLUMNS)])
            named = self.table.item(self.table.rowCount() - 1, 0) or QTableWidgetItem()
            named.setFlags(named.flags() & ~Qt.ItemFlag.ItemIsEditable)
        self.table.give_room_to(0)
        names = {player.id: player_words(player) for player in players}
        over = overdue_sentences(names, consents, today.toString(Qt.DateFormat.ISODate))
        self.trouble = PlainLabel("\n".join([NOTE, *over]))
        self.trouble.setWordWrap(True)
        self.lay_out(("Agreed today", self._agree), ("Withdraw", self._withdraw))
        if players:
            self.table.setCurrentCell(0, 1)

    def read(self) -> None:
        self.changes()

    def lost_question(self) -> str:
        try:
            lost = bool(self.changes())
        except UserError:
            lost = True
        return "Close the consents without keeping what was typed?" if lost else ""

    def changes(self) -> list[tuple[Consent | None, Consent | None]]:
        """Return each consent that was changed, before and after; None where a player has none."""
        found: list[tuple[Consent | None, Consent | None]] = []
        for row, texts in enumerate(map(self.table.row_texts, range(self.table.rowCount()))):
            if row >= len(self._players):
                if any(texts):
                    raise UserError("The last row names no player; choose the row with her name.")
                continue
            player = self._players[row]
            days = {name: self._day(text, texts[0]) for name, text in zip(CONSENT_COLUMNS, texts[1:], strict=True)}
            after = Consent(id=player.id, **days) if any(days.values()) else None
            before = self._before.get(player.id)
            if after != before:
                found.append((before, after))
        return found

    def _day(self, text: str, name: str) -> str | None:
        if not text:
            return None
        date = date_from_text(text, self._today.year())
        if date is None:
            raise UserError(f"{text} is not a date for {name}. Write the date as 2026-11-03.")
        return date.toString(Qt.DateFormat.ISODate)

    def _fits(self, text: str) -> bool:
        return not text or date_from_text(text, self._today.year()) is not None

    def _chosen_rows(self) -> list[int]:
        rows = {index.row() for index in self.table.selectedIndexes()} or {self.table.currentRow()}
        return sorted(row for row in rows if 0 <= row < len(self._players))

    def _agree(self) -> None:
        """Fill in today where the chosen players had agreed to nothing."""
        self.table.commit()
        for row in self._chosen_rows():
            for name in AGREED:
                column = 1 + CONSENT_COLUMNS.index(name)
                if not self.table.row_texts(row)[column]:
                    self._write(row, column, self._today.toString(Qt.DateFormat.ISODate))

    def _withdraw(self) -> None:
        self.table.commit()
        for row in self._chosen_rows():
            for column in range(1, len(TITLES)):
                self._write(row, column, "")

    def _write(self, row: int, column: int, text: str) -> None:
        self.table.model().setData(self.table.model().index(row, column), text)
