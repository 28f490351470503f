"""Something is tried honestly: chance draws who tries it, and the retest tells."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from PySide6.QtCore import QDate, Qt
from PySide6.QtWidgets import QDialog, QFormLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from serve_marker.court.aims import parse_aim
from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.dialogs.date_field import DateField
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.widgets.combo_box import ComboBox
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import resize_with_letters
from serve_marker.errors import UserError
from serve_marker.logbook.records import Player, Trial, new_id, player_words
from serve_marker.study.plan_texts import PlayersWritten
from serve_marker.study.trial import FEWEST_DRAWS, TrialResult, drawn_by_chance, draws_of
from serve_marker.study.trial_words import trial_sentence

NOTE = (
    "Half the players are drawn at random, once. They try it, the others go on as before. Their serves at that aim are "
    "compared once, at the retest."
)
NEW = "A new one"
WEEKS_TO_RETEST = 3


class TrialDialog(QDialog):
    """One trial after the other: a new one to draw, or one that runs with what it tells.

    Parameters
    ----------
    trials : those of the logbook.
    players : the roster, by id.
    players_written : finds the players of numbers and names.
    result : what a trial tells, asked off the window's thread.
    place : the court and areas that aims are read on.
    today : the day from which it is tried.
    """

    def __init__(
        self,
        trials: Sequence[Trial],
        players: Mapping[str, Player],
        players_written: PlayersWritten,
        result: Callable[[Trial], TrialResult],
        place: tuple[Court, AreaScheme],
        today: QDate,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Trial by chance")
        resize_with_letters(self, 640, 560)
        self._players, self._written, self._result, self._place = players, players_written, result, place
        self._today = today
        self._new: Trial | None = None
        self._taken_out = False
        self.which = ComboBox()
        self.which.setAccessibleName("Which trial")
        self.which.addItem(NEW, None)
        for trial in trials:
            self.which.addItem(trial.name, trial)
        self.name, self.aim, self.who = QLineEdit(), QLineEdit(), QLineEdit()
        self.name.setPlaceholderText("a higher toss")
        self.aim.setPlaceholderText("deep 1")
        self.drawn_on, self.retest_on = (
            DateField(today, "First day of the trial"),
            DateField(today, "Day of the retest"),
        )
        self.draw = QPushButton("Let chance choose", autoDefault=False)
        self.remove = QPushButton("Remove", autoDefault=False)
        self.tries, self.others, self.told = PlainLabel(), PlainLabel(), PlainLabel(NOTE)
        for label in (self.tries, self.others, self.told):
            label.setWordWrap(True)
        form = QFormLayout()
        rows: dict[str, QWidget] = {
            "Trial": self.which,
            "What is tried": self.name,
            "Aim": self.aim,
            "From": self.drawn_on,
            "Retest on": self.retest_on,
            "Players": self.who,
            "": self.draw,
            "They try it": self.tries,
            "As before": self.others,
        }
        for words, widget in rows.items():
            widget.setAccessibleName(widget.accessibleName() or words)
            form.addRow(words, widget)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addLayout(form)
        layout.addWidget(self.told)
        layout.addStretch(1)
        layout.addWidget(self.remove, 0, Qt.AlignmentFlag.AlignLeft)
        layout.addWidget(accept_reject_buttons(self))
        self._worker = Worker("trial", self)
        self.finished.connect(self._worker.close)
        self.draw.clicked.connect(self._draw)
        self.remove.clicked.connect(self._take_out)
        self.which.currentIndexChanged.connect(self._show)
        self._show()

    def changed(self) -> tuple[Trial | None, Trial | None]:
        """Return what becomes of a trial, before and after: drawn, taken out, or twice the same."""
        shown: Trial | None = self.which.currentData()
        return (shown, None if self._taken_out else shown) if shown else (None, self._new)

    def accept(self) -> None:
        """Keep what was drawn; what is only half written is not lost."""
        if self.which.currentData() is None and self._new is None and self.name.text().strip():
            self.told.setText("Let chance choose first, or press Cancel.")
            return
        super().accept()

    def _show(self) -> None:
        trial: Trial | None = self.which.currentData()
        for field in (self.name, self.aim, self.who, self.drawn_on, self.retest_on, self.draw):
            field.setEnabled(trial is None)
        self.remove.setVisible(trial is not None)
        shown = trial or Trial(id="", name="", drawn_on=self._day(0), retest_on=self._day(7 * WEEKS_TO_RETEST))
        self._new = None
        self.name.setText(shown.name)
        self.aim.setText(shown.aim)
        self.who.setText(self._words((*shown.tries, *shown.others) if trial else tuple(self._players)))
        for field, day in ((self.drawn_on, shown.drawn_on), (self.retest_on, shown.retest_on)):
            field.set_date(QDate.fromString(day, Qt.DateFormat.ISODate))
        self.who.setCursorPosition(0)
        self._show_drawn(shown)
        self.told.setText(NOTE)
        if trial is not None:
            self.told.setText("Looking through all serves…")
            self._worker.submit(self._result, trial, done=lambda result: self._tell(trial, result), failed=self._fail)

    def _draw(self) -> None:
        """Let chance draw, once: what it drew stands until the dialog is closed."""
        try:
            self._new = self._drawn()
        except UserError as error:
            self.told.setText(str(error))
            return
        for field in (self.name, self.aim, self.who, self.drawn_on, self.retest_on, self.draw):
            field.setEnabled(False)
        self._show_drawn(self._new)
        self.told.setText("Keep it, and tell them; the plan of a practice may say it too.")

    def _drawn(self) -> Trial:
        name, aim = self.name.text().strip(), parse_aim(self.aim.text(), *self._place)
        if not name:
            raise UserError("What is tried? Write it in a few words.")
        first, retest = (field.date().toString(Qt.DateFormat.ISODate) for field in (self.drawn_on, self.retest_on))
        if retest <= first:
            raise UserError("The retest must be on a later day than the first.")
        players = list(dict.fromkeys(player.id for player in self._written(self.who.text())))
        if draws_of(len(players) // 2, len(players) - len(players) // 2) < FEWEST_DRAWS:
            raise UserError(f"Fewer than 8 players cannot tell it from chance; these are {len(players)}.")
        tries, others = drawn_by_chance(players, np.random.default_rng())
        text = aim.text if aim else ""
        return Trial(id=new_id(), name=name, drawn_on=first, retest_on=retest, aim=text, tries=tries, others=others)

    def _take_out(self) -> None:
        self._taken_out = True
        super().accept()

    def _show_drawn(self, trial: Trial) -> None:
        self.tries.setText(self._words(trial.tries))
        self.others.setText(self._words(trial.others))

    def _tell(self, trial: Trial, result: TrialResult) -> None:
        if self.which.currentData() == trial:
            self.told.setText(trial_sentence(result, trial.retest_on))

    def _fail(self, error: BaseException) -> None:
        self.told.setText(str(error) if isinstance(error, UserError) else NOTE)

    def _words(self, player_ids: Sequence[str]) -> str:
        return ", ".join(player_words(self._players[key]) for key in player_ids if key in self._players)

    def _day(self, days: int) -> str:
        return self._today.addDays(days).toString(Qt.DateFormat.ISODate)
