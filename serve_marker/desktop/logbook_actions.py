"""What the menus do to the logbook, its practices, players and courts. Dialogs never block the window's loop."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QDate, QObject, QStandardPaths, Qt, Signal
from PySide6.QtWidgets import QDialog, QFileDialog, QWidget

from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.desktop.dialogs.clip_choice import ClipChoice
from serve_marker.desktop.dialogs.confirmation import Confirmation
from serve_marker.desktop.dialogs.court_measures import AreaBordersDialog, CourtMeasuresDialog
from serve_marker.desktop.dialogs.file_dialog import file_dialog
from serve_marker.desktop.dialogs.ladder_steps import LadderStepsDialog
from serve_marker.desktop.dialogs.practice import PracticeDialog
from serve_marker.desktop.dialogs.practice_of_clips import PracticeOfClips
from serve_marker.desktop.dialogs.practice_plan import PracticePlanDialog
from serve_marker.desktop.dialogs.roster import RosterDialog, SeasonDialog
from serve_marker.desktop.dialogs.tallies import TalliesDialog
from serve_marker.desktop.dialogs.trial import TrialDialog
from serve_marker.desktop.recent_files import RecentFiles
from serve_marker.desktop.session.clip_editor import ClipEditor, clips_words
from serve_marker.desktop.session.clip_loader import ClipLoader
from serve_marker.desktop.session.edits import ChangeRecords
from serve_marker.desktop.session.practice_editor import PracticeEditor
from serve_marker.desktop.session.roster_editor import RosterEditor
from serve_marker.desktop.session.show_errors import show_errors
from serve_marker.desktop.session.view_editor import ViewEditor
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.desktop.setup.stored_view_dialog import StoredViewDialog
from serve_marker.errors import DamagedLogbookError, UserError
from serve_marker.logbook.clip_places import is_network_path
from serve_marker.logbook.file_name_order import by_name
from serve_marker.logbook.records import ClipEntry, PlanBlock, StoredView, Trial
from serve_marker.logbook.serve_counts import serves_per_clip
from serve_marker.printable import quoted_name
from serve_marker.report.overlay_items import DisplayList, court_overlay
from serve_marker.report.sheets import read_report_data_without_flights
from serve_marker.study.climb import climbs
from serve_marker.study.ladder import LADDER_SETTING, ladder_of, ladder_text, usual_ladder
from serve_marker.study.plan import suggested_blocks
from serve_marker.study.sentences import count_words, date_words
from serve_marker.study.settings import settings_of
from serve_marker.study.trial import TrialResult, trial_result

LOGBOOKS = "Logbooks (*.logbook)"
CLIP_FILES = "Clips (*.mp4 *.mov *.m4v *.mkv *.avi *.webm *.mts *.3gp);;All files (*)"


class LogbookActions(QObject):
    """Handlers of the actions that open files and dialogs; ``leaving`` is sent before another logbook is opened."""

    previewed = Signal(object)
    leaving = Signal()
    damaged = Signal(object, str)

    def __init__(
        self, window: QWidget, workspace: Workspace, opening: ClipLoader, making: ViewEditor, recent: RecentFiles
    ) -> None:
        super().__init__(window)
        self._window = window
        self._workspace = workspace
        self._editor = PracticeEditor(workspace)
        self._roster = RosterEditor(workspace)
        self._clips = ClipEditor(workspace)
        self._opening = opening
        self._making = making
        self._recent = recent
        opening.practice_asked.connect(self.ask_practice)
        opening.folder_asked.connect(self.ask_folder)
        workspace.clip_removed.connect(show_errors(workspace, self._show_next_clip))

    def new_logbook(self, then: Callable[[], None] | None = None) -> None:
        """Ask for one file name and make a logbook there."""

        def make(text: str) -> None:
            path = Path(text if text.lower().endswith(".logbook") else f"{text}.logbook")
            self.leaving.emit()
            self._workspace.new_logbook(path, path.stem)
            self._recent.add(path)
            if then is not None:
                then()

        dialog = self._file_dialog("Where should your logbook be kept?", LOGBOOKS)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("logbook")
        dialog.selectFile("Our team.logbook")
        self._ask(dialog, make)

    def open_logbook(self) -> None:
        """Ask for a logbook and open it."""
        dialog = self._file_dialog("Open a logbook", LOGBOOKS)
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        self._ask(dialog, lambda text: self.open_logbook_at(Path(text)))

    def open_logbook_at(self, path: Path) -> None:
        """Open a logbook and the first clip of its latest practice; ``damaged`` tells of one that is."""
        self.leaving.emit()
        try:
            self._workspace.open_logbook(path)
        except DamagedLogbookError as error:
            self.damaged.emit(path, str(error))
            return
        self._recent.add(path)
        self.show_first_clip()

    def show_first_clip(self) -> None:
        """Open the first clip of the practice shown, where it has any."""
        clips = self._workspace.clips()
        if clips:
            self._opening.show(clips[0])

    def add_clip(self) -> None:
        """Ask for clips, where the last ones were, and take them into the logbook."""
        dialog = self._file_dialog("Choose clips", CLIP_FILES)
        dialog.setFileMode(QFileDialog.FileMode.ExistingFiles)
        if self._recent.clip_folder is not None:
            dialog.setDirectory(str(self._recent.clip_folder))
        dialog.filesSelected.connect(show_errors(self._workspace, lambda texts: self.take(*map(Path, texts))))
        self._open(dialog)

    def take(self, *paths: Path) -> None:
        """Take files dropped or chosen: a logbook is opened, then everything else taken in order as clips."""
        clips = [path for path in paths if path.suffix.lower() != ".logbook"]
        refused: list[str] = []
        for path in paths:
            if path not in clips:
                try:
                    self.open_logbook_at(path)
                except UserError as error:
                    refused.append(str(error))
                    self._workspace.message.emit(" ".join(refused))
        if clips:
            self._recent.keep_clip_folder(clips[0].parent)
        if clips and self._workspace.logbook is None:
            self.new_logbook(then=lambda: self._opening.add(*clips, refused=refused))
        elif clips:
            self._opening.add(*clips, refused=refused)

    def ask_practice(self, days: Mapping[Path, str]) -> None:
        """Ask once to which practice new clips belong; ``days`` are those they were filmed on."""
        distinct = sorted(set(days.values()))
        belong = f"does {next(iter(days)).name}" if len(days) == 1 else f"do {len(days)} clips"
        filmed = date_words(distinct[0]) if len(distinct) == 1 else f"{len(distinct)} days"
        words = f"To which practice {belong} belong? Filmed on {filmed}."
        book = self._workspace.book()
        dialog = PracticeOfClips(words, "Add", distinct, book.practices(), self._workspace.practice, self._window)

        def put_in() -> None:
            practices = dialog.practices_by_day(distinct)
            self._opening.put_in({path: practices[day] for path, day in days.items()})

        dialog.rejected.connect(self._opening.leave_out)
        self._open(dialog, put_in)

    def find_clip(self) -> None:
        """Ask for the folder in which the open clip's file is now."""
        entry = self._workspace.clip_entry
        if entry is None:
            raise UserError("No clip is open; choose one with Practice > Another practice or clip.")
        dialog = self._file_dialog(f"In which folder is {entry.file_name} now?", "")
        self._ask(dialog, lambda text: self._opening.search(entry, Path(text)))

    def edit_practice(self) -> None:
        """Edit the practice's details."""
        practice = self._workspace.practice
        if practice is None:
            raise UserError("There is no practice yet; drop a clip on the window to begin one.")
        book, state = self._workspace.book(), self._workspace.view_state
        if practice.gym_id is None and state is not None and state.gym is not None:
            practice = replace(practice, gym_id=state.gym.id)
        dialog = PracticeDialog(practice, book.gyms(), self._window)

        def keep() -> None:
            gym, edited = dialog.result_records()
            if gym is not None:
                book.put(gym)
            self._editor.put_practice(edited)

        self._open(dialog, keep)

    def choose_clip(self) -> None:
        """Choose another practice or clip."""
        book = self._workspace.book()
        clips = {clip.id: clip for clip in sorted(book.clips(), key=lambda clip: by_name(clip.path))}
        counts = Counter(serves_per_clip(book))
        views = {view.id: view.name for view in book.views()}
        dialog = ClipChoice(book.practices(), list(clips.values()), counts, views, self._window)

        def remove(clip_ids: list[str]) -> None:
            self.remove_clips([clips[key] for key in clip_ids], sum(counts[key] for key in clip_ids))

        dialog.picked.connect(show_errors(self._workspace, lambda clip_id: self._opening.show(clips[clip_id])))
        dialog.move_asked.connect(
            show_errors(self._workspace, lambda clip_ids: self.move_clips([clips[key] for key in clip_ids]))
        )
        dialog.remove_asked.connect(show_errors(self._workspace, remove))
        self._open(dialog)

    def move_clips(self, clips: Sequence[ClipEntry]) -> None:
        """Ask to which practice clips are to go."""
        book = self._workspace.book()
        here = {clip.practice_id for clip in clips}
        day = min(practice.date for practice in book.practices() if practice.id in here)
        others = [practice for practice in book.practices() if {practice.id} != here]
        words = f"To which practice should {clips_words(clips)} go?"
        dialog = PracticeOfClips(words, "Move", [day], others, None, self._window)
        self._open(dialog, lambda: self._clips.move(clips, dialog.practices_by_day([day])[day]))

    def remove_clips(self, clips: Sequence[ClipEntry], serves: int) -> None:
        """Take clips out of the logbook; where they hold serves, ask first."""
        if serves == 0:
            self._clips.remove(clips)
            return
        theirs, files = ("its", "file stays") if len(clips) == 1 else ("their", "files stay")
        held = f"{theirs} {serves} serves" if serves > 1 else f"{theirs} serve"
        words = f"Remove {clips_words(clips)} and {held} from the logbook? The film {files}."
        self._open(Confirmation(words, "Remove", self._window), lambda: self._clips.remove(clips))

    def ask_folder(self, folder: Path) -> None:
        """Ask whether films may be opened in a folder that the logbook names and nobody allowed on this computer."""
        place = "on another computer" if is_network_path(folder) else "outside its own folder"
        words = f"This logbook names films {place}, in {quoted_name(folder)}. Open them there?"
        dialog = Confirmation(words, "Open films", self._window)
        dialog.finished.connect(
            lambda answer: self._opening.answer_folder(folder, allowed=answer == QDialog.DialogCode.Accepted)
        )
        self._open(dialog)

    def _show_next_clip(self) -> None:
        left = self._workspace.clips()
        if left:
            self._opening.show(left[0])

    def step_clip(self, direction: int) -> None:
        """Open the clip of this practice filmed after or before the open one."""
        entry = self._workspace.neighbour_clip(direction)
        if entry is None:
            raise UserError(f"This practice has no {'later' if direction > 0 else 'earlier'} clip.")
        self._opening.show(entry)

    def edit_players(self) -> None:
        """Edit the roster."""
        players = self._workspace.book().players()
        dialog = RosterDialog(players, self._window)
        dialog.new_season.connect(self.begin_season)
        self._open(dialog, lambda: self._roster.put_players(dialog.players(), dialog.removed))

    def begin_season(self) -> None:
        """Begin a season, then give the players their numbers."""
        dialog = SeasonDialog(QDate.currentDate(), self._window)

        def keep() -> None:
            self._roster.begin_season(*dialog.season())
            self.edit_players()

        self._open(dialog, keep)

    def edit_areas(self) -> None:
        """Edit the borders between areas."""
        self._workspace.book()
        dialog = AreaBordersDialog(self._workspace.court, self._workspace.scheme, self._window)
        self._open(dialog, lambda: self._editor.set_scheme(dialog.scheme()))

    def edit_plan(self) -> None:
        """Plan a practice, or look at the plan of one."""
        workspace, book = self._workspace, self._workspace.book()
        players = {player.id: player for player in book.players()}
        place = workspace.court, workspace.scheme

        def suggest(day: str, absent: Collection[str]) -> Sequence[PlanBlock]:
            data = read_report_data_without_flights(book)
            return suggested_blocks(
                climbs(data.table, data.ladder, data.settings.most_errors), day, absent, data.players, data.ladder
            )

        written, today = self._roster.players_written, QDate.currentDate()
        dialog = PracticePlanDialog(book.plans(), players, written, suggest, place, today, self._window)

        def keep() -> None:
            before, after = dialog.plan()
            if before != after:
                workspace.do(ChangeRecords("Plan of a practice", [(before, after)]))

        self._open(dialog, keep)

    def edit_trial(self) -> None:
        """Draw who tries something, or see what a trial tells."""
        workspace, book = self._workspace, self._workspace.book()
        players = {player.id: player for player in book.players()}
        place = workspace.court, workspace.scheme

        def result(trial: Trial) -> TrialResult:
            return trial_result(read_report_data_without_flights(book).table, trial)

        written, today = self._roster.players_written, QDate.currentDate()
        dialog = TrialDialog(book.trials(), players, written, result, place, today, self._window)

        def keep() -> None:
            before, after = dialog.changed()
            if before != after:
                workspace.do(ChangeRecords("Trial by chance", [(before, after)]))

        self._open(dialog, keep)

    def edit_tallies(self) -> None:
        """Type in serves that were counted beside the court."""
        workspace, book = self._workspace, self._workspace.book()
        place = workspace.court, workspace.scheme
        written, today = self._roster.player_written, QDate.currentDate()
        dialog = TalliesDialog(book.tallies(), book.players(), written, place, today, self._window)

        def keep() -> None:
            if changes := dialog.changes():
                workspace.do(ChangeRecords("Unfilmed serves", changes))
                kept = sum(after.serves for _, after in changes if after)
                workspace.message.emit(f"{count_words(kept, 'unfilmed serve')} kept.")

        self._open(dialog, keep)

    def edit_ladder(self) -> None:
        """Edit the steps of the ladder."""
        workspace, book = self._workspace, self._workspace.book()
        settings = settings_of(book)
        usual = usual_ladder(workspace.court, settings.topspin_gate_mps)
        try:
            steps = ladder_of(book, workspace.court, settings.topspin_gate_mps)
        except UserError:
            steps = usual
        place = workspace.court, workspace.scheme
        dialog = LadderStepsDialog(steps, usual, place, settings.pace_unit, self._window)

        def keep() -> None:
            before, after = book.get_setting(LADDER_SETTING), ladder_text(dialog.steps(), usual)
            if after != before:
                workspace.do(ChangeRecords("Steps of the ladder", settings={LADDER_SETTING: (before, after)}))

        self._open(dialog, keep)

    def edit_court(self) -> None:
        """Edit the court's measures."""
        state = self._workspace.view_state
        if state is None:
            raise UserError("Drop a clip on the window first; the court belongs to its view.")
        dialog = CourtMeasuresDialog(state.court, state.net_height_m, self._window)

        def keep() -> None:
            if dialog.court() != state.court or dialog.net_height_m() != state.net_height_m:
                self._making.choose_court(dialog.court(), dialog.net_height_m())

        self._open(dialog, keep)

    def choose_view(self) -> None:
        """Choose a stored view, its court shown over the picture meanwhile."""
        views = self._making.fitting_views()
        if not views:
            raise UserError("No stored view fits this clip's picture; mark four landmarks instead.")
        dialog = StoredViewDialog(views, self._workspace.book().gyms(), self._preview, self._window)

        def keep() -> None:
            chosen = dialog.chosen()
            if chosen is not None:
                self._making.use(chosen)

        self._open(dialog, keep)

    def _preview(self, stored: StoredView | None) -> None:
        items: DisplayList | None = court_overlay(view_from_text(stored.document)) if stored else None
        self.previewed.emit(items)

    def _open(self, dialog: QDialog, keep: Callable[[], None] | None = None) -> None:
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        if keep is not None:
            dialog.accepted.connect(show_errors(self._workspace, keep))
        dialog.open()

    def _ask(self, dialog: QFileDialog, take: Callable[[str], None]) -> None:
        dialog.fileSelected.connect(show_errors(self._workspace, take))
        self._open(dialog)

    def _file_dialog(self, title: str, files: str) -> QFileDialog:
        book = self._workspace.logbook
        documents = Path(QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation))
        return file_dialog(self._window, title, book.path.parent if book else documents, files)
