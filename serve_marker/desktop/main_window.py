"""The window: four steps along the top, the picture, and everything wired to one workspace."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, cast

from PySide6.QtCore import QByteArray, QSettings, Qt
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QResizeEvent
from PySide6.QtWidgets import QMainWindow, QMenuBar, QStackedWidget, QVBoxLayout, QWidget

from serve_marker.desktop.dialogs.buttons import let_enter_press
from serve_marker.desktop.dialogs.capture_rate import CaptureRate
from serve_marker.desktop.dialogs.frame_memory import FrameMemory
from serve_marker.desktop.dialogs.messages import MessagesDialog
from serve_marker.desktop.dialogs.shortcut_card import ShortcutsDialog
from serve_marker.desktop.film.missing_film import MissingFilm
from serve_marker.desktop.film_actions import FilmActions
from serve_marker.desktop.film_page import FilmPage
from serve_marker.desktop.garbage import GarbageCollection
from serve_marker.desktop.guide_window import GuideWindow
from serve_marker.desktop.header import Header
from serve_marker.desktop.jump_on import JumpOn
from serve_marker.desktop.keeping_actions import KeepingActions
from serve_marker.desktop.logbook_actions import LogbookActions
from serve_marker.desktop.mark.passer_actions import PasserActions
from serve_marker.desktop.menus_and_shortcuts import (
    FOR_SHOWN_PROPOSAL,
    PICTURE,
    STEP_OF_MENU,
    key_groups,
    make_actions,
    name_undone,
    window_actions,
)
from serve_marker.desktop.moving_actions import MovingActions
from serve_marker.desktop.recent_files import RecentFiles
from serve_marker.desktop.session.clip_loader import ClipLoader
from serve_marker.desktop.session.error_reports import error_report, error_sentence
from serve_marker.desktop.session.film_watch import FilmWatch
from serve_marker.desktop.session.plan_follower import PlanFollower
from serve_marker.desktop.session.rally_editor import RallyEditor
from serve_marker.desktop.session.serve_editor import ServeEditor
from serve_marker.desktop.session.show_errors import show_errors
from serve_marker.desktop.session.view_editor import ViewEditor
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.desktop.start_page import StartPage
from serve_marker.desktop.widgets.error_notice import ErrorNotice
from serve_marker.desktop.widgets.notification import Notification
from serve_marker.desktop.window_looks import WindowLooks
from serve_marker.errors import UserError
from serve_marker.study.sentences import date_words

if TYPE_CHECKING:
    from serve_marker.report.overlay_items import DisplayList
    from serve_marker.video.glance import Glance

FILM_STEPS = ("setup", "mark")
GEOMETRY = "window"


class MainWindow(QMainWindow):
    """The one window. ``workspace`` holds all state; the window only lays out and wires."""

    def __init__(self, settings: QSettings) -> None:
        super().__init__()
        self._garbage = GarbageCollection(self)
        self.setWindowTitle("Serve Marker")
        self.resize(1280, 720)
        self._settings = settings
        self._looks = WindowLooks(settings)
        self.restoreGeometry(cast("QByteArray", settings.value(GEOMETRY, QByteArray(), QByteArray)))
        self.setAcceptDrops(True)
        self.workspace = Workspace(self)
        self.step = "setup"
        self._guide: GuideWindow | None = None
        marking, making = ServeEditor(self.workspace), ViewEditor(self.workspace)
        self._recent = RecentFiles(settings)
        self.opening = ClipLoader(self.workspace, settings)
        self.page = FilmPage(self.workspace, marking, making)
        self.start = StartPage()
        self.books = LogbookActions(self, self.workspace, self.opening, making, self._recent)
        self.keeping = KeepingActions(self, self.workspace, self.books, self._recent)
        self.moving = MovingActions(self, self.workspace, self.books, self.opening)
        self._plan = PlanFollower(self.workspace)
        passers, filmed_at = PasserActions(self, self.workspace), CaptureRate(self, self.workspace)
        memory = FrameMemory(self, self.workspace, settings, self.page.frames)
        jump_on = JumpOn(self.workspace, settings)
        self._film = film = FilmActions(self.workspace, self.page, marking, making, passers, filmed_at, jump_on)
        menu_bar = QMenuBar()
        self.header = Header(menu_bar)
        self._stack = QStackedWidget()
        self._stack.addWidget(self.start)
        self._stack.addWidget(self.page)
        self._panes: dict[str, QWidget] = {}
        self._message = Notification(self)
        self.error = ErrorNotice(self)
        self.missing = MissingFilm(self.page.stage)
        self._film_watch = FilmWatch(self.workspace)
        rally = RallyEditor(self.workspace)
        books = self.books, self.keeping, self.moving
        parts = self.page, marking, rally, film, *books, passers, filmed_at, memory, jump_on, self._looks
        self.specs = window_actions(self, self.workspace, *parts)
        self.actions_by_id = make_actions(
            self.specs,
            self,
            menu_bar,
            self.page.stage,
            (self.page.chips, self.page.list),
            lambda handler: show_errors(self.workspace, self.page.review.counted(handler)),
        )
        self.page.set_actions(self.actions_by_id)
        self._looks.show_in(self, self.actions_by_id)
        name_undone(self.actions_by_id["undo"], self.actions_by_id["redo"], self.workspace.history.stack)
        self._lay_out()
        self._connect()
        self._show_open()

    def _lay_out(self) -> None:
        centre = QWidget()
        layout = QVBoxLayout(centre)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.header)
        layout.addWidget(self._stack, 1)
        self.setCentralWidget(centre)
        let_enter_press(centre)

    def _connect(self) -> None:
        workspace, guard = self.workspace, show_errors
        workspace.message.connect(self.say)
        workspace.history.clip_asked.connect(guard(workspace, self._show_clip))
        workspace.history.film_asked.connect(self._show_film)
        workspace.logbook_changed.connect(self._show_open)
        workspace.practice_changed.connect(self._show_open)
        workspace.clip_changed.connect(self._clip_changed)
        workspace.serve_shown.connect(guard(workspace, self._serve_shown))
        self.opening.opened.connect(self._clip_opened)
        self.opening.glanced.connect(self._show_glance)
        self.opening.progressed.connect(self.page.loading.set_progress)
        self.opening.settled.connect(self._opening_settled)
        self._film_watch.told.connect(lambda words: self.missing.tell(words, in_middle=workspace.clip is None))
        self.missing.find_asked.connect(guard(workspace, self.books.find_clip))
        self.page.stage.resized.connect(self.missing.place)
        self.books.previewed.connect(self._preview)
        self.books.leaving.connect(self._keep_card)
        self.header.step_picked.connect(guard(workspace, self.go_to_step))
        self.start.clip_asked.connect(guard(workspace, self.books.add_clip))
        self.start.logbook_asked.connect(guard(workspace, self.books.open_logbook))
        self.start.new_asked.connect(guard(workspace, self.books.new_logbook))
        self.start.recent_chosen.connect(guard(workspace, lambda path: self.books.open_logbook_at(Path(path))))
        for changed in (self.page.review.changed, workspace.view_changed, workspace.clip_changed):
            changed.connect(self._offer_finding)
        self.page.checking.taken_over.connect(self._clip_opened)
        setup = self.page.setup_pane
        setup.measures_asked.connect(guard(workspace, self.books.edit_court))
        setup.stored_view_asked.connect(guard(workspace, self.books.choose_view))
        setup.landmark_chosen.connect(lambda _name: self.page.refresh_items())

    # What the window itself does

    def go_to_step(self, step: str) -> None:
        """Show one of the four steps; what was said about another one goes."""
        if step != self.step:
            self.say("")
        self.step = step
        self.page.player.pause()
        if step != "mark":
            self.page.review.end()
        if step in FILM_STEPS:
            self.page.show_step(step)
            has_film = self.workspace.clip_entry is not None
            self._stack.setCurrentWidget(self.page if has_film else self.start)
            if has_film:
                self.page.focus_picture()
            else:
                self.start.setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self._stack.setCurrentWidget(self._pane(step))
        self.header.show_step(step)
        self._show_title()
        for spec in self.specs:
            if spec.where == PICTURE or spec.menu == "Set up":
                own_step = STEP_OF_MENU.get(spec.menu)
                one_step = own_step is not None and spec.where == PICTURE
                self.actions_by_id[spec.id].setEnabled(step == own_step if one_step else step in FILM_STEPS)
        self._offer_finding()

    def _offer_finding(self) -> None:
        """Offer a search where the view can follow a ball, and answers while there is a proposal to answer."""
        page, actions = self.page, self.actions_by_id
        actions["find_serves"].setEnabled(self.step in FILM_STEPS and not page.finder.why_not)
        actions["stop_finding"].setEnabled(page.finder.busy)
        for action_id in FOR_SHOWN_PROPOSAL:
            actions[action_id].setEnabled(self.step == "mark" and page.review.shown is not None)

    def find_serves(self) -> None:
        """Find and review serves, in the Mark step."""
        if self.step != "mark":
            self.go_to_step("mark")
        self._film.find_serves()

    def focus_picture(self) -> None:
        """Bring the keys back to the picture; there already, hide the serve list, or else leave review and serve."""
        if self.step in FILM_STEPS:
            if self.page.picture.hasFocus() and self.page.list.isVisible():
                self.page.toggle_list()
            elif self.page.picture.hasFocus():
                self.page.review.end()
                self.workspace.leave_chosen()
                self.page.magnifier.leave()
            self.page.focus_picture()

    def show_list(self) -> None:
        """Show or hide the serve list."""
        if self.step not in FILM_STEPS:
            self.go_to_step("mark")
        self.page.toggle_list()

    def show_guide(self) -> None:
        """Show the guide beside the window."""
        self._guide = self._guide or GuideWindow(self)
        self._guide.open()

    def show_keys(self) -> None:
        """Show the card of all keys."""
        card = ShortcutsDialog(key_groups(self.specs), self.say, self)
        card.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        card.open()

    def show_messages(self) -> None:
        """Show again what the window has said."""
        MessagesDialog(self._message.said, self).open()

    def say(self, text: str) -> None:
        """Show a sentence until it has been read."""
        self._message.say(text, over_picture=self.step in FILM_STEPS)

    def report_error(self, error: BaseException) -> None:
        """Say what nobody expected, with a report to copy; a UserError is a sentence like any other."""
        if isinstance(error, UserError):
            self.say(str(error))
        else:
            names = [player.name for player in self.workspace.players.values()]
            self.error.tell(error_sentence(error), error_report(error, names))

    def open_at_start(self, path: Path | None = None) -> None:
        """Open the logbook named on the command line, else the last one, where that is still there."""
        last = self._recent.last()
        if path is not None or (last is not None and last.is_file()):
            show_errors(self.workspace, self.books.open_logbook_at)(path or last)

    @property
    def busy(self) -> bool:
        """Whether a picture or an answer is still expected."""
        waiting = self.workspace.clip is not None and self.page.frames.shown_index != self.workspace.frame
        return waiting or self.page.sound.busy or any(getattr(pane, "busy", False) for pane in self._panes.values())

    def _pane(self, step: str) -> QWidget:
        if step not in self._panes:
            if step == "study":
                from serve_marker.desktop.study.pane import StudyPane

                self._panes[step] = StudyPane(self.workspace)
            else:
                from serve_marker.desktop.share.pane import SharePane

                self._panes[step] = SharePane(self.workspace)
            self._stack.addWidget(self._panes[step])
            let_enter_press(self._panes[step])
        return self._panes[step]

    def _show_title(self) -> None:
        """Name the team, and the practice that is shown; Study's filters say of which practices it tells."""
        book, practice = self.workspace.logbook, self.workspace.practice
        parts = [book.team or book.path.stem] if book else []
        if practice is not None and self.step != "study":
            parts += [practice.name, date_words(practice.date)]
        self.header.title.setText("  /  ".join(parts))

    def _show_open(self) -> None:
        workspace = self.workspace
        book = workspace.logbook
        self._show_title()
        last = self._recent.last()
        missing = last.name if last is not None and not last.is_file() else ""
        self.start.show_state(book.path.name if book else "", self._recent.logbooks(), missing)
        if workspace.clip_entry is None:
            self.go_to_step(self.step)

    def _keep_card(self) -> None:
        """Keep what the start shows of the logbook that is being left."""
        book, practice, clip = self.workspace.logbook, self.workspace.practice, self.workspace.clip
        if book is not None and practice is not None and clip is not None and self.page.picture.has_frame:
            picture = self.page.picture.grab().toImage()
            self._recent.keep_card(book.path, date_words(practice.date), picture, clip.path)

    def _clip_changed(self) -> None:
        if self.workspace.clip_entry is None and self.step in FILM_STEPS:
            self._stack.setCurrentWidget(self.start)

    def _show_glance(self, glance: Glance) -> None:
        self.page.player.pause()
        self.page.loading.show_preview(glance)
        if self.step in FILM_STEPS:
            self._stack.setCurrentWidget(self.page)

    def _opening_settled(self) -> None:
        self.page.loading.hide_preview()
        self._clip_changed()

    def _clip_opened(self) -> None:
        if self.step in FILM_STEPS:
            self.go_to_step("mark" if self.workspace.view is not None else "setup")

    def _show_clip(self, clip_id: str, then: Callable[[], None]) -> None:
        """Bring a clip into sight before something is done to it."""
        self._show_film()
        entry = next(entry for entry in self.workspace.book().clips() if entry.id == clip_id)
        self.opening.show(entry, then)

    def _show_film(self) -> None:
        if self.step not in FILM_STEPS:
            self.go_to_step("mark")

    def _serve_shown(self, serve_id: str) -> None:
        if self.workspace.clip_entry is None or all(serve.id != serve_id for serve in self.workspace.serves):
            book = self.workspace.book()
            clip_ids = [serve.clip_id for serve in book.serves(serve_id=serve_id)]
            entry = next((entry for entry in book.clips() if entry.id in clip_ids), None)
            if entry is None:
                raise UserError("This serve is no longer in the logbook.")
            self.opening.show(entry, then=lambda: self.workspace.go_to_serve(serve_id))
        if self.step != "mark":
            self.go_to_step("mark")

    def _preview(self, items: DisplayList | None) -> None:
        if items is None:
            self.page.refresh_items()
        else:
            self.page.picture.set_items(items)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._looks.fit(event.size())

    # Files dropped, and the end

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        if paths:
            event.acceptProposedAction()
            show_errors(self.workspace, self.books.take)(*paths)

    def closeEvent(self, event: QCloseEvent) -> None:
        if self._guide is not None:
            self._guide.close()
        self._settings.setValue(GEOMETRY, self.saveGeometry())
        self._keep_card()
        for worker in self.findChildren(Worker):
            worker.stop()
        self.page.close_workers()
        self.opening.close()
        for pane in self._panes.values():
            close_workers = getattr(pane, "close_workers", None)
            if close_workers is not None:
                close_workers()
        self.workspace.close()
        self.keeping.close()
        self.moving.close()
        self._garbage.close()
        super().closeEvent(event)
