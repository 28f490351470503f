"""Backups of the open logbook, made when nobody is at work: after a while of quiet, and when it is closed."""

from __future__ import annotations

import os
import sys
import threading
from pathlib import Path

from PySide6.QtCore import QObject, QTimer

from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.backups import make_backup

QUIET_S = 120.0


class BackupKeeper(QObject):
    """Backs up a logbook once nothing was changed for a while, on a thread of its own."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._path: Path | None = None
        self._worker = Worker("backup", self)
        self._quiet = QTimer(self, singleShot=True, interval=int(1000 * QUIET_S))
        self._quiet.timeout.connect(self.back_up)
        for changed in (workspace.serves_changed, workspace.practice_changed, workspace.view_changed):
            changed.connect(self._quiet.start)
        workspace.logbook_changed.connect(self._follow)

    def back_up(self) -> None:
        """Back up the open logbook now, where it may be written beside it."""
        if self._path is not None and os.access(self._path.absolute().parent, os.W_OK):
            self._worker.submit(make_backup, self._path, done=lambda _path: None, failed=self._tell)

    def close(self) -> None:
        """Back up the logbook that was open, while the window is gone already and the program ends."""
        self._quiet.stop()
        self._worker.close()
        if self._path is not None:
            threading.Thread(target=_back_up_at_the_end, args=(self._path,), name="backup at the end").start()

    def _follow(self) -> None:
        """Take up another logbook; the one before is closed and backed up."""
        book = self._workspace.logbook
        path = book.path if book is not None and not book.why_read_only else None
        if path != self._path:
            self.back_up()
            self._path = path
        self._quiet.start()

    def _tell(self, error: BaseException) -> None:
        if isinstance(error, UserError):
            self._workspace.message.emit(str(error))


def _back_up_at_the_end(path: Path) -> None:
    if path.exists() and os.access(path.absolute().parent, os.W_OK):
        try:
            make_backup(path)
        except UserError as error:
            sys.stderr.write(f"{error}\n")
