"""What the menus do to keep a logbook safe: backups restored, what is left of a damaged one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import QDialog, QWidget

from serve_marker.desktop.dialogs.backups import BackupsDialog
from serve_marker.desktop.dialogs.what_was_done import WhatWasDone
from serve_marker.desktop.logbook_actions import LogbookActions
from serve_marker.desktop.session.backup_keeper import BackupKeeper
from serve_marker.desktop.session.show_errors import show_errors
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.backups import Backup, backup_folder, backups_of, restore_backup, serves_in
from serve_marker.logbook.rescue import rescue

RESTORE = "Restore which backup? The logbook as it is now is kept beside it."
NO_BACKUP = "There is no backup yet. One is made when the logbook is closed."


class KeepingActions(QObject):
    """Handlers of the actions about backups."""

    def __init__(self, window: QWidget, workspace: Workspace, books: LogbookActions) -> None:
        super().__init__(window)
        self._window = window
        self._workspace = workspace
        self._books = books
        self.backups = BackupKeeper(workspace)
        books.damaged.connect(show_errors(workspace, self.offer_backups))

    def restore(self) -> None:
        """Choose a backup of the open logbook to put in its place."""
        path = self._workspace.book().path
        if not backups_of(path):
            raise UserError(NO_BACKUP)
        self._choose_backup(path, RESTORE)

    def offer_backups(self, path: Path, why: str) -> None:
        """Of a logbook that cannot be opened, offer its backups and what can be read of it."""
        kept = RESTORE if backups_of(path) else f"There is no backup in {backup_folder(path).name}."
        self._choose_backup(path, f"{why} {kept}", damaged=True)

    def _choose_backup(self, path: Path, words: str, damaged: bool = False) -> None:
        found = [(backup, serves_in(backup.path)) for backup in backups_of(path)]
        dialog = BackupsDialog(words, found, damaged, self._window)
        dialog.rescue_asked.connect(show_errors(self._workspace, lambda: self._open_rescued(path)))
        self._open(dialog, lambda: self._restore(path, dialog.chosen()))

    def _restore(self, path: Path, backup: Backup | None) -> None:
        if backup is None:
            return
        self._workspace.close()
        try:
            kept = restore_backup(path, backup.path)
        finally:
            self._books.open_logbook_at(path)
        kept_words = [f"The logbook as it was is now {kept.name}."] if kept is not None else []
        self._tell("Backups", f"The backup of {backup.made:%H:%M} is restored.", kept_words)

    def _open_rescued(self, path: Path) -> None:
        logbook, lost = rescue(path)
        self._workspace.take(logbook)
        self._books.show_first_clip()
        heading = f"{path.name} is open only to be read. This is what was lost:"
        self._tell("What was lost", heading, lost or ["Nothing is lost."])

    def _tell(self, title: str, words: str, sentences: Sequence[str]) -> None:
        self._open(WhatWasDone(title, words, sentences, self._window))

    def _open(self, dialog: QDialog, then: Callable[[], object] | None = None) -> None:
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        if then is not None:
            dialog.accepted.connect(show_errors(self._workspace, then))
        dialog.open()
