"""Whether the open clip's file is still there, and still the same film."""

from __future__ import annotations

from PySide6.QtCore import QFileSystemWatcher, QObject, Signal

from serve_marker.desktop.session.film_library import file_stamp
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.clip_places import folder_to_ask_about
from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.records import ClipEntry


class FilmWatch(QObject):
    """Follows the workspace's clip. ``told`` says what became of its file, "" while nothing has."""

    told = Signal(str)

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._stamp: tuple[int, int] | None = None
        self._watcher = QFileSystemWatcher(self)
        self._watcher.fileChanged.connect(self._look)
        self._watcher.directoryChanged.connect(self._look)
        workspace.clip_changed.connect(self._follow)

    def _follow(self) -> None:
        watched = [*self._watcher.files(), *self._watcher.directories()]
        if watched:
            self._watcher.removePaths(watched)
        workspace = self._workspace
        if workspace.clip is not None:
            path = workspace.clip.path.absolute()
            self._stamp = file_stamp(path)
            self._watcher.addPaths([str(path), str(path.parent)])
            self.told.emit("")
        else:
            entry = workspace.clip_entry
            self.told.emit("" if entry is None else self._absence(entry))

    def _absence(self, entry: ClipEntry) -> str:
        """Why there is no film: it has gone, or was not opened where it lies."""
        gone = folder_to_ask_about(self._workspace.book(), entry) is None
        return f"{entry.file_name} {'is not where it was' if gone else 'was not opened'}."

    def _look(self) -> None:
        """Tell where the file has gone or is back, and let go of it where it holds another film."""
        clip, entry = self._workspace.clip, self._workspace.clip_entry
        if clip is None or entry is None:
            return
        stamp = file_stamp(clip.path)
        if stamp is None:
            self.told.emit(f"{clip.path.name} is not where it was.")
            return
        try:
            same = stamp == self._stamp or fingerprint(clip.path) == (entry.size_bytes, entry.fingerprint)
        except UserError as error:
            self.told.emit(str(error))
            return
        if same:
            self._stamp = stamp
            self._watcher.addPath(str(clip.path.absolute()))
            self.told.emit("")
        else:
            self._workspace.show_clip(entry, None)
            self.told.emit(f"{clip.path.name} is another film now.")
