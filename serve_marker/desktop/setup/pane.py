"""The right column of the Set up step: which landmark is next, how good the view is, and its name."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from serve_marker.camera.fitting.error_map import error_map
from serve_marker.camera.fitting.impossible_marks import FEWEST_LANDMARKS
from serve_marker.camera.fitting.observations import line_ends
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import COURTS, landmarks
from serve_marker.desktop.session.court_words import is_line, landmark_words
from serve_marker.desktop.session.show_errors import show_errors
from serve_marker.desktop.session.view_editor import ViewEditor, on_floor
from serve_marker.desktop.session.view_edits import ViewState
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.desktop.setup.advice_worker import ViewAdvice
from serve_marker.desktop.setup.court_map import CourtMap
from serve_marker.desktop.setup.view_sentences import FEWEST_POINTS, error_words, quality_words, tracing_words
from serve_marker.desktop.widgets.combo_box import ComboBox
from serve_marker.desktop.widgets.plain_text import LinesLabel, PlainLabel
from serve_marker.desktop.widgets.scrolled import Scrolled
from serve_marker.report.net_and_error_overlay import error_overlay, net_overlay
from serve_marker.report.overlay_items import DisplayList, court_overlay
from serve_marker.study.sentences import count_words

QUALITY_LINES, LEAST_QUALITY_LINES = 7, 3
FINE_M = 0.125
ALL_MARKED = "The floor is marked. Net tops can be added."


class SetupPane(QWidget):
    """Court map, two plain sentences, court and net, name of the view."""

    landmark_chosen = Signal(str)
    measures_asked = Signal()
    stored_view_asked = Signal()

    def __init__(self, workspace: Workspace, making: ViewEditor) -> None:
        super().__init__()
        self._workspace = workspace
        self._making = making
        self._wanted: str | None = None
        self.tracing: str | None = None
        """The line that clicks are traced along."""
        self.error_shown = False
        self._task = self._task_more = ""
        self._looking = False
        self.advice = ViewAdvice(workspace, self.isVisible)
        self.court_map = CourtMap()
        self.next_words = LinesLabel(3, " ")
        self.next_words.setAccessibleName("Landmark to click next")
        self.next_words.setProperty("role", "large")
        self.quality = PlainLabel(" ")
        self.quality.setAccessibleName("How good the view is")
        self.quality.setWordWrap(True)
        self.quality.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.court = ComboBox()
        self.court.setAccessibleName("Court")
        self.court.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.court_is = QPushButton("Yes")
        self.court_is.setAccessibleName("Yes, this is the court; said once for each gym")
        self.court_is.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.net = ComboBox()
        self.net.setAccessibleName("Net height")
        self.net.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.gym = QLineEdit()
        self.gym.setAccessibleName("Name of the gym")
        self.gym.setToolTip("Name of the gym")
        self.gym.setPlaceholderText("gym")
        self.name = QLineEdit()
        self.name.setAccessibleName("Place of the camera")
        self.name.setToolTip("Place of the camera")
        self.name.setPlaceholderText("place")
        measures = QPushButton("Measures…")
        stored = QPushButton("Stored views…")
        for button in (measures, stored):
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._lay_out(measures, stored)
        measures.clicked.connect(self.measures_asked)
        stored.clicked.connect(self.stored_view_asked)
        self.court_map.chosen.connect(self.choose)
        self.court_is.clicked.connect(show_errors(workspace, making.tell_court))
        self.court.activated.connect(show_errors(workspace, self._court_picked))
        self.net.activated.connect(show_errors(workspace, self._net_picked))
        for field in (self.gym, self.name):
            field.editingFinished.connect(show_errors(workspace, self._named))
        workspace.view_changed.connect(self.refresh)
        workspace.logbook_changed.connect(self.refresh)
        workspace.clip_changed.connect(self._forget)
        self.advice.changed.connect(self.refresh)
        self.refresh()

    def showEvent(self, event: QShowEvent) -> None:
        self.advice.follow()

    def _lay_out(self, measures: QPushButton, stored: QPushButton) -> None:
        rows = QGridLayout()
        rows.setVerticalSpacing(5)
        for row, text in enumerate(("Court", "Net", "Named")):
            rows.addWidget(PlainLabel(text), row, 0)
        court = QHBoxLayout()
        court.setSpacing(6)
        court.addWidget(self.court, 1)
        court.addWidget(self.court_is)
        rows.addLayout(court, 0, 1, 1, 2)
        rows.addWidget(self.net, 1, 1, 1, 2)
        rows.addWidget(self.gym, 2, 1)
        rows.addWidget(self.name, 2, 2)
        rows.setColumnStretch(1, 1)
        rows.setColumnStretch(2, 1)
        buttons = QHBoxLayout()
        buttons.addWidget(measures)
        buttons.addWidget(stored)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 8, 12, 8)
        layout.setSpacing(6)
        layout.addWidget(self.next_words)
        self.court_map.setMinimumSize(200, 140)
        layout.addWidget(self.court_map, 1)
        layout.addWidget(_ScrolledLines(self.quality))
        layout.addLayout(rows)
        layout.addLayout(buttons)

    def next_landmark(self) -> str | None:
        """Return the landmark the next click marks."""
        state = self._workspace.view_state
        if state is None or self.tracing is not None:
            return None
        placed = dict(state.marks)
        if self._wanted is not None:
            return self._wanted
        open_names = [name for name in landmarks(state.court) if name not in placed and name not in state.skipped]
        return open_names[0] if open_names else None

    def choose(self, name: str) -> None:
        """Mark this landmark next, or trace this line."""
        self.tracing = name if is_line(name) else None
        self._wanted = None if is_line(name) else name
        self._chosen_anew()

    def stop_tracing(self) -> None:
        """Clicks mark landmarks again."""
        self.tracing = None
        self._chosen_anew()

    def show_error(self) -> None:
        """Draw the error of a click over the court, or take it away."""
        self.error_shown = not self.error_shown
        self._chosen_anew()

    def items(self) -> DisplayList:
        """Return what lies over the picture while setting up: lines, net, the error on the floor where asked for."""
        view = self._workspace.view
        if view is None:
            return ()
        return (*view_items(view), *(error_overlay(view, error_map(view, FINE_M)) if self.error_shown else ()))

    def _chosen_anew(self) -> None:
        self.landmark_chosen.emit(self.tracing or self._wanted or "")
        self.refresh()

    def skip(self) -> None:
        """Go on to the landmark after the next one."""
        name = self.next_landmark()
        self._wanted = None
        if name is not None:
            self._making.skip(name)
        self.refresh()

    def placed(self) -> None:
        """A landmark was marked: go on."""
        self._wanted = None

    def refresh(self) -> None:
        """Show the view as it is."""
        state = self._workspace.view_state
        if state is None:
            self.next_words.setText("Drop a clip on the window. Then mark the court's lines on its picture.")
            self.quality.setText(" ")
            return
        self.court_map.set_landmarks(state.court, with_net=True, with_lines=True)
        self.court_map.set_states(self._landmark_states(state) | self._line_states(state))
        self.next_words.setText(self._next_words(state))
        self.quality.setText(self._quality_words(len(on_floor(state))))
        self._show_court()
        self.court_is.setVisible(state.stored is not None and not self._making.court_told)
        for field, text in (
            (self.gym, state.gym.name if state.gym else ""),
            (self.name, state.stored.name if state.stored else ""),
        ):
            field.setEnabled(state.stored is not None)
            if not field.hasFocus():
                field.setText(text)
                field.setCursorPosition(0)

    def _landmark_states(self, state: ViewState) -> dict[str, str]:
        placed, upcoming = dict(state.marks), self.next_landmark()
        states = {name: "skipped" if name in state.skipped else "open" for name in landmarks(state.court)}
        states.update(dict.fromkeys(placed, "placed"))
        return states | ({upcoming: "next"} if upcoming else {})

    def _line_states(self, state: ViewState) -> dict[str, str]:
        traced = [line for line, points in state.traces if len(points) >= FEWEST_POINTS]
        states = {line: "placed" if line in traced else "open" for line in line_ends(state.court)}
        return states | ({self.tracing: "next"} if self.tracing else {})

    def set_task(self, words: str, more: str = "") -> None:
        """Say what to do in place of landmarks, and ``more`` while none are marked; "" is landmarks again."""
        self._task, self._task_more = words, more
        self.refresh()

    def set_looking(self, looking: bool) -> None:
        """Say that the crossings of lines are being looked for, instead of what is wrong until they are found."""
        self._looking = looking
        self.refresh()

    def _next_words(self, state: ViewState) -> str:
        if self._task:
            return self._task
        if self.tracing is not None:
            return tracing_words(self.tracing, len(dict(state.traces).get(self.tracing, ())))
        upcoming = self.next_landmark()
        if upcoming is None:
            return ALL_MARKED
        enough = self._workspace.view is not None and self._wanted is None
        return f"{'Set up; to be surer, click' if enough else 'Click'}: {landmark_words(upcoming)}"

    def _quality_words(self, count: int) -> str:
        if count < FEWEST_LANDMARKS and self._task_more:
            return self._task_more
        if count < FEWEST_LANDMARKS:
            missing = count_words(FEWEST_LANDMARKS - count, "more landmark")
            return f"{missing} on the floor: then the court is drawn. K skips."
        view = self._workspace.view
        if view is None:
            return "These landmarks do not make a court yet. Mark one more."
        if self._looking:
            return f"{error_words(view)} Looking for the crossings of the lines near your clicks."
        return quality_words(view, self._making.fit(), self.advice.found, self._making.court_told)

    def _show_court(self) -> None:
        state = self._workspace.view_state
        assert state is not None
        titles = [court.title for court in COURTS.values()]
        shown = titles if state.court.title in titles else [*titles, state.court.title]
        _fill(self.court, shown, shown.index(state.court.title))
        heights = [net.height_m for net in state.court.net_heights]
        words = [f"{net.height_m:.2f} m, {net.name}" for net in state.court.net_heights]
        if state.net_height_m not in heights:
            heights, words = [*heights, state.net_height_m], [*words, f"{state.net_height_m:.2f} m"]
        _fill(self.net, words, heights.index(state.net_height_m))

    def _forget(self) -> None:
        self._wanted = self.tracing = None

    def _court_picked(self, index: int) -> None:
        courts = list(COURTS.values())
        if index < len(courts):
            self._making.choose_court(courts[index])

    def _net_picked(self, index: int) -> None:
        state = self._workspace.view_state
        if state is not None and index < len(state.court.net_heights):
            self._making.choose_net_height(state.court.net_heights[index].height_m)

    def _named(self) -> None:
        state = self._workspace.view_state
        if state is not None and state.stored is not None and self.gym.text().strip() and self.name.text().strip():
            self._making.rename(self.gym.text(), self.name.text())


class _ScrolledLines(Scrolled):
    """A label that scrolls where a low window has no room for all its lines."""

    def __init__(self, label: QLabel) -> None:
        super().__init__(label)
        self._label = label
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)

    def sizeHint(self) -> QSize:
        return self._of_lines(QUALITY_LINES)

    def minimumSizeHint(self) -> QSize:
        return self._of_lines(LEAST_QUALITY_LINES)

    def _of_lines(self, lines: int) -> QSize:
        return QSize(0, self._label.fontMetrics().lineSpacing() * lines + 4)


def view_items(view: View) -> DisplayList:
    """Return a view's lines and its net with the antennas."""
    return (*court_overlay(view), *net_overlay(view))


def _fill(combo: QComboBox, texts: list[str], index: int) -> None:
    if [combo.itemText(i) for i in range(combo.count())] != texts:
        combo.clear()
        combo.addItems(texts)
    combo.setCurrentIndex(index)
