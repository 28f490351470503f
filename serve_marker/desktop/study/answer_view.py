"""One selection of serves with its answer: filters on top, a figure, one grey line, the chart; the rest under More."""

from __future__ import annotations

import re

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from serve_marker.desktop.study.filters import StudyFilters
from serve_marker.desktop.study.questions import Answer
from serve_marker.desktop.study.words import StudyWords
from serve_marker.desktop.widgets.chart_view import ChartView
from serve_marker.desktop.widgets.plain_text import ElidedLabel, PlainLabel, tooltip
from serve_marker.desktop.widgets.scrolled import Scrolled
from serve_marker.report.lettering import with_units_held

SENTENCE_END = re.compile(r"(?<=[.!?]) (?=[A-Z0-9])")
HEAD_GAP, LEAST_PX = 14, 80
MORE_SHARE = 0.35
"""The most of the height that the words under More take; beyond that they scroll."""


class AnswerView(QWidget):
    """Shows one answer; a second one can stand beside it."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self._rest: list[str] = []
        self._beside: AnswerView | None = None
        self.filters = StudyFilters()
        self.figure = PlainLabel()
        self.figure.setProperty("role", "figure")
        self.sentence = PlainLabel()
        self.sentence.setWordWrap(True)
        self.line = ElidedLabel()
        self.line.setProperty("role", "muted")
        self.more_button = QPushButton("More")
        self.more_button.setCheckable(True)
        self.more_button.setProperty("role", "small")
        self.more_button.setAccessibleName("More about this answer")
        self.more = PlainLabel()
        self.more.setProperty("role", "muted")
        self.more.setWordWrap(True)
        for label in (self.figure, self.sentence, self.more):
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.scrolled_more = Scrolled(self.more)
        self.scrolled_more.hide()
        self.chart = ChartView()
        self.more_button.toggled.connect(self._show_rest)
        self._lay_out()

    def show_answer(self, found: Answer, heading: str) -> None:
        """Show an answer in words and as a chart."""
        self.show_words(found.words)
        self.chart.set_chart(found.pixels, found.points)
        self.chart.setAccessibleName(f"Chart: {heading} {found.words.sentence}")

    def show_words(self, words: StudyWords) -> None:
        """Show words; the statistic behind them is one hover away."""
        first, *rest = SENTENCE_END.split(words.sentence)
        self._rest = [*rest, *SENTENCE_END.split(words.more)] if words.more else rest
        beside = first.replace(words.figure, "", 1).replace("  ", " ").replace(" ,", ",").strip()
        self.figure.setText(with_units_held(words.figure))
        self.figure.setVisible(bool(words.figure))
        self.sentence.setProperty("role", "large" if words.figure else "title")
        self.sentence.style().polish(self.sentence)
        self.sentence.setText(with_units_held(beside))
        self.sentence.setAccessibleName(words.sentence)
        self.sentence.setAccessibleDescription(words.statistic)
        for label in (self.figure, self.sentence, self.line, self.more):
            label.setToolTip(tooltip(words.statistic))
        self._keep_room()
        self._show_rest()

    def show_failure(self, sentence: str) -> None:
        """Say what stands in the way of an answer."""
        self.show_words(StudyWords(sentence, "", ""))
        self.chart.set_chart(None)

    @property
    def headline(self) -> str:
        """What is read first, as it stands on the screen."""
        return f"{self.figure.text()} {self.sentence.text()}".strip()

    def level_with(self, other: AnswerView | None) -> None:
        """Keep as much room for words as the one beside it needs, so that their charts are drawn alike."""
        self._beside = other
        self._keep_room()
        self._show_rest()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._keep_room()
        self._show_rest()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._keep_room()
            self._show_rest()

    def _keep_room(self) -> None:
        """Keep the headline as high as a figure, so that a chart stays in its place from one answer to the next."""
        head = max(view.headline_height() for view in self._level())
        filters = max(view.filters.sizeHint().height() for view in self._level())
        for view in self._level():
            view.head.setMinimumHeight(head)
            view.filters.setMinimumHeight(filters)

    def headline_height(self) -> int:
        """How high the headline has to be [px]."""
        self.figure.ensurePolished()
        self.sentence.ensurePolished()
        beside = self.width() - (self.figure.sizeHint().width() + HEAD_GAP if self.figure.text() else 0)
        return max(self.figure.fontMetrics().lineSpacing(), self.sentence.heightForWidth(max(beside, LEAST_PX)))

    def _level(self) -> list[AnswerView]:
        return [self] if self._beside is None else [self, self._beside]

    def _show_rest(self) -> None:
        """Show as many whole sentences as the grey line holds; all of them where More is pressed."""
        room, letters = self.line.width(), self.line.fontMetrics()
        shown = self._rest[:1]
        for sentence in self._rest[1:]:
            if letters.horizontalAdvance(" ".join([*shown, sentence])) > room:
                break
            shown.append(sentence)
        self.line.setText(with_units_held(" ".join(shown)))
        self.more.setText(with_units_held("\n".join(self._rest)))
        opened = self.more_button.isChecked()
        self.more_button.setEnabled(opened or shown != self._rest or self.line.shown_text != self.line.text())
        self.line.setVisible(not opened)
        self.scrolled_more.setVisible(opened)
        needed = max(view.more.heightForWidth(max(view.width() - LEAST_PX, LEAST_PX)) for view in self._level())
        for view in self._level():
            view.scrolled_more.setFixedHeight(max(0, min(needed, round(MORE_SHARE * self.height()))))

    def _lay_out(self) -> None:
        self.head = QWidget()
        head = QHBoxLayout(self.head)
        head.setContentsMargins(0, 0, 0, 0)
        head.setSpacing(HEAD_GAP)
        head.addWidget(self.figure)
        head.addWidget(self.sentence, 1)
        below = QHBoxLayout()
        below.setSpacing(10)
        below.addWidget(self.line, 1)
        below.addWidget(self.scrolled_more, 1)
        below.addWidget(self.more_button, alignment=Qt.AlignmentFlag.AlignTop)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addWidget(self.filters)
        column.addWidget(self.head)
        column.addLayout(below)
        column.addWidget(self.chart, 1)
