"""Where the passers stand: a usual formation to begin with, passers dragged on the half court, names and roles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCompleter, QDialog, QFormLayout, QHBoxLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from serve_marker.court.dimensions import Court
from serve_marker.court.formations import COUNT_WORDS, DEPTHS, MOST_PASSERS, Formation, Passer, preset
from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.mark.passer_court import PasserCourt
from serve_marker.desktop.session.player_text import parse_players
from serve_marker.desktop.widgets.combo_box import ComboBox
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.errors import UserError
from serve_marker.logbook.records import Player
from serve_marker.study.stored_formations import passer_names

NOBODY = "No passers"
BEACH_PASSERS = 2


class FormationDialog(QDialog):
    """Set a formation. ``formation()`` is what was set, None for no passers."""

    def __init__(
        self, court: Court, formation: Formation | None, players: Sequence[Player] = (), parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Passers")
        self._court = court
        self._players = players
        self.usual = ComboBox()
        self.usual.setAccessibleName("Begin with a usual formation")
        self.usual.addItem("Usual formations…", None)
        self.usual.addItem(NOBODY, (0, ""))
        for count, word in COUNT_WORDS.items():
            if court.name == "beach" and count != BEACH_PASSERS:
                continue
            for depth in DEPTHS:
                self.usual.addItem(f"{word.capitalize()} passers {depth}", (count, depth))
        self.name = QLineEdit()
        self.name.setAccessibleName("Name of the formation")
        self.plan = PasserCourt(court)
        self.labels: list[QLineEdit] = []
        self._form = QFormLayout()
        self._form.addRow("Begin with", self.usual)
        self._form.addRow("Name", self.name)
        self._fields = [self._field(number) for number in range(MOST_PASSERS)]
        self.hint = PlainLabel(
            "Drag passers on the court. Give each the name of a player, or her role: libero, swing hitter."
        )
        self.hint.setWordWrap(True)
        self.hint.setProperty("role", "muted")
        right = QVBoxLayout()
        right.addLayout(self._form)
        right.addWidget(self.hint)
        right.addStretch(1)
        middle = QHBoxLayout()
        middle.addWidget(self.plan, 1)
        middle.addLayout(right)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addLayout(middle, 1)
        layout.addWidget(accept_reject_buttons(self))
        self.usual.activated.connect(lambda _index: self._begin_with())
        self.plan.moved.connect(self._is_own_now)
        self._show(formation or Formation(""))

    def accept(self) -> None:
        """Keep the formation; one that makes no sense keeps the dialog open and says why."""
        try:
            self.formation()
        except UserError as error:
            self.hint.setText(str(error))
            return
        super().accept()

    def formation(self) -> Formation | None:
        """Return what was set, words that are no player's name as a role; what makes no sense is refused."""
        if not self.plan.passers:
            return None
        name = self.name.text().strip() or "own formation"
        return Formation.from_dict(Formation(name, tuple(map(self._known, self.plan.passers))).to_dict())

    def _known(self, passer: Passer) -> Passer:
        """The passer as the player whose number or name was written, else by her role."""
        if passer.player_id or not passer.name:
            return passer
        if [player.name.casefold() for player in self._players].count(passer.name.casefold()) > 1:
            raise UserError(f"Several players are called {passer.name}; write her shirt number.")
        try:
            written = parse_players(passer.name, self._players)
        except UserError:
            written = []
        if len(written) == 1 and isinstance(written[0], Player):
            player_id = written[0].id
            return replace(passer, name=passer_names(self._players)[player_id], player_id=player_id)
        return replace(passer, name="", role=passer.name)

    def _begin_with(self) -> None:
        chosen = self.usual.currentData()
        if chosen is not None:
            count, depth = chosen
            self._show(preset(count, depth, self._court) if count else Formation(""))

    def _is_own_now(self) -> None:
        if self.name.text() and self.name.text() in [
            preset(count, depth, self._court).name for count in COUNT_WORDS for depth in DEPTHS
        ]:
            self.name.setText(f"{self.name.text()}, own")

    def _show(self, formation: Formation) -> None:
        self.name.setText(formation.name)
        self.plan.set_passers(list(formation.passers))
        self.labels = self._fields[: len(formation.passers)]
        for number, field in enumerate(self._fields):
            self._form.setRowVisible(field, field in self.labels)
            if field in self.labels:
                passer, label = formation.passers[number], self._form.labelForField(field)
                assert isinstance(label, QLabel)
                label.setText(passer.role or f"Passer {number + 1}")
                field.setText(passer.label)

    def _field(self, number: int) -> QLineEdit:
        """Where one passer is named; fields are kept, since one deleted in its own dialog's signal crashes Qt."""
        field = QLineEdit()
        field.setAccessibleName(f"Name or role of passer {number + 1}")
        field.setPlaceholderText("name or role")
        completer = QCompleter(list(passer_names(self._players).values()), field)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        field.setCompleter(completer)
        completer.activated.connect(lambda text: self._rename(number, text))
        field.textEdited.connect(lambda text: self._rename(number, text))
        self._form.addRow(f"Passer {number + 1}", field)
        return field

    def _rename(self, number: int, text: str) -> None:
        passer = self.plan.passers[number]
        name = "" if text.strip() == passer.role else text.strip()
        self.plan.passers[number] = replace(passer, name=name, player_id="")
        self.plan.update()
