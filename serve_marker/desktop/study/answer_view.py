"""One selection of serves with its answer: filters on top, a sentence, what else is worth knowing, the chart."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from serve_marker.desktop.study.filters import StudyFilters
from serve_marker.desktop.study.questions import Answer
from serve_marker.desktop.widgets.chart_view import ChartView
from serve_marker.desktop.widgets.plain_text import PlainLabel, tooltip
from serve_marker.report.lettering import with_units_held


class AnswerView(QWidget):
    """Shows one answer; a second one can stand beside it."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.filters = StudyFilters()
        self.sentence = self._label("large")
        self.more = self._label("muted")
        self.chart = ChartView()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(self.filters)
        column.addSpacing(4)
        column.addWidget(self.sentence)
        column.addWidget(self.more)
        column.addWidget(self.chart, 1)

    def show_answer(self, found: Answer, heading: str) -> None:
        """Show an answer in words and as a chart."""
        self.show_words(found.words.sentence, found.words.more, found.words.statistic)
        self.chart.set_chart(found.pixels, found.points)
        self.chart.setAccessibleName(f"Chart: {heading} {found.words.sentence}")

    def show_words(self, sentence: str, more: str, statistic: str) -> None:
        """Show words; the statistic behind them is one hover away."""
        for label, words, lines in ((self.sentence, sentence, 2), (self.more, more, 3)):
            label.setText(with_units_held(words))
            reserved = lines * label.fontMetrics().lineSpacing() + 8
            label.setMinimumHeight(max(reserved, label.heightForWidth(label.width())))
            label.setToolTip(tooltip(statistic))
        self.sentence.setAccessibleDescription(statistic)

    def level_with(self, other: AnswerView) -> None:
        """Give both the same room for words, so that their charts are drawn alike."""
        for mine, theirs in ((self.sentence, other.sentence), (self.more, other.more)):
            height = max(mine.minimumHeight(), theirs.minimumHeight())
            mine.setMinimumHeight(height)
            theirs.setMinimumHeight(height)

    def show_failure(self, sentence: str) -> None:
        """Say what stands in the way of an answer."""
        self.show_words(sentence, "", "")
        self.chart.set_chart(None)

    @staticmethod
    def _label(role: str) -> QLabel:
        label = PlainLabel()
        label.setProperty("role", role)
        label.setWordWrap(True)
        label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        label.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        return label
