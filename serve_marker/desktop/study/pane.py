"""Study: questions down the left, one answer large in the middle, a second selection beside it on demand."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPoint, QTimer
from PySide6.QtGui import QCursor, QShowEvent
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import NO_LOGBOOK, Workspace
from serve_marker.desktop.study.answer_view import AnswerView
from serve_marker.desktop.study.hover_still import HoverStill
from serve_marker.desktop.study.questions import QUESTIONS, Answer, StudyQuestion, answer
from serve_marker.desktop.study.words import joined
from serve_marker.desktop.widgets.text_sizes import scale as text_scale
from serve_marker.desktop.widgets.theme import current
from serve_marker.errors import UserError
from serve_marker.logbook.store import Logbook
from serve_marker.report.sheets import ReportData, read_report_data_without_flights
from serve_marker.study.compare import comparison_sentence, differences_sentence
from serve_marker.study.filter import ServeFilter, filter_serves

SETTLED_MS = 120
SLOW_MS = 400
"""After so long without an answer the last one goes."""


class StudyPane(QWidget):
    """Answers the questions from the workspace's logbook, off the window's thread."""

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Study")
        self._workspace = workspace
        self._worker = Worker("study", self)
        self._data: ReportData | None = None
        self._book: Logbook | None = None
        self._stale = True
        self._later = QTimer(self, singleShot=True, interval=SETTLED_MS)
        self._later.timeout.connect(self.refresh)
        self._slow = QTimer(self, singleShot=True)
        self._slow.timeout.connect(self._say_slow)

        self.side = AnswerView("Selection")
        self.beside = AnswerView("Selection beside it")
        self.beside.hide()
        self.filters, self.chart = self.side.filters, self.side.chart
        self.questions = QButtonGroup(self)
        self.beside_button = QPushButton("Compare")
        self.beside_button.setCheckable(True)
        self.beside_button.setAccessibleName("Compare with a second selection")
        self._lay_out()
        self.glance = HoverStill(self)

        for side in self.sides():
            side.filters.changed.connect(self.refresh)
            side.chart.resized.connect(self._later.start)
            side.chart.point_chosen.connect(workspace.go_to_serve)
            side.chart.pointed.connect(self._glance)
        for one, other in ((self.side, self.beside), (self.beside, self.side)):
            one.more_button.toggled.connect(other.more_button.setChecked)
        self.questions.idClicked.connect(self._ask)
        self.beside_button.toggled.connect(self._set_beside)
        for signal in (workspace.logbook_changed, workspace.practice_changed, workspace.serves_changed):
            signal.connect(self._out_of_date)

    def sides(self) -> tuple[AnswerView, AnswerView]:
        """Both selections, the second one hidden until it is asked for."""
        return self.side, self.beside

    @property
    def busy(self) -> bool:
        """Whether an answer is still expected."""
        return self._worker.busy or self._later.isActive()

    @property
    def question(self) -> StudyQuestion:
        """The question asked now."""
        return QUESTIONS[max(0, self.questions.checkedId())]

    def close_workers(self) -> None:
        """Let the work that runs end; nothing is answered any more."""
        self._later.stop()
        self._slow.stop()
        self._worker.close()
        self.glance.close_workers()

    def refresh(self) -> None:
        """Answer the question anew for the filters as they are."""
        self._later.stop()
        book = self._workspace.logbook
        if book is None:
            self.side.show_failure(NO_LOGBOOK)
            return
        self._book = book
        source = book if self._stale or self._data is None else self._data
        self._stale = False
        shown = [side for side in self.sides() if side is self.side or self.beside_button.isChecked()]
        asked = [(side.filters.choice(), (float(side.chart.width()), float(side.chart.height()))) for side in shown]
        looks = (current().name, self.devicePixelRatioF(), text_scale())
        self._slow.start(0 if self._data is None else SLOW_MS)
        self._worker.submit(_answers, source, asked, self.question, *looks, done=self._show, failed=self._failed)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._later.start()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() in (QEvent.Type.PaletteChange, QEvent.Type.FontChange) and self.isVisible():
            self._later.start()

    def _set_beside(self, on: bool) -> None:
        self.beside.setVisible(on)
        self.side.level_with(self.beside if on else None)
        self.beside.level_with(self.side if on else None)
        self.beside.more_button.setChecked(self.side.more_button.isChecked())
        self._later.start()

    def _glance(self, serve_id: str) -> None:
        at = self.mapFromGlobal(QCursor.pos()) if serve_id else QPoint()
        self.glance.point_at(serve_id, self._workspace.films, at)

    def _out_of_date(self) -> None:
        self._stale = True
        if self._workspace.logbook is not self._book:
            self._worker.cancel()
        self.glance.forget()
        if self.isVisible():
            self._later.start()

    def _show(self, found: list[Answer]) -> None:
        is_new = found[0].data is not self._data
        self._data = found[0].data
        if is_new:
            before = [side.filters.choice() for side in self.sides()]
            for side in self.sides():
                side.filters.fill(self._data.table)
            if [side.filters.choice() for side in self.sides()] != before:
                self.refresh()
                return
        for side, one in zip(self.sides(), found, strict=False):
            side.show_answer(one, self.question.heading)

    def _say_slow(self) -> None:
        """Take the answer to the last question away where the next one takes its time."""
        if self._worker.busy:
            for side in self.sides():
                side.show_failure("Counting the serves…")

    def _failed(self, error: BaseException) -> None:
        self._stale = True
        if isinstance(error, UserError):
            self.side.show_failure(str(error))

    def _ask(self, place: int) -> None:
        self.setFocusProxy(self.questions.button(place))
        self.refresh()

    def _lay_out(self) -> None:
        left = QVBoxLayout()
        left.setSpacing(6)
        for place, question in enumerate(QUESTIONS):
            button = QPushButton(question.heading)
            button.setCheckable(True)
            button.setMinimumWidth(150)
            button.setAccessibleName(f"Question: {question.heading}")
            self.questions.addButton(button, place)
            left.addWidget(button)
        self.questions.button(0).setChecked(True)
        self.setFocusProxy(self.questions.button(0))
        left.addStretch(1)
        left.addWidget(self.beside_button)
        whole = QHBoxLayout(self)
        whole.setContentsMargins(18, 14, 18, 14)
        whole.setSpacing(18)
        whole.addLayout(left)
        whole.addWidget(self.side, 1)
        whole.addWidget(self.beside, 1)


def _answers(
    source: Logbook | ReportData,
    asked: list[tuple[ServeFilter, tuple[float, float]]],
    question: StudyQuestion,
    look: str,
    scale: float,
    letters: float,
) -> list[Answer]:
    data = read_report_data_without_flights(source) if isinstance(source, Logbook) else source
    if question.of_flights:
        data = data.with_flights()
    found = [answer(data, choice, question, look, size_px, scale, letters) for choice, size_px in asked]
    if len(found) < 2:
        return found
    first, second = (filter_serves(data.table, choice) for choice, _ in asked)
    rates = comparison_sentence(first, second, ("Left", "Right"))
    words = joined(rates, differences_sentence(first, second, "On the right"))
    return [found[0], found[1].with_more(words)]
