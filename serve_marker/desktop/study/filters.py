"""The filter chips above an answer: practice, dates, server, serve type, aim."""

from __future__ import annotations

import datetime
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QComboBox, QGridLayout, QPushButton, QSizePolicy, QWidget

from serve_marker.court.aims import aim_words
from serve_marker.desktop.widgets.combo_box import ComboBox
from serve_marker.desktop.widgets.text_sizes import pixels
from serve_marker.logbook.practice_of_clip import UNNAMED_PRACTICE
from serve_marker.logbook.records import SERVE_TYPES, TARGET_WORDS
from serve_marker.study.by_server import UNKNOWN, servers_of
from serve_marker.study.filter import ServeFilter
from serve_marker.study.sentences import date_words

if TYPE_CHECKING:
    import pandas

BOX_PX = 150
SPANS_DAYS = {"Last 4 weeks": 28, "Last 3 months": 91, "Last year": 365}
CIRCUMSTANCES = {
    "target_kinds": "target_kind",
    "formations": "formation",
    "served_from": "served_from",
    "turns": "turn",
    "winds": "wind",
    "hands": "hand",
    "positions": "position",
}
CIRCUMSTANCE_WORDS = TARGET_WORDS | {
    "left third": "from the left third",
    "middle third": "from the middle third",
    "right third": "from the right third",
    "first 20": "first 20 of her practice",
    "last 20": "last 20 of her practice",
    "right": "right-handed servers",
    "left": "left-handed servers",
}


class FilterBox(ComboBox):
    """A filter as a chip: filled where it narrows the choice."""

    def settle(self) -> None:
        """Look chosen, or not."""
        self.setProperty("chosen", self.currentIndex() > 0)
        self.style().unpolish(self)
        self.style().polish(self)


class StudyFilters(QWidget):
    """The filters that are set, a button that opens all of them, and one that takes every filter away.

    Each box begins with "all".
    """

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.practice = self._box("All practices", "Practice")
        self.dates = self._box("All dates", "Dates")
        self.server = self._box("All servers", "Server")
        self.serve_type = self._box("All types", "Serve type")
        self.aim = self._box("All aims", "Aim")
        self.more = self._box("More", "What else tells serves apart")
        self.open_button = QPushButton("Filters")
        self.open_button.setCheckable(True)
        self.open_button.setProperty("role", "small")
        self.open_button.setAccessibleName("Show every filter")
        self.open_button.toggled.connect(self._arrange)
        self.all_button = QPushButton("Clear")
        self.all_button.setProperty("role", "small")
        self.all_button.setAccessibleName("Clear all filters")
        self.all_button.clicked.connect(self._take_away)
        self._newest = ""
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(8)
        self._grid.addWidget(self.open_button, 0, 0)
        self._settle()

    def boxes(self) -> tuple[FilterBox, ...]:
        """The boxes from left to right."""
        return self.practice, self.dates, self.server, self.serve_type, self.aim, self.more

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        """Lay out the boxes that are set, or all of them, in as many rows as they need."""
        shown = [box for box in self.boxes() if self.open_button.isChecked() or box.currentIndex() > 0]
        across = max(1, self.width() // pixels(BOX_PX) - 1)
        for box in self.boxes():
            self._grid.removeWidget(box)
            box.setVisible(box in shown)
        for number, box in enumerate(shown):
            self._grid.addWidget(box, number // across, 1 + number % across)
        for column in range(1, len(self.boxes()) + 1):
            self._grid.setColumnStretch(column, 1 if column <= min(across, len(shown)) else 0)
        self._grid.setColumnStretch(len(self.boxes()) + 2, 0 if len(shown) >= across else across - len(shown))
        self._grid.addWidget(self.all_button, 0, len(self.boxes()) + 1)
        self._grid.setRowMinimumHeight(0, self.practice.sizeHint().height())
        self.all_button.setVisible(any(box.currentIndex() > 0 for box in self.boxes()))

    def fill(self, table: pandas.DataFrame) -> None:
        """Offer what occurs in a serve table; what was chosen stays chosen where it still occurs."""
        practices = table[["practice_id", "practice", "date"]].drop_duplicates("practice_id")
        practices = practices[practices["practice_id"] != ""].sort_values("date", ascending=False)
        named = zip(practices["date"], practices["practice"], practices["practice_id"], strict=True)
        self._offer(
            self.practice, [(f"{date_words(day)}  {name or UNNAMED_PRACTICE}", key) for day, name, key in named]
        )
        self._newest = max(table["date"], default="")
        self._offer(self.dates, [(words, str(days)) for words, days in SPANS_DAYS.items()])
        servers = [(words, player_id) for player_id, words in servers_of(table)]
        if (table["player_id"] == "").any():
            servers.append((UNKNOWN.capitalize(), "-"))
        self._offer(self.server, servers)
        types = set(table["serve_type"])
        self._offer(self.serve_type, [(kind.capitalize(), kind) for kind in SERVE_TYPES if kind in types])
        self._offer(self.aim, [(aim_words(aim), aim) for aim in sorted({aim for aim in table["aim"] if aim})])
        self._offer(self.more, _circumstances(table))
        self._settle()

    def choice(self) -> ServeFilter:
        """The choice the boxes stand for."""
        server = self.server.currentData()
        plain = ServeFilter(
            practice_ids=_chosen(self.practice),
            date_from=self._date_from(self.dates.currentData()),
            player_ids=("",) if server == "-" else _chosen(self.server),
            serve_types=_chosen(self.serve_type),
            aims=_chosen(self.aim),
        )
        field, found, name = str(self.more.currentData() or "").partition("=")
        return _with_circumstance(plain, field, name) if found else plain

    def _date_from(self, days: str) -> str:
        if not days or not self._newest:
            return ""
        newest = datetime.date.fromisoformat(self._newest)
        return (newest - datetime.timedelta(days=int(days))).isoformat()

    def _box(self, everything: str, name: str) -> FilterBox:
        box = FilterBox()
        box.setAccessibleName(f"Filter: {name.lower()}")
        box.setProperty("role", "chip")
        box.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        box.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        box.addItem(everything, "")
        box.currentIndexChanged.connect(self._chosen)
        return box

    def _offer(self, box: QComboBox, items: list[tuple[str, str]]) -> None:
        kept = box.currentData()
        box.blockSignals(True)
        while box.count() > 1:
            box.removeItem(1)
        for words, key in items:
            box.addItem(words, key)
        box.setCurrentIndex(max(0, box.findData(kept)))
        box.blockSignals(False)
        box.setEnabled(bool(items))

    def _take_away(self) -> None:
        for box in self.boxes():
            box.blockSignals(True)
            box.setCurrentIndex(0)
            box.blockSignals(False)
        self._chosen()

    def _chosen(self) -> None:
        self._settle()
        self.changed.emit()

    def _settle(self) -> None:
        for box in self.boxes():
            box.settle()
        self._arrange()


def _circumstances(table: pandas.DataFrame) -> list[tuple[str, str]]:
    """What else tells the serves apart: targets, passers, third of the end line, early or late; only what differs."""
    offered = []
    for field, column in CIRCUMSTANCES.items():
        names = [name for name in table[column].unique() if name]
        if len(names) > 1 or (names and (table[column] == "").any()):
            offered += [(CIRCUMSTANCE_WORDS.get(name, name).capitalize(), f"{field}={name}") for name in sorted(names)]
    return offered


def _with_circumstance(choice: ServeFilter, field: str, name: str) -> ServeFilter:
    changes: dict[str, Any] = {field: (name,)}
    return replace(choice, **changes)


def _chosen(box: QComboBox) -> tuple[str, ...]:
    key = box.currentData()
    return (key,) if key else ()
