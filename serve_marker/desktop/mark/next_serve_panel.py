"""The chosen serve on its card, or who serves next, from which end, at what aim and with which serve."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QIntValidator
from PySide6.QtWidgets import (
    QButtonGroup,
    QComboBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from serve_marker.desktop.session.serving_order import END_WORDS, ServingOrder, next_server_words
from serve_marker.desktop.widgets.combo_box import ComboBox
from serve_marker.desktop.widgets.plain_text import ElidedLabel, PlainLabel, tooltip
from serve_marker.desktop.widgets.text_sizes import pixels
from serve_marker.logbook.records import SERVE_TYPES, TARGET_KINDS, TARGET_WORDS, Half, Player

NO_AIM = "no aim"
ANY_TYPE = "any serve"
WIND_WORDS: dict[Half | None, str] = {None: "no wind"} | {
    end: f"{words} has the wind" for end, words in END_WORDS.items()
}
WIND_ENDS = tuple(WIND_WORDS)
NUMBER_PX = 62


class NextServePanel(QWidget):
    """The lower right of the Mark step. It shows what it is given and says what was asked for.

    The card holds number, aim and type of one serve: of the next one, or of the chosen one with the next server below.
    """

    end_picked = Signal(str)
    aim_picked = Signal(str)
    type_picked = Signal(str)
    targets_picked = Signal(str)
    wind_picked = Signal(object)
    number_typed = Signal(int)
    order_typed = Signal(str, str)
    chosen_left = Signal()
    finished = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ends = {end: self._end_button(end) for end in END_WORDS}
        self.whose = PlainLabel()
        self.whose.setProperty("role", "muted")
        self.done = QPushButton("Done")
        self.done.setToolTip(tooltip("Set the next serve again (Esc)"))
        self.done.setProperty("role", "small")
        self.done.clicked.connect(self._leave_chosen)
        self.now = ElidedLabel("No server")
        self.now.setProperty("role", "large")
        self.then = ElidedLabel(" ", cut=Qt.TextElideMode.ElideMiddle)
        self.then.setProperty("role", "muted")
        self.next = ElidedLabel()
        self.number = self._field("Shirt number of the server", "no.")
        self.number.setValidator(QIntValidator(0, 999, self.number))
        self.number.returnPressed.connect(self._number_entered)
        self.order = self._field("Serving order of this end, shirt numbers", "order, e.g. 7 4 12 9")
        self.order.returnPressed.connect(self._order_entered)
        self.aim = self._combo("Aim", [NO_AIM])
        self.aim.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.serve_type = self._combo("Serve type", [ANY_TYPE, *SERVE_TYPES])
        self.targets = self._combo("Targets", list(TARGET_WORDS.values()))
        self.targets.activated.connect(self._pick_targets)
        self.wind = self._combo("Which end has the wind at its back", list(WIND_WORDS.values()))
        self.wind.activated.connect(self._pick_wind)
        self.aim.activated.connect(lambda _index: self._pick_aim())
        self._aim_text = QLineEdit()
        self._aim_text.setAccessibleName("Aim")
        self._aim_text.returnPressed.connect(self._pick_aim)
        self.aim.setLineEdit(self._aim_text)
        self.serve_type.activated.connect(lambda index: self._pick_type(index))

        self._beside_whose = QStackedWidget()
        self._beside_whose.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self._beside_whose.addWidget(self._ends_row())
        self._beside_whose.addWidget(self._next_row())
        rows = self._rows = QGridLayout()
        rows.setVerticalSpacing(6)
        rows.addWidget(PlainLabel("Order"), 0, 0)
        rows.addWidget(self.order, 0, 1, 1, 2)
        rows.addWidget(PlainLabel("Targets"), 1, 0)
        rows.addWidget(self.targets, 1, 1, 1, 2)
        rows.addWidget(self.wind, 1, 2)
        rows.setColumnStretch(1, 1)
        rows.setColumnStretch(2, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(6)
        layout.addWidget(self._card())
        layout.addLayout(rows)
        self._give_room()

    def _ends_row(self) -> QWidget:
        row = QWidget()
        group = QButtonGroup(self)
        ends = QHBoxLayout(row)
        ends.setContentsMargins(0, 0, 0, 0)
        ends.setSpacing(6)
        ends.addStretch(1)
        caption = PlainLabel("from")
        caption.setProperty("role", "muted")
        ends.addWidget(caption)
        for button in self._ends.values():
            group.addButton(button)
            ends.addWidget(button)
        return row

    def _next_row(self) -> QWidget:
        row = QWidget()
        caption = PlainLabel("next")
        caption.setProperty("role", "muted")
        words = QHBoxLayout(row)
        words.setContentsMargins(6, 0, 0, 0)
        words.addWidget(caption)
        words.addWidget(self.next, 1)
        words.addWidget(self.done)
        return row

    def _card(self) -> QFrame:
        self.card = QFrame()
        self.card.setObjectName("card")
        whose = QHBoxLayout()
        whose.addWidget(self.whose)
        whose.addWidget(self._beside_whose, 1)
        who = QHBoxLayout()
        who.addWidget(self.now, 1)
        who.addWidget(self.number)
        what = QHBoxLayout()
        what.setSpacing(4)
        what.addWidget(self.aim, 10)
        what.addWidget(self.serve_type, 11)
        card = QVBoxLayout(self.card)
        card.setContentsMargins(8, 6, 8, 8)
        card.setSpacing(4)
        card.addLayout(whose)
        card.addLayout(who)
        card.addWidget(self.then)
        card.addLayout(what)
        return self.card

    def show_turns(
        self,
        turns: ServingOrder,
        players: dict[str, Player],
        aim: str,
        serve_type: str,
        target_kind: str,
        wind_end: Half | None,
    ) -> None:
        """Show whose turn it is and what the next serve will be."""
        self._ends[turns.end].setChecked(True)
        player = players.get(turns.now() or "")
        self.next.setText(next_server_words(player))
        self._show_card("next", self.next.text(), self._then_words(turns, players))
        if not self.order.hasFocus():
            self.order.setText(" ".join(_short(players[i]) for i in turns.order(turns.end) if i in players))
        self.aim.setCurrentText(aim or NO_AIM)
        self.serve_type.setCurrentText(serve_type or ANY_TYPE)
        self.targets.setCurrentIndex(TARGET_KINDS.index(target_kind))
        self.wind.setCurrentIndex(WIND_ENDS.index(wind_end))

    def show_chosen(self, count: int, servers: str, place: str) -> None:
        """Put the chosen serves on the card: their servers, and what became of one; the next server stands below."""
        self._show_card("chosen serve" if count == 1 else f"{count} chosen serves", servers, place)

    def _show_card(self, whose: str, server: str, words: str) -> None:
        is_chosen = whose != "next"
        if self.card.property("chosen") != is_chosen:
            self.card.setProperty("chosen", is_chosen)
            self.card.style().polish(self.card)
        self.card.setAccessibleName(whose)
        self.whose.setText(whose)
        self.now.setText(server)
        self.then.setText(words)
        self._beside_whose.setCurrentIndex(1 if is_chosen else 0)

    def _leave_chosen(self) -> None:
        self.finished.emit()
        self.chosen_left.emit()

    def offer_aims(self, aims: Sequence[str], outdoors: bool) -> None:
        """Offer these aims, which are those of the court; any other may still be typed. Outdoors there is wind."""
        self._rows.addWidget(self.targets, 1, 1, 1, 1 if outdoors else 2)
        self.wind.setVisible(outdoors)
        text = self.aim.currentText()
        self.aim.clear()
        self.aim.addItems([NO_AIM, *aims])
        self.aim.setCurrentText(text)

    def type_number(self, digits: str = "") -> None:
        """Bring the hand to the shirt number, its first digit typed already."""
        self.number.setText(digits)
        self.number.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.number.deselect()
        self.number.end(False)

    def type_order(self) -> None:
        """Bring the hand to the serving order of this end, to be typed anew."""
        self.order.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.order.selectAll()

    def type_aim(self) -> None:
        """Bring the hand to the aim, to be typed anew."""
        self._aim_text.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self._aim_text.selectAll()

    @staticmethod
    def _then_words(turns: ServingOrder, players: dict[str, Player]) -> str:
        order = turns.order(turns.queue(turns.end))
        now = turns.now()
        if not order or now not in order:
            return "then as the order says" if order else "no order for this end"
        start = order.index(now)
        following = [order[(start + k) % len(order)] for k in range(1, min(len(order), 4))]
        return (
            "then " + ", ".join(next_server_words(players.get(i)) for i in following)
            if following
            else "alone in the order"
        )

    def _end_button(self, end: Half) -> QPushButton:
        button = QPushButton(END_WORDS[end])
        button.setCheckable(True)
        button.setProperty("role", "small")
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        button.setAccessibleName(f"Serve from the {END_WORDS[end]}")
        button.clicked.connect(lambda: self.end_picked.emit(end))
        return button

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._give_room()

    def _give_room(self) -> None:
        self.number.setFixedWidth(pixels(NUMBER_PX))

    @staticmethod
    def _field(name: str, hint: str) -> QLineEdit:
        field = QLineEdit()
        field.setProperty("role", "small")
        field.setAccessibleName(name)
        field.setToolTip(tooltip(name))
        field.setPlaceholderText(hint)
        return field

    @staticmethod
    def _combo(name: str, choices: list[str]) -> QComboBox:
        combo = ComboBox()
        combo.setProperty("role", "small")
        combo.setAccessibleName(name)
        combo.addItems(choices)
        combo.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        return combo

    def _number_entered(self) -> None:
        text = self.number.text().strip()
        self.number.clear()
        self.finished.emit()
        if text:
            self.number_typed.emit(int(text))

    def _order_entered(self) -> None:
        text = self.order.text()
        self.finished.emit()
        end = next(end for end, button in self._ends.items() if button.isChecked())
        self.order_typed.emit(end, text)

    def _pick_aim(self) -> None:
        text = self.aim.currentText().strip()
        self.finished.emit()
        self.aim_picked.emit("" if text == NO_AIM else text)

    def _pick_type(self, index: int) -> None:
        self.finished.emit()
        self.type_picked.emit("" if index == 0 else SERVE_TYPES[index - 1])

    def _pick_targets(self, index: int) -> None:
        self.finished.emit()
        self.targets_picked.emit(TARGET_KINDS[index])

    def _pick_wind(self, index: int) -> None:
        self.finished.emit()
        self.wind_picked.emit(WIND_ENDS[index])


def _short(player: Player) -> str:
    return str(player.number) if player.number is not None else player.name
