"""The plan of a practice, block after block, typed or suggested."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence

from PySide6.QtCore import QDate, Qt
from PySide6.QtWidgets import QFormLayout, QLineEdit, QWidget

from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.desktop.dialogs.date_field import DateField
from serve_marker.desktop.dialogs.table_dialog import DayTableDialog
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.widgets.growing_table import GrowingTable
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import resize_with_letters
from serve_marker.errors import UserError
from serve_marker.logbook.records import PlanBlock, Player, PracticePlan, new_id, player_words
from serve_marker.study.plan_texts import BLOCK_COLUMNS, PlayersWritten, block_from_texts, block_texts
from serve_marker.study.sentences import date_words

NOTE = (
    "Suggest fills in each player's next step, and what she should show again. Change it as you like. "
    "While you mark that day, the plan names server and aim. Share > Plan prints it."
)
Suggest = Callable[[str, Collection[str]], Sequence[PlanBlock]]


class PracticePlanDialog(DayTableDialog):
    """One row per block of a day.

    Parameters
    ----------
    plans : those of the logbook.
    players : the roster, by id.
    players_written : finds the players of numbers and names.
    suggest : blocks for a day, for everybody but the absent (player ids), asked off the window's thread.
    place : the court and areas that aims are read on.
    today : the day shown first.
    """

    def __init__(
        self,
        plans: Sequence[PracticePlan],
        players: Mapping[str, Player],
        players_written: PlayersWritten,
        suggest: Suggest,
        place: tuple[Court, AreaScheme],
        today: QDate,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Plan of a practice")
        resize_with_letters(self, 1000, 520)
        self._plans = {plan.date: plan for plan in plans}
        self._players, self._written, self._suggest, self._place = players, players_written, suggest, place
        self.date = DateField(today, "Day of the practice")
        self.absent = QLineEdit()
        self.absent.setAccessibleName("Absent players")
        self.absent.setPlaceholderText("numbers or names of who is not there")
        self.table = GrowingTable(BLOCK_COLUMNS, lambda _column, _text: True)
        self.table.setAccessibleName("Blocks of the plan")
        self.table.give_room_to(0, len(BLOCK_COLUMNS) - 1)
        self.trouble = PlainLabel(NOTE)
        self.trouble.setWordWrap(True)
        form = QFormLayout()
        form.addRow("Day", self.date)
        form.addRow("Absent", self.absent)
        self.lay_out(
            ("Suggest", self._fill_suggested),
            ("Remove", lambda: self.table.removeRow(self.table.currentRow())),
            above=form,
        )
        self._worker = Worker("plan", self)
        self.finished.connect(self._worker.close)
        self._show_day()
        self.date.chosen.connect(self._change_day)

    def plan(self) -> tuple[PracticePlan | None, PracticePlan | None]:
        """Return the plan of the day before and after; None where there was none, or no block is left.

        Raises
        ------
        UserError
            Naming the block and what cannot be read.
        """
        day = self.day()
        before = self._plans.get(day)
        blocks = tuple(self._blocks())
        if not blocks:
            return before, None
        plan_id = before.id if before else new_id()
        return before, PracticePlan(id=plan_id, date=day, blocks=blocks, absent=self._absent())

    def read(self) -> None:
        self.plan()

    def lost_question(self) -> str:
        return "Close without keeping this plan?" if self._is_changed() else ""

    def _is_changed(self) -> bool:
        return (self.typed_rows(), self.absent.text()) != self._shown

    def _absent(self) -> tuple[str, ...]:
        return tuple(player.id for player in self._written(self.absent.text()))

    def _blocks(self) -> list[PlanBlock]:
        return [
            block_from_texts(texts, number, *self._place, self._written)
            for number, texts in enumerate(self.typed_rows(), start=1)
        ]

    def _change_day(self) -> None:
        """Show the plan of another day; what was changed and is not kept yet becomes the plan of a day without one."""
        self.table.commit()
        if not self._is_changed():
            self._show_day()
        elif self.day() not in self._plans:
            self._shown_day = self.day()
        else:
            self.trouble.setText(f"{date_words(self.day())} has a plan already; keep this one, or close it, first.")
            self.date.set_date(QDate.fromString(self._shown_day, Qt.DateFormat.ISODate))

    def _show_day(self) -> None:
        plan = self._plans.get(self.day())
        names = [player_words(self._players[key]) for key in (plan.absent if plan else ()) if key in self._players]
        self.absent.setText(", ".join(names))
        self.table.setRowCount(0)
        self._fill(plan.blocks if plan else ())
        self._shown, self._shown_day = (self.typed_rows(), self.absent.text()), self.day()

    def _fill_suggested(self) -> None:
        try:
            absent = self._absent()
        except UserError as error:
            self.trouble.setText(str(error))
            return
        self.trouble.setText("Looking through all serves…")
        asked = self.typed_rows(), self.day()
        self._worker.submit(
            self._suggest,
            self.day(),
            absent,
            done=lambda blocks: self._show_suggested(blocks, *asked),
            failed=self._say_failed,
        )

    def _show_suggested(self, blocks: Sequence[PlanBlock], rows: list[tuple[str, ...]], day: str) -> None:
        """Fill in what is suggested in place of the plan shown, or below what was typed."""
        self.trouble.setText(NOTE if blocks else "The ladder suggests nothing: no serve of a known server yet.")
        if not blocks or (self.typed_rows(), self.day()) != (rows, day):
            return
        if rows == self._shown[0]:
            self.table.setRowCount(0)
        self._fill(blocks)

    def _say_failed(self, error: BaseException) -> None:
        self.trouble.setText(str(error) if isinstance(error, UserError) else NOTE)

    def _fill(self, blocks: Sequence[PlanBlock]) -> None:
        for block in blocks:
            self._put(block_texts(block, self._players))
        self.table.setCurrentCell(self.table.next_row(), 0)

    def _put(self, texts: Sequence[str]) -> None:
        row = self.table.next_row()
        for column, text in enumerate(texts):
            self.table.model().setData(self.table.model().index(row, column), text)
