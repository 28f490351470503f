"""The film with everything around it: picture, right column, time bar, chips and the serve list.

Set up and Mark share it, so that the picture stays where it is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import QEvent, QSignalBlocker, Qt, Signal
from PySide6.QtGui import QAction, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from serve_marker.desktop.film.frame_view import NO_PICTURE, FrameView
from serve_marker.desktop.film.loading_overlay import LoadingOverlay
from serve_marker.desktop.film.loudness_strip import LoudnessStrip
from serve_marker.desktop.film.magnifier import Magnifier
from serve_marker.desktop.film.play_buttons import PlayButtons
from serve_marker.desktop.film.question_bar import QuestionBar
from serve_marker.desktop.film.serve_strip import ServeChip, ServeStrip
from serve_marker.desktop.film.serve_table import ServeTable, serve_row
from serve_marker.desktop.film.timeline import Timeline
from serve_marker.desktop.mark.pane import MarkPane
from serve_marker.desktop.mark.proposal_review import ProposalReview
from serve_marker.desktop.mark.review_bar import ReviewBar
from serve_marker.desktop.session.aim_choices import aims_on
from serve_marker.desktop.session.ball_finder import BallFinder
from serve_marker.desktop.session.damage_search import DamageSearch
from serve_marker.desktop.session.frame_loader import Frame, FrameLoader
from serve_marker.desktop.session.judgements import Judgements
from serve_marker.desktop.session.playback import Playback
from serve_marker.desktop.session.proposal_editor import ProposalEditor
from serve_marker.desktop.session.serve_editor import ServeEditor
from serve_marker.desktop.session.serve_finder import ServeFinder
from serve_marker.desktop.session.serve_marks import marked_moments_s
from serve_marker.desktop.session.serve_paces import paces_of
from serve_marker.desktop.session.serving_order import next_server_words
from serve_marker.desktop.session.show_errors import show_errors
from serve_marker.desktop.session.touch_finder import TouchFinder
from serve_marker.desktop.session.view_editor import ViewEditor
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.desktop.setup.click_exercise import ClickExercise
from serve_marker.desktop.setup.pane import SetupPane, view_items
from serve_marker.desktop.setup.reference_picture import ReferencePicture
from serve_marker.desktop.setup.snapping import Snapping
from serve_marker.desktop.setup.view_check_worker import ViewCheck
from serve_marker.desktop.setup.view_sentences import comparing_words
from serve_marker.desktop.widgets.scrolled import Scrolled
from serve_marker.desktop.widgets.text_sizes import pixels
from serve_marker.errors import UserError
from serve_marker.logbook.records import Serve
from serve_marker.report.overlay_items import Pixel
from serve_marker.video.clip_warnings import FrameRange

LOOK_WORDS = (
    "Do the drawn lines match the floor?",
    "Answer above. After a no, mark four landmarks.",
)
RIGHT_COLUMN = (294, 480)
RIGHT_SHARE, MOST_RIGHT_SHARE = 0.2, 0.4
SOUND_STRIP = (20, 44)
SOUND_SHARE = 0.03
LIST_HEIGHT = 230
TREMBLE = 6
"""A pointer that moved less than this on the screen has not moved on."""


class Stage(QWidget):
    """Holds the picture; digits typed on it are shirt numbers."""

    digit_typed = Signal(str)
    resized = Signal()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.resized.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.text().isdigit() and not event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            self.digit_typed.emit(event.text())
        else:
            super().keyPressEvent(event)


class FilmPage(QWidget):
    """Everything that shows the film; what clicks mean is decided by ``film_actions``."""

    def __init__(self, workspace: Workspace, marking: ServeEditor, making: ViewEditor) -> None:
        super().__init__()
        self._workspace = workspace
        self._marking = marking
        self._making = making
        self.step = "setup"
        self.judgements = Judgements(workspace, marking)
        self.player = Playback(workspace)
        self.frames = FrameLoader(self)
        self.stage = Stage()
        self.picture = FrameView(self.stage)
        self.magnifier = Magnifier(self.picture)
        self.mark_pane = MarkPane(workspace, marking, self.judgements)
        self.setup_pane = SetupPane(workspace, making)
        self.snapping = Snapping(workspace, making, self.frames.full_frame)
        self.exercise = ClickExercise(workspace, making)
        self.background = ReferencePicture(workspace)
        self.checking = ViewCheck(workspace, making)
        self.question = QuestionBar(self.stage)
        self.right = QStackedWidget()
        self.column = Scrolled(self.right)
        self.loading = LoadingOverlay(self.stage)
        self.play_buttons = PlayButtons(self.player)
        self.time_bar = Timeline()
        self.sound = LoudnessStrip(self.time_bar.x_of_time)
        self.damage = DamageSearch(workspace)
        self.touches = TouchFinder(workspace)
        self.ball = BallFinder(workspace)
        self.finder = ServeFinder(workspace)
        proposals = ProposalEditor(workspace, marking)
        self.review = ProposalReview(workspace, proposals, self.finder, self.judgements, self.player)
        self.review_bar = ReviewBar(self.stage, self.review, self.finder)
        self.chips = ServeStrip()
        self.list = ServeTable(self)
        self._drawn_for: tuple[bool, Serve | None] = (False, None)
        self._marked_at_px: Pixel | None = None
        self._doubted: Callable[[], object] | None = None
        self._fitted_for: object = None
        self._lay_out()
        self._connect()
        self.show_step("setup")

    def _lay_out(self) -> None:
        stage = QVBoxLayout(self.stage)
        stage.setContentsMargins(0, 0, 0, 0)
        stage.addWidget(self.picture)
        self.list.hide()
        self.right.addWidget(self.setup_pane)
        self.right.addWidget(self.mark_pane)
        upper = QHBoxLayout()
        upper.setSpacing(0)
        upper.addWidget(self.stage, 1)
        upper.addWidget(self.column)
        over_time = QVBoxLayout()
        over_time.addWidget(self.time_bar)
        over_time.addWidget(self.sound)
        beside = QHBoxLayout()
        beside.addWidget(self.play_buttons)
        beside.addLayout(over_time, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addLayout(upper, 1)
        layout.addLayout(beside)
        layout.addWidget(self.chips)

    def set_actions(self, actions: Mapping[str, QAction]) -> None:
        """Let the buttons of the page stand for these actions of the window, by id."""
        self.play_buttons.set_actions(actions)
        self.mark_pane.outcomes.set_actions(actions)
        self.review_bar.set_actions(actions)

    def _connect(self) -> None:
        workspace, marking = self._workspace, self._marking
        workspace.clip_changed.connect(self._clip_changed)
        workspace.frame_changed.connect(self._frame_changed)
        workspace.serves_changed.connect(self._serves_changed)
        workspace.view_changed.connect(self.refresh_items)
        workspace.turn_changed.connect(self.refresh_items)
        workspace.selection_changed.connect(self._selection_changed)
        for changed in (workspace.serves_changed, workspace.selection_changed):
            changed.connect(lambda: self.ask(""))
        self.review.changed.connect(self._show_proposals)
        self.picture.clicked.connect(self.review.count)
        self.frames.frame_ready.connect(self._frame_arrived)
        self.snapping.changed.connect(self.refresh_items)
        self.snapping.looking.connect(self.setup_pane.set_looking)
        self.exercise.changed.connect(self._show_exercise)
        self.checking.changed.connect(self._show_question)
        self.question.answered.connect(show_errors(workspace, self.answer))
        self.question.show_asked.connect(show_errors(workspace, self.checking.show_moved))
        self.frames.failed.connect(self._frame_failed)
        self.picture.zoom_changed.connect(self._ask_for_frame)
        self.picture.hovered.connect(self._hovered)
        self.picture.left.connect(self._pointer_left)
        self.time_bar.seek.connect(workspace.set_frame)
        self.time_bar.let_go.connect(self._ask_for_frame)
        self.sound.seek.connect(self._seek_time)
        self.damage.found.connect(self._show_damage)
        self.damage.progressed.connect(self._tell_search)
        workspace.view_changed.connect(self._show_rate)
        self.chips.chosen.connect(show_errors(workspace, workspace.go_to_serve))
        self.chips.selection_changed.connect(workspace.select)
        self.list.selection_changed.connect(workspace.select)
        workspace.turn_changed.connect(self._offer_servers)
        self.list.edited.connect(show_errors(workspace, marking.edit))
        self.list.chosen.connect(show_errors(workspace, workspace.go_to_serve))
        self.stage.digit_typed.connect(self._digit)
        self.stage.resized.connect(self._place_over)
        self.mark_pane.turn.finished.connect(self.focus_picture)

    def show_step(self, step: str) -> None:
        """Show the right column of Set up or Mark."""
        self.step = step
        self.ask("")
        self.snapping.pause(step != "setup")
        if step == "mark":
            self.checking.marking_begins()
        self.review_bar.show_in(step)
        self.right.setCurrentWidget(self.mark_pane if step == "mark" else self.setup_pane)
        self.refresh_items()

    def focus_picture(self) -> None:
        """Bring the keys back to the picture."""
        self.picture.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def toggle_list(self) -> None:
        """Show or hide the serve list over the lower part of the picture."""
        self.list.setVisible(not self.list.isVisible())
        self._place_over()
        if self.list.isVisible():
            self.list.raise_()
            self.list.setFocus(Qt.FocusReason.ShortcutFocusReason)
        else:
            self.focus_picture()

    def close_workers(self) -> None:
        """Join the threads."""
        self.player.pause()
        self.damage.close()
        self.touches.close()
        self.ball.close()
        self.finder.close()
        self.sound.close_worker()
        self.frames.close()
        self.setup_pane.advice.close()
        self.snapping.close()
        self.checking.close()
        self.background.close()

    def refresh_items(self) -> None:
        """Draw again what lies over the picture."""
        self._drawn_for = self._drawn_now()
        proposed = self.checking.proposed()
        lines = None if proposed is None else view_items(proposed)
        if self.step == "mark":
            self._show_marks()
            self.picture.set_items((*self.judgements.picture_items(lines), *self.review.items()))
        elif lines is not None:
            self.picture.set_marks({})
            self.picture.set_items(lines)
        elif self.exercise.running:
            self.picture.set_marks({})
            self.picture.set_items(self.exercise.items())
        else:
            self.picture.set_items((*self.setup_pane.items(), *self.snapping.items()))
            self.picture.set_marks(self._making.marked(), self.setup_pane.next_landmark())

    def _show_proposals(self) -> None:
        """Draw the proposal shown, say where it landed, and stand those that wait on the time bar."""
        self._show_meant()
        waiting = [one.serve.landing.time_s for one in self.review.waiting() if one.serve.landing is not None]
        self.time_bar.set_proposed(waiting)
        self.refresh_items()

    def _show_meant(self) -> None:
        if (meant := self.review.meant()) is not None:
            self.mark_pane.show_serve(meant)

    def _pointer_left(self) -> None:
        self.mark_pane.point_away()
        self._show_meant()

    def _drawn_now(self) -> tuple[bool, Serve | None]:
        """What is drawn on some frames and not on others: the offered place, and the serve told in full."""
        return self._marking.offered_place() is not None, self.judgements.told_in_full

    def _show_marks(self) -> None:
        """Show the marks of serves that can be dragged on this frame."""
        self.picture.set_marks(self._marking.draggable_marks(), choosable=False)

    def _show_exercise(self) -> None:
        self.setup_pane.set_task(self.exercise.words if self.exercise.running else "")
        self.refresh_items()

    def ask(self, words: str, enter: Callable[[], object] | None = None) -> None:
        """Ask whether to enter what is doubtful on the frame shown; no words take that question away unanswered."""
        if enter is self._doubted:
            return
        self._doubted = enter
        if enter is None:
            self._show_question()
        else:
            self.question.ask(words, "Yes, enter it", "No")

    def undo(self) -> None:
        """Take the last step back; a mark that is still asked about is none, so that alone is not entered."""
        if self._doubted is None:
            self._workspace.history.undo()
        else:
            self.answer(False)
            self._workspace.message.emit("Not entered.")

    def answer(self, yes: bool) -> None:
        """Answer the question that is open, or the one about the court."""
        doubted, court_is = self._doubted, self.setup_pane.court_is
        if doubted is not None:
            self.ask("")
            if yes:
                doubted()
        elif yes and self.checking.question is None and court_is.isVisible():
            court_is.click()
        elif yes:
            self.checking.say_yes()
        else:
            self.checking.say_no()

    def _show_question(self) -> None:
        question = self.checking.question
        proposed = question is not None and question.proposal is not None
        if proposed and question is not self._fitted_for:
            self.picture.fit()
        self._fitted_for = question
        self.setup_pane.set_task(*(LOOK_WORDS if proposed else comparing_words(self.checking.comparing)))
        if self._doubted is not None:
            return
        if question is None:
            self.question.ask(None)
        elif question.proposal is None:
            self.question.ask(question.words, "", "I see")
        else:
            self.question.ask(question.words, "Yes, they do", "No", self.checking.moved_s is not None)
        self.refresh_items()

    def _clip_changed(self) -> None:
        workspace = self._workspace
        clip = workspace.clip
        self.frames.open(clip)
        self.magnifier.set_frame(None)
        self.time_bar.set_clip(clip.times_s if clip else [])
        self.sound.listen(clip)
        self.picture.set_frame(None)
        entry = workspace.clip_entry
        self.picture.say_instead("" if clip is None and entry is not None else NO_PICTURE)
        self._frame_changed(workspace.frame)

    def _frame_changed(self, index: int) -> None:
        self.ask("")
        self.picture.rest_cross_hair()
        self.time_bar.set_position(index)
        if self._workspace.clip is not None:
            self.sound.set_position(self._workspace.clip.time_s(index))
        self._ask_for_frame()
        if self.checking.question is not None or self._drawn_now() != self._drawn_for:
            self.refresh_items()
        elif self.step == "mark":
            self._show_marks()

    def _ask_for_frame(self) -> None:
        if self._workspace.clip is not None:
            self.frames.request(self._workspace.frame, self.picture.wanted_size(), self.time_bar.dragging)

    def _seek_time(self, time_s: float) -> None:
        if self._workspace.clip is not None:
            self.player.pause()
            self._workspace.set_frame(self._workspace.clip.frame_at(time_s))

    def _show_rate(self) -> None:
        self.time_bar.set_time_scale(self._workspace.time_scale)
        self.sound.set_time_scale(self._workspace.time_scale)

    def _show_damage(self, found: tuple[FrameRange, ...], sentence: str) -> None:
        self.time_bar.set_damaged([(part.first, part.last) for part in found])
        self._workspace.message.emit(sentence)

    def _tell_search(self, thousandths: int) -> None:
        self.time_bar.set_remark(f"searching for damage, {thousandths // 10} %" if thousandths < 1000 else "")

    def _frame_arrived(self, index: int, frame: Frame) -> None:
        clip = self._workspace.clip
        if clip is None:
            return
        self.picture.set_frame(frame, (clip.width, clip.height), clip.pixel_aspect)
        self.magnifier.set_frame(self.frames.full_frame())
        self.snapping.measure()

    @property
    def shown_index(self) -> int | None:
        """The frame on the screen, None while there is none or another clip is being opened."""
        return self.frames.shown_index if self.picture.has_frame and self.loading.isHidden() else None

    def _frame_failed(self, error: BaseException) -> None:
        self.picture.set_frame(None)
        self.magnifier.set_frame(None)
        if not isinstance(error, UserError):
            raise error
        self._workspace.message.emit(str(error))

    def show_marked(self, serve_id: str) -> None:
        """Show a serve just marked on the panel until the pointer moves on."""
        self._marked_at_px = self.picture.cursor_px
        self.mark_pane.show_marked(serve_id)

    def _trembles(self, x_px: float, y_px: float) -> bool:
        """Whether the pointer is still where it was when a serve was marked."""
        if self._marked_at_px is not None and self._is_near(self._marked_at_px, (x_px, y_px)):
            return True
        self._marked_at_px = None
        return False

    def _landed_under(self, x_px: float, y_px: float) -> str | None:
        """The id of the serve whose landing is told beside its mark, where the pointer is on that mark on its frame."""
        chosen, now_s = self._workspace.selected_serves(), self._workspace.now_s
        mark = chosen[0].landing if len(chosen) == 1 else None
        if mark is None or mark.pixel is None or mark.time_s != now_s or not self._is_near(mark.pixel, (x_px, y_px)):
            return None
        return chosen[0].id

    def _is_near(self, one_px: Pixel, other_px: Pixel) -> bool:
        """Whether two places of the film are the same to a hand that trembles."""
        one, other = (self.picture.film_to_widget(*place) for place in (one_px, other_px))
        return (other - one).manhattanLength() < TREMBLE

    def _hovered(self, x_px: float, y_px: float) -> None:
        if self.step != "mark" or self._trembles(x_px, y_px):
            return
        if (landed_id := self._landed_under(x_px, y_px)) is not None:
            self.mark_pane.show_marked(landed_id)
            return
        self.mark_pane.point_at(x_px, y_px)

    def _serves_changed(self) -> None:
        serves = self._workspace.serves
        self.sound.set_marked(*marked_moments_s(serves))
        words = {serve.id: self.judgements.words(serve) for serve in serves}
        with QSignalBlocker(self.chips):
            self.chips.set_chips(
                [ServeChip(s.id, self.judgements.shape(s), self._number(s), words[s.id]) for s in serves]
            )
        self.time_bar.set_ticks(
            [(s.moment_s, self.judgements.shape(s), words[s.id]) for s in serves if s.moment_s is not None]
        )
        with QSignalBlocker(self.list):
            of = self.judgements
            scale, players = self._workspace.time_scale, self._workspace.players
            paces = paces_of(serves, self._workspace)
            self.list.set_rows(
                [serve_row(one, of.of(one), of.shape(one), players, scale, paces.get(one.id)) for one in serves]
            )
        self._selection_changed()

    def _offer_servers(self) -> None:
        self.list.set_choices("aim", aims_on(self._workspace.court.name))
        players = ("", *map(next_server_words, self._workspace.players.values()))
        self.list.set_choices("server", players)
        self.list.set_choices("passer", players)

    def _selection_changed(self) -> None:
        selection = self._workspace.selection
        just_marked = len(selection) == 1 and self._workspace.chosen is None
        with QSignalBlocker(self.chips):
            self.chips.select(() if just_marked else selection)
        if len(selection) == 1:
            self.chips.set_current(selection[0])
            with QSignalBlocker(self.list):
                self.list.set_current(selection[0])
        if self._workspace.chosen is not None:
            self.show_marked(selection[0])
        self.refresh_items()

    def _number(self, serve: Serve) -> str:
        player = self._workspace.players.get(serve.player_id or "")
        if player is None:
            return "?"
        return str(player.number) if player.number is not None else player.name

    def _digit(self, digit: str) -> None:
        if self.step == "mark":
            self.mark_pane.turn.type_number(digit)

    def event(self, event: QEvent) -> bool:
        taken = super().event(event)
        if event.type() in (QEvent.Type.Resize, QEvent.Type.Show, QEvent.Type.FontChange):
            self._share_room()
        return taken

    def _share_room(self) -> None:
        narrowest, widest = map(pixels, RIGHT_COLUMN)
        wanted = min(max(narrowest, round(self.width() * RIGHT_SHARE)), widest)
        self.column.setFixedWidth(min(wanted, round(self.width() * MOST_RIGHT_SHARE)))
        lowest, highest = map(pixels, SOUND_STRIP)
        self.sound.setFixedHeight(min(max(lowest, round(self.height() * SOUND_SHARE)), highest))
        self._place_over()

    def _place_over(self) -> None:
        self.loading.setGeometry(self.stage.rect())
        self.question.place()
        self.review_bar.place()
        room = self.stage.geometry()
        top = max(room.bottom() - pixels(LIST_HEIGHT), room.top())
        self.list.setGeometry(room.left() + 12, top, max(room.width() - 24, 100), pixels(LIST_HEIGHT) - 8)
