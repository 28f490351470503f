"""Study: questions down the left, one answer large in the middle, filters on top."""

from __future__ import annotations

from concurrent.futures import Executor

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from serve_marker.desktop.jobs import Lane
from serve_marker.desktop.study_chart import StudyChart
from serve_marker.desktop.study_filters import StudyFilters
from serve_marker.desktop.study_questions import QUESTIONS, Answer, Question, answer
from serve_marker.desktop.theme import current
from serve_marker.desktop.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.store import Logbook
from serve_marker.report.sheets import Evening, read_evening
from serve_marker.study.choose import Choice

NO_LOGBOOK = "No logbook is open yet. Drop a clip on the window, or open a logbook, then mark some serves."
SETTLED_MS = 120


class StudyPane(QWidget):
    """Answers the questions from the workspace's logbook, off the window's thread."""

    def __init__(self, workspace: Workspace, parent: QWidget | None = None, executor: Executor | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Study")
        self._workspace = workspace
        self._lane = Lane("study", self, executor)
        self._evening: Evening | None = None
        self._stale = True
        self._later = QTimer(self, singleShot=True, interval=SETTLED_MS)
        self._later.timeout.connect(self.refresh)

        self.filters = StudyFilters()
        self.questions = QButtonGroup(self)
        self.sentence = self._label("large")
        self.more = self._label("muted")
        self.chart = StudyChart()
        self._lay_out()

        self.filters.changed.connect(self.refresh)
        self.questions.idClicked.connect(self.refresh)
        self.chart.resized.connect(self._later.start)
        self.chart.point_chosen.connect(workspace.go_to_serve)
        for signal in (workspace.logbook_changed, workspace.practice_changed, workspace.serves_changed):
            signal.connect(self._out_of_date)

    @property
    def busy(self) -> bool:
        """Whether an answer is still expected."""
        return self._lane.busy or self._later.isActive()

    @property
    def question(self) -> Question:
        """The question asked now."""
        return QUESTIONS[max(0, self.questions.checkedId())]

    def close_lanes(self) -> None:
        """Let the work that runs end; nothing is answered any more."""
        self._later.stop()
        self._lane.close()

    def refresh(self) -> None:
        """Answer the question anew for the filters as they are."""
        self._later.stop()
        book = self._workspace.logbook
        if book is None:
            self._show_words(NO_LOGBOOK, "", "")
            self.chart.set_chart(None)
            return
        source = book if self._stale or self._evening is None else self._evening
        self._stale = False
        size_px = (float(self.chart.width()), float(self.chart.height()))
        asked = (source, self.filters.choice(), self.question, current().name, size_px, self.devicePixelRatioF())
        self._lane.submit(_answer, *asked, done=self._show, failed=self._failed)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._later.start()

    def _out_of_date(self) -> None:
        self._stale = True
        if self.isVisible():
            self._later.start()

    def _show(self, found: Answer) -> None:
        is_new = found.evening is not self._evening
        self._evening = found.evening
        if is_new:
            before = self.filters.choice()
            self.filters.fill(found.evening.table)
            if self.filters.choice() != before:
                self.refresh()
                return
        self._show_words(found.words.sentence, found.words.more, found.words.statistic)
        self.chart.set_chart(found.pixels, found.points)
        self.chart.setAccessibleName(f"Chart: {self.question.heading} {found.words.sentence}")

    def _failed(self, error: BaseException) -> None:
        self._stale = True
        if not isinstance(error, UserError):
            raise error
        self._show_words(str(error), "", "")
        self.chart.set_chart(None)

    def _show_words(self, sentence: str, more: str, statistic: str) -> None:
        for label, words in ((self.sentence, sentence), (self.more, more)):
            label.setText(words)
            label.setToolTip(f"<qt>{statistic}</qt>" if statistic else "")
        self.sentence.setAccessibleDescription(statistic)

    @staticmethod
    def _label(role: str) -> QLabel:
        label = QLabel()
        label.setProperty("role", role)
        label.setWordWrap(True)
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        label.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        return label

    def _lay_out(self) -> None:
        left = QVBoxLayout()
        left.setSpacing(6)
        for place, question in enumerate(QUESTIONS):
            button = QPushButton(question.heading)
            button.setCheckable(True)
            button.setMinimumWidth(130)
            button.setAccessibleName(f"Question: {question.heading}")
            self.questions.addButton(button, place)
            left.addWidget(button)
        self.questions.button(0).setChecked(True)
        self.setFocusProxy(self.questions.button(0))
        left.addStretch(1)
        self.sentence.setMinimumHeight(2 * self.sentence.fontMetrics().lineSpacing() + 12)
        self.more.setMinimumHeight(2 * self.more.fontMetrics().lineSpacing() + 4)
        middle = QVBoxLayout()
        middle.setSpacing(8)
        middle.addWidget(self.filters)
        middle.addSpacing(4)
        middle.addWidget(self.sentence)
        middle.addWidget(self.more)
        middle.addWidget(self.chart, 1)
        whole = QHBoxLayout(self)
        whole.setContentsMargins(18, 14, 18, 14)
        whole.setSpacing(18)
        whole.addLayout(left)
        whole.addLayout(middle, 1)


def _answer(
    source: Logbook | Evening, choice: Choice, question: Question, look: str, size_px: tuple[float, float], scale: float
) -> Answer:
    evening = read_evening(source) if isinstance(source, Logbook) else source
    return answer(evening, choice, question, look, size_px, scale)
