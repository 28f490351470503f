"""The steps of the ladder, typed as a plain table in their order."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.desktop.dialogs.table_dialog import TableDialog
from serve_marker.desktop.widgets.growing_table import GrowingTable
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import resize_with_letters
from serve_marker.study.climb_words import risk_words
from serve_marker.study.ladder import LadderStep
from serve_marker.study.ladder_texts import STEP_COLUMNS, step_from_texts, step_texts

KNOWN = Qt.ItemDataRole.UserRole
"""Under which the first cell of a row keeps the step that stood in it when the dialog was opened."""
NOTE = (
    'Aims: "deep 1 and deep 5" means each, "deep 1 or deep 5" either. Also "all areas", "any area". Empty: any serve '
    'in. Mastery is in % of hits, or in m, "0.9 m", from the aim. Softer serves than the effort do not count. Empty: '
    "all count."
)


class LadderStepsDialog(TableDialog):
    """One row per step, the first one at the bottom of the ladder; ``usual`` are the steps a team begins with."""

    def __init__(
        self,
        steps: Sequence[LadderStep],
        usual: Sequence[LadderStep],
        place: tuple[Court, AreaScheme],
        unit: str,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Steps of the ladder")
        resize_with_letters(self, 940, 470)
        self._usual, self._unit = tuple(usual), unit
        self._court, self._scheme = place
        self.table = GrowingTable(STEP_COLUMNS, lambda _column, _text: True)
        self.table.setAccessibleName("Steps of the ladder")
        self.table.give_room_to(1)
        self._fill(steps)
        self._opened_with = self.typed_rows()
        self.trouble = PlainLabel(NOTE)
        meaning = PlainLabel(risk_words(steps or usual))
        for label in (self.trouble, meaning):
            label.setWordWrap(True)
        meaning.setProperty("role", "muted")
        self.lay_out(
            ("Add step", self._add),
            ("Remove", self._remove),
            ("Up", lambda: self._move(-1)),
            ("Down", lambda: self._move(1)),
            ("Usual steps", lambda: self._fill(self._usual)),
            below=meaning,
        )

    def steps(self) -> tuple[LadderStep, ...]:
        """Return the steps as edited; rows left empty are none.

        Raises
        ------
        UserError
            Naming the step and what cannot be read.
        """
        found = []
        for row in range(self.table.rowCount()):
            texts = self.table.row_texts(row)
            if any(texts):
                known = self.table.model().index(row, 0).data(KNOWN)
                found.append(step_from_texts(texts, self._court, self._scheme, self._unit, known))
        return tuple(found)

    def read(self) -> None:
        self.steps()

    def lost_question(self) -> str:
        changed = self.typed_rows() != self._opened_with
        return "Close the steps without keeping what was changed?" if changed else ""

    def _fill(self, steps: Sequence[LadderStep]) -> None:
        self.table.setRowCount(0)
        for step in steps:
            self._put(self.table.rowCount(), step_texts(step, self._court, self._unit), step)
        self.table.setCurrentCell(self.table.next_row(), 0)

    def _put(self, row: int, texts: Sequence[str], known: LadderStep | None) -> None:
        self.table.insertRow(row)
        model = self.table.model()
        for column, text in enumerate(texts):
            model.setData(model.index(row, column), text)
        model.setData(model.index(row, 0), known, KNOWN)

    def _add(self) -> None:
        self.table.setCurrentCell(self.table.next_row(), 0)
        self.table.setFocus()

    def _remove(self) -> None:
        if self.table.currentRow() >= 0:
            self.table.removeRow(self.table.currentRow())

    def _move(self, down: int) -> None:
        """Move the current row one up (-1) or down (1)."""
        self.table.commit()
        row, column = self.table.currentRow(), self.table.currentColumn()
        to = row + down
        if row < 0 or not 0 <= to < len(self.typed_rows()):
            return
        texts, known = self.table.row_texts(row), self.table.model().index(row, 0).data(KNOWN)
        self.table.removeRow(row)
        self._put(to, texts, known)
        self.table.setCurrentCell(to, column)
