"""From a file to the clip on the screen: opened off the window's thread, known again by its fingerprint."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, Signal

from serve_marker.desktop.jobs import Lane
from serve_marker.desktop.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.fingerprint import find_moved, fingerprint
from serve_marker.logbook.records import ClipEntry, Practice, new_id
from serve_marker.video.clip import Clip, open_clip

Opened = tuple[Path, int, str, Clip]


class ClipOpening(QObject):
    """Brings clips into the workspace, one at a time, the newest request winning."""

    opened = Signal()
    missing = Signal(str)

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._lane = Lane("clip", self)
        self._waiting: list[Path] = []
        workspace.logbook_changed.connect(self._logbook_changed)
        self._logbook = workspace.logbook

    def close(self) -> None:
        """Join the lane."""
        self._lane.close()

    def add(self, *paths: Path) -> None:
        """Open files one after the other and make each, or find it as, a clip of the logbook."""
        self._waiting = list(paths)
        self._add_next()

    def _add_next(self) -> None:
        if self._waiting:
            path = self._waiting.pop(0)
            self._workspace.message.emit(f"Opening {path.name}...")
            self._submit(_opened, path, self._added)

    def _submit(self, work: Callable[[Path], Any], path: Path, done: Callable[[Any], None]) -> None:
        """Open a file for the logbook open now; once another one is open, the answer is nobody's."""
        book = self._workspace.logbook

        def answered(answer: Any) -> None:
            if self._workspace.logbook is book:
                done(answer)
                self._add_next()

        self._lane.submit(work, path, done=answered, failed=self._failed)

    def _logbook_changed(self) -> None:
        if self._workspace.logbook is not self._logbook:
            self._logbook = self._workspace.logbook
            self._waiting.clear()
            self._lane.cancel()

    def show(self, entry: ClipEntry, then: Callable[[], None] | None = None) -> None:
        """Open a clip the logbook knows, wherever its file lies now, and then do what was wanted there."""
        self._waiting.clear()
        path = find_moved(entry, self._folders())
        if path is None:
            self._workspace.show_clip(entry, None)
            self._workspace.message.emit(
                f"{Path(entry.path).name} is not where it was; choose its folder with File > Find a moved clip."
            )
            self.missing.emit(entry.id)
            self.opened.emit()
            if then is not None:
                then()
            return

        def shown(clip: Clip) -> None:
            self._shown(entry, path, clip)
            if then is not None:
                then()

        self._submit(open_clip, path, shown)

    def search(self, entry: ClipEntry, folder: Path) -> None:
        """Look for a moved clip in a folder and those in it."""
        folders = [folder, *sorted(inner for inner in folder.iterdir() if inner.is_dir())]
        path = find_moved(entry, folders)
        if path is None:
            raise UserError(f"{Path(entry.path).name} is not in {folder.name}; choose another folder.")
        self._waiting.clear()
        self._submit(open_clip, path, lambda clip: self._shown(entry, path, clip))

    def _shown(self, entry: ClipEntry, path: Path, clip: Clip) -> None:
        entry = self._at(entry, path)
        self._workspace.show_clip(entry, clip)
        self._tell(path, clip)

    def _added(self, found: Opened) -> None:
        path, size_bytes, digest, clip = found
        try:
            entry = self._entry(path, size_bytes, digest)
        except UserError as error:
            self._workspace.message.emit(str(error))
            return
        self._shown(entry, path, clip)

    def _entry(self, path: Path, size_bytes: int, digest: str) -> ClipEntry:
        book = self._workspace.book()
        for known in book.clips():
            if (known.size_bytes, known.fingerprint) == (size_bytes, digest):
                return known
        practice = self._practice_of(path)
        entry = ClipEntry(
            id=new_id(), practice_id=practice.id, path=str(path.absolute()), size_bytes=size_bytes, fingerprint=digest
        )
        book.put(practice, entry)
        return entry

    def _practice_of(self, path: Path) -> Practice:
        day = datetime.fromtimestamp(path.stat().st_mtime).date().isoformat()
        now = self._workspace.practice
        if now is not None and now.date == day:
            return now
        same_day = [practice for practice in self._workspace.book().practices() if practice.date == day]
        return same_day[0] if same_day else Practice(id=new_id(), date=day, name="Practice")

    def _at(self, entry: ClipEntry, path: Path) -> ClipEntry:
        if entry.path == str(path.absolute()):
            return entry
        moved = replace(entry, path=str(path.absolute()))
        self._workspace.put_clip(moved)
        return moved

    def _tell(self, path: Path, clip: Clip) -> None:
        note = f" {clip.warnings[0]}" if clip.warnings else ""
        self._workspace.message.emit(f"{path.name}: {clip.frame_count} frames, {clip.duration_s:.1f} s.{note}")
        self.opened.emit()

    def _failed(self, error: BaseException) -> None:
        if not isinstance(error, UserError):
            raise error
        self._workspace.message.emit(str(error))
        self._add_next()

    def _folders(self) -> list[Path]:
        book = self._workspace.book()
        near = [Path(entry.path).parent for entry in book.clips()]
        return list(dict.fromkeys([book.path.parent, *near]))


def _opened(path: Path) -> Opened:
    clip = open_clip(path)
    size_bytes, digest = fingerprint(path)
    return path, size_bytes, digest, clip
