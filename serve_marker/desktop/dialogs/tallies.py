"""Unfilmed serves: counts of a day, typed in as a plain table."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from PySide6.QtCore import QDate, Qt
from PySide6.QtWidgets import QFormLayout, QWidget

from serve_marker.court.aims import parse_aim
from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.desktop.dialogs.date_field import DateField
from serve_marker.desktop.dialogs.table_dialog import DayTableDialog
from serve_marker.desktop.widgets.growing_table import GrowingTable
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import resize_with_letters
from serve_marker.errors import UserError
from serve_marker.logbook.records import SERVE_TYPES, Player, Tally, new_id, player_words
from serve_marker.study.loads import LOAD_NOTE

TALLY_COLUMNS = ("player", "serves", "serve type", "aim", "on target", "at full pace")
NOTE = (
    "One row for each player, or each of her aims. Needed are the player and how many serves. "
    "These serves count for the load and stay apart from marked ones."
)
KNOWN = Qt.ItemDataRole.UserRole
"""Under which the first cell of a row keeps the tally that stood in it when its day was shown."""


class TalliesDialog(DayTableDialog):
    """The counts of one day after the other.

    Parameters
    ----------
    tallies : those of the logbook.
    players : the roster, by id.
    player_written : finds the player of a number or a name.
    place : the court and areas that aims are read on.
    today : the day shown first.
    """

    def __init__(
        self,
        tallies: Sequence[Tally],
        players: Sequence[Player],
        player_written: Callable[[str], Player],
        place: tuple[Court, AreaScheme],
        today: QDate,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Unfilmed serves")
        resize_with_letters(self, 820, 470)
        self._words = {player.id: player_words(player) for player in players}
        self._player_written, self._place = player_written, place
        self._before = tuple(tallies)
        self._tallies = list(tallies)
        self._day = ""
        self.date = DateField(today, "Day of the serves")
        self.table = GrowingTable(TALLY_COLUMNS, lambda _column, _text: True)
        self.table.setAccessibleName("Unfilmed serves")
        self.table.give_room_to(0)
        self.trouble = PlainLabel(NOTE)
        caution = PlainLabel(LOAD_NOTE)
        caution.setProperty("role", "muted")
        for label in (self.trouble, caution):
            label.setWordWrap(True)
        form = QFormLayout()
        form.addRow("Day", self.date)
        self.lay_out(("Remove", lambda: self.table.removeRow(self.table.currentRow())), above=form, below=caution)
        self._fill()
        self.date.chosen.connect(self._show_day)
        self.table.setFocus()

    def changes(self) -> list[tuple[Tally | None, Tally | None]]:
        """Return the tallies that came, changed or went, before and after."""
        before = {one.id: one for one in self._before}
        after = {one.id: one for one in self._tallies}
        keys = dict.fromkeys((*before, *after))
        return [(before.get(key), after.get(key)) for key in keys if before.get(key) != after.get(key)]

    def read(self) -> None:
        self._take_day()

    def lost_question(self) -> str:
        held = [self._texts(one) for one in self._tallies if one.date == self._day]
        changed = self.typed_rows() != held or bool(self.changes())
        return "Close without keeping these counts?" if changed else ""

    def _show_day(self) -> None:
        """Keep what is typed for the day shown, then show the one in the field."""
        day = self.date.date()
        self.date.set_date(QDate.fromString(self._day, Qt.DateFormat.ISODate))
        self.table.commit()
        try:
            self._take_day()
        except UserError as error:
            self.trouble.setText(str(error))
            return
        self.date.set_date(day)
        self._fill()

    def _fill(self) -> None:
        self._day = self.day()
        self.table.setRowCount(0)
        for one in self._tallies:
            if one.date == self._day:
                row = self.table.add_row(self._texts(one))
                self.table.model().setData(self.table.model().index(row, 0), one, KNOWN)
        self.table.setCurrentCell(self.table.next_row(), 0)

    def _take_day(self) -> None:
        """Take the rows for the day in the field."""
        day = self.day()
        found = []
        for row in range(self.table.rowCount()):
            texts = self.table.row_texts(row)
            if any(texts):
                known: Tally | None = self.table.model().index(row, 0).data(KNOWN)
                found.append(self._tally(texts, day, known))
        self._tallies = [one for one in self._tallies if one.date != self._day] + found

    def _tally(self, texts: Sequence[str], day: str, known: Tally | None) -> Tally:
        who, serves, serve_type, aim, hits, full_pace = texts
        if not who:
            raise UserError("Each row needs a player; write a number or a name.")
        player = self._player_written(who)
        self._words[player.id] = player_words(player)
        counted = _count(serves, who, "serves")
        if not counted:
            raise UserError(f"{who}: how many serves? Write a number of 1 or more.")
        if serve_type.casefold() not in ("", *SERVE_TYPES):
            raise UserError(f"{who}: {serve_type} is no serve type; choose one of: {', '.join(SERVE_TYPES)}.")
        parse_aim(aim, *self._place)
        on_target, at_full = _count(hits, who, "on target"), _count(full_pace, who, "at full pace")
        if max(on_target, at_full) > counted:
            raise UserError(f"{who}: at most the {counted} serves can be on target or at full pace.")
        return replace(
            known or Tally(id=new_id(), date=day, player_id=player.id),
            date=day,
            player_id=player.id,
            serves=counted,
            serve_type=serve_type.casefold(),
            aim=aim,
            hits=on_target if hits else None,
            full_pace=at_full,
        )

    def _texts(self, one: Tally) -> tuple[str, ...]:
        hits = "" if one.hits is None else str(one.hits)
        full_pace = str(one.full_pace) if one.full_pace else ""
        return self._words.get(one.player_id, ""), str(one.serves), one.serve_type, one.aim, hits, full_pace


def _count(text: str, who: str, what: str) -> int:
    if not text:
        return 0
    if not text.isdecimal() or len(text) > 4:
        raise UserError(f"{who}: {text} is no count; write {what} as a number.")
    return int(text)
