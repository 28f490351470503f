"""From a file to the clip on the screen: opened off the window's thread, known again by its fingerprint."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import QObject, QSettings, Signal

from serve_marker.desktop.session.clip_folders import ClipFolders
from serve_marker.desktop.session.film_library import is_long, kept_beside
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.clip_places import folder_to_ask_about, not_opened_sentence
from serve_marker.logbook.file_name_order import by_name
from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.moved_clips import find_moved, folders_in, likely_folders
from serve_marker.logbook.records import ClipEntry, Practice, new_id
from serve_marker.marking.filming_day import filming_day
from serve_marker.video.clip import Clip, open_clip
from serve_marker.video.clip_warnings import slow_motion_sentence
from serve_marker.video.glance import glance


def missing_words(entry: ClipEntry) -> str:
    """Return what is said of a clip whose file has gone."""
    return f"{entry.file_name} is not where it was. Choose its folder with File > Find a moved clip."


@dataclass(frozen=True, eq=False)
class Opened:
    """A file that was read."""

    path: Path
    size_bytes: int
    fingerprint: str
    clip: Clip


@dataclass(frozen=True)
class SortedFiles:
    """Files told apart: clips the logbook knows, new ones with the day each was filmed on, and why others are none."""

    known: tuple[Path, ...]
    days: Mapping[Path, str]
    refused: tuple[str, ...]


class ClipLoader(QObject):
    """Brings clips into the workspace, one at a time, the newest request winning.

    Signals
    -------
    glanced(Glance) : the first picture of a long clip, whose times are still being read.
    progressed(done, of) : how far that is.
    settled() : nothing is being opened any more.
    opened() : a clip is in the workspace, its file perhaps missing.
    folder_asked(folder) : a clip lies in a folder that nobody allowed on this computer; `answer_folder` goes on.
    practice_asked(days) : files are new, each with the day it was filmed on; `put_in` or `leave_out` answers.
    """

    glanced = Signal(object)
    progressed = Signal(int, int)
    settled = Signal()
    opened = Signal()
    folder_asked = Signal(object)
    practice_asked = Signal(object)

    def __init__(self, workspace: Workspace, settings: QSettings | None = None) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._worker = Worker("clip", self)
        self._worker.progressed.connect(self.progressed)
        self._waiting: list[Path] = []
        self._practices: dict[Path, Practice] = {}
        self._refused: list[str] = []
        self._folders = ClipFolders(settings)
        self._go_on: Callable[[], None] | None = None
        workspace.logbook_changed.connect(self._logbook_changed)
        self._logbook = workspace.logbook

    def close(self) -> None:
        """Join the worker."""
        self._worker.cancel()
        self._worker.close()

    def add(self, *paths: Path, refused: Iterable[str] = ()) -> None:
        """Open files and make each, or find it as, a clip of the logbook; the one filmed first is shown in the end.

        To which practice the new ones belong is asked first. ``refused`` is why others that came with them are not
        taken, told with them.
        """
        self._drop_waiting()
        self.allow(*(path.parent for path in paths))
        files = sorted(paths, key=by_name, reverse=True)
        book = self._workspace.book()
        known = {(clip.size_bytes, clip.fingerprint) for clip in book.clips()}
        self._workspace.message.emit(f"Opening {files[0].name if len(files) == 1 else f'{len(files)} clips'}…")

        def sorted_out(found: SortedFiles) -> None:
            if self._workspace.logbook is not book:
                return
            self._refused = [*refused, *found.refused]
            self._waiting = [path for path in files if path in found.known or path in found.days]
            if found.refused:
                self._workspace.message.emit(" ".join(self._refused))
            if found.days:
                self.practice_asked.emit(found.days)
            else:
                self._add_next()

        self._worker.submit(_sort_out, files, known, done=sorted_out, failed=self._failed)

    def put_in(self, practices: Mapping[Path, Practice]) -> None:
        """Take the new files that were asked about into these practices."""
        self._practices = dict(practices)
        self._add_next()

    def leave_out(self) -> None:
        """Take none of the files that were asked about."""
        self._drop_waiting()
        self._workspace.message.emit("No clip was added.")

    def _add_next(self) -> None:
        if self._waiting:
            path = self._waiting.pop(0)
            self._workspace.message.emit(f"Opening {path.name}…")
            self._submit(lambda: path, self._added)

    def _submit(self, find: Callable[[], Path | None], done: Callable[[Opened | None], None]) -> None:
        """Open a file for the logbook open now; once another one is open, the answer is nobody's."""
        book = self._workspace.book()

        def answered(answer: Opened | None) -> None:
            self.settled.emit()
            if self._workspace.logbook is not book:
                return
            try:
                done(answer)
            except UserError as error:
                self._refuse(error)
            finally:
                self._add_next()

        self._worker.submit(self._read, find, book.path, done=answered, failed=self._failed)

    def _read(self, find: Callable[[], Path | None], logbook: Path) -> Opened | None:
        """On the worker's thread: find a file and read it, its times from beside the logbook where they are kept."""
        path = find()
        if path is None:
            return None
        size_bytes, digest = fingerprint(path)
        first = glance(path)
        table_path = None
        if is_long(first.duration_s):
            self.glanced.emit(first)
            table_path = kept_beside(logbook, digest, ".times")
        clip = open_clip(path, self._worker.progressed.emit, self._worker.cancelled, table_path)
        return Opened(path, size_bytes, digest, clip)

    def _logbook_changed(self) -> None:
        if self._workspace.logbook is not self._logbook:
            self._logbook = self._workspace.logbook
            self._drop_waiting()
            self._worker.cancel()
            self.allow()
            self.settled.emit()

    def allow(self, *folders: Path) -> None:
        """Allow folders on this computer, and those allowed before in the logbook open now."""
        if folders:
            self._folders.allow(*folders)
        if self._workspace.logbook is not None:
            self._workspace.logbook.clip_folders = set(self._folders)

    def _drop_waiting(self) -> None:
        self._waiting.clear()
        self._refused.clear()
        self._practices.clear()

    def show(self, entry: ClipEntry, then: Callable[[], None] | None = None) -> None:
        """Open a clip the logbook knows, wherever its file lies now, and then do what was wanted there.

        A folder that nobody allowed yet is asked about where the film does not lie beside the logbook.
        """
        self._drop_waiting()
        self._find_and_show(entry, then, ask=True)

    def answer_folder(self, folder: Path, *, allowed: bool) -> None:
        """Go on with the clip that was asked for; its folder is looked at only where the coach allowed it."""
        if allowed:
            self.allow(folder)
        go_on, self._go_on = self._go_on, None
        if go_on is not None:
            go_on()

    def _find_and_show(self, entry: ClipEntry, then: Callable[[], None] | None, *, ask: bool = False) -> None:
        book = self._workspace.book()
        folders, folder = likely_folders(book), folder_to_ask_about(book, entry)

        def shown(found: Opened | None) -> None:
            if found is None and ask and folder is not None:
                self._go_on = lambda: self._find_and_show(entry, then)
                self.folder_asked.emit(folder)
                return
            if found is None:
                self._missing(entry)
            else:
                self._shown(entry, found)
            if then is not None:
                then()

        self._submit(lambda: find_moved(entry, folders), shown)

    def _missing(self, entry: ClipEntry) -> None:
        self._workspace.show_clip(entry, None)
        refused = folder_to_ask_about(self._workspace.book(), entry) is not None
        self._workspace.message.emit(not_opened_sentence(entry) if refused else missing_words(entry))
        self.opened.emit()

    def search(self, entry: ClipEntry, folder: Path) -> None:
        """Look for a moved clip in a folder and those in it."""
        self._drop_waiting()

        def shown(found: Opened | None) -> None:
            if found is None:
                raise UserError(f"{entry.file_name} is not in {folder.name}; choose another folder.")
            self.allow(found.path.parent)
            self._shown(entry, found)

        known = likely_folders(self._workspace.book())
        self._submit(lambda: find_moved(entry, [*folders_in(folder), *known]), shown)

    def _shown(self, entry: ClipEntry, found: Opened) -> None:
        entry = self._at(entry, found.path)
        self._workspace.show_clip(entry, found.clip)
        self._tell(entry, found.clip)

    def _added(self, found: Opened | None) -> None:
        if found is not None:
            self._shown(self._entry(found), found)

    def _entry(self, found: Opened) -> ClipEntry:
        book = self._workspace.book()
        for known in book.clips():
            if (known.size_bytes, known.fingerprint) == (found.size_bytes, found.fingerprint):
                return known
        asked = self._practices.get(found.path)
        if asked is None:
            raise UserError(f"{found.path.name} is no longer in the logbook; add it again.")
        practice = next((kept for kept in book.practices() if kept.id == asked.id), asked)
        entry = ClipEntry(
            id=new_id(),
            practice_id=practice.id,
            path=str(found.path.absolute()),
            size_bytes=found.size_bytes,
            fingerprint=found.fingerprint,
        )
        book.put(practice, entry)
        return entry

    def _at(self, entry: ClipEntry, path: Path) -> ClipEntry:
        if entry.path == str(path.absolute()):
            return entry
        moved = replace(entry, path=str(path.absolute()))
        self._workspace.put_clip(moved)
        return moved

    def _tell(self, entry: ClipEntry, clip: Clip) -> None:
        said = list(clip.warnings)
        if entry.filmed_at_fps and clip.capture_rate:
            answered = slow_motion_sentence(clip.path, clip.shown_fps, clip.capture_rate)
            said = [warning for warning in said if warning != answered]
        length_s = clip.duration_s * self._workspace.time_scale
        words = f"{clip.path.name}: {clip.frame_count} frames, {length_s:.1f} s."
        self._workspace.message.emit(" ".join([words, *said, *self._refused]))
        self.opened.emit()

    def _failed(self, error: BaseException) -> None:
        self.settled.emit()
        if isinstance(error, UserError):
            self._refuse(error)
        self._add_next()

    def _refuse(self, error: UserError) -> None:
        """Say why a file is no clip, and again with what follows: the next file's words come at once."""
        self._refused.append(str(error))
        self._workspace.message.emit(" ".join(self._refused))


def _sort_out(files: Iterable[Path], known: Container[tuple[int, str]]) -> SortedFiles:
    """On the worker's thread: tell new files from known ones, and from those that are no clips."""
    found: list[Path] = []
    days: dict[Path, str] = {}
    refused: list[str] = []
    for path in files:
        try:
            if fingerprint(path) in known:
                found.append(path)
            else:
                days[path] = filming_day(path)
        except UserError as error:
            refused.append(str(error))
        except OSError:
            refused.append(f"{path.name} could not be read; check that its disk or card is still connected.")
    return SortedFiles(tuple(found), days, tuple(refused))
