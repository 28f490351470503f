"""What the menus do to keep a logbook and whoever is in it safe: backups, consents, players erased, logbooks merged."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QDate, QObject, Qt
from PySide6.QtWidgets import QDialog, QFileDialog, QWidget

from serve_marker.desktop.dialogs.backups import BackupsDialog
from serve_marker.desktop.dialogs.confirmation import Confirmation
from serve_marker.desktop.dialogs.consents import ConsentsDialog
from serve_marker.desktop.dialogs.erase_player import ErasePlayerDialog
from serve_marker.desktop.dialogs.file_dialog import file_dialog
from serve_marker.desktop.dialogs.what_was_done import WhatWasDone
from serve_marker.desktop.logbook_actions import LOGBOOKS, LogbookActions
from serve_marker.desktop.recent_files import RecentFiles
from serve_marker.desktop.session.backup_keeper import BackupKeeper
from serve_marker.desktop.session.edits import ChangeRecords
from serve_marker.desktop.session.show_errors import show_errors
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.backups import Backup, backup_folder, backups_of, restore_backup, serves_in
from serve_marker.logbook.merge import Merged, PlayersInDoubtError, merge, write_merged
from serve_marker.logbook.records import Player, player_words
from serve_marker.logbook.rescue import rescue
from serve_marker.logbook.store import Logbook
from serve_marker.printable import quoted_name
from serve_marker.report.erase_player import erase_player, sheets_folder
from serve_marker.study.agreement import merge_sentences

RESTORE = "Restore which backup? The logbook as it is now is kept beside it."
NO_BACKUP = "There is no backup yet. One is made when the logbook is closed."

Answers = dict[frozenset[str], bool]
"""Whether two players are one, by the ids of both."""


class KeepingActions(QObject):
    """Handlers of the actions about backups, consents, erasing and merging."""

    def __init__(self, window: QWidget, workspace: Workspace, books: LogbookActions, recent: RecentFiles) -> None:
        super().__init__(window)
        self._window = window
        self._workspace = workspace
        self._books = books
        self._recent = recent
        self.backups = BackupKeeper(workspace)
        self._worker = Worker("merge", self)
        books.damaged.connect(show_errors(workspace, self.offer_backups))

    def close(self) -> None:
        """Let the work that runs end, and back up what was open."""
        self._worker.close()
        self.backups.close()

    def restore(self) -> None:
        """Choose a backup of the open logbook to put in its place."""
        path = self._workspace.book().path
        if not backups_of(path):
            raise UserError(NO_BACKUP)
        self._choose_backup(path, RESTORE)

    def offer_backups(self, path: Path, why: str) -> None:
        """Of a logbook that cannot be opened, offer its backups and what can be read of it."""
        kept = RESTORE if backups_of(path) else f"There is no backup in {backup_folder(path).name}."
        technical = why.startswith(f"{path.name} is damaged (")
        words = f"{path.name} is damaged." if technical else why
        self._choose_backup(path, f"{words} {kept}", damaged=True)

    def edit_consents(self) -> None:
        """Edit who agreed to what."""
        book = self._workspace.book()
        dialog = ConsentsDialog(book.players(), book.consents(), QDate.currentDate(), self._window)

        def keep() -> None:
            if changes := dialog.changes():
                self._workspace.do(ChangeRecords("Consents", changes))

        self._open(dialog, keep)

    def erase_player(self) -> None:
        """Choose a player to erase wherever the program has written of her."""
        book = self._workspace.book()
        dialog = ErasePlayerDialog(book.players(), sheets_folder(book.path), self._window)
        self._open(dialog, lambda: self._erase(book.path, dialog))

    def _erase(self, path: Path, dialog: ErasePlayerDialog) -> None:
        chosen = dialog.player_id(), bool(dialog.serves.currentData()), tuple(dialog.folders)
        self._workspace.close()
        try:
            player_id, keep_serves, folders = chosen
            erasure = erase_player(path, player_id, keep_serves=keep_serves, folders=folders)
            self._recent.drop_card(path)
            erasure.done.append("The picture on the start screen erased.")
        finally:
            self._books.open_logbook_at(path)
        self._tell("Erase a player", "This was done, and this is left to you:", [*erasure.done, *erasure.left])

    def merge(self) -> None:
        """Choose a logbook of another coach, and make one of both."""
        book = self._workspace.book()
        dialog = file_dialog(self._window, "Merge with which logbook?", book.path.parent, LOGBOOKS)
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.fileSelected.connect(show_errors(self._workspace, lambda text: self._merge(Path(text), {})))
        self._open(dialog)

    def _merge(self, other_path: Path, answers: Answers) -> None:
        """Merge off the window's thread, as far as it goes without a question; ask that, and go on."""
        book = self._workspace.book()

        def work() -> Merged:
            with Logbook.open(other_path) as other:
                return merge(book, other, answers)

        def failed(error: BaseException) -> None:
            if isinstance(error, PlayersInDoubtError):
                self._ask_same(other_path, answers, error.questions[0])
            elif isinstance(error, UserError):
                self._workspace.message.emit(str(error))

        self._workspace.message.emit(f"Reading {other_path.name}…")
        self._worker.submit(work, done=self._ask_target, failed=failed)

    def _ask_target(self, merged: Merged) -> None:
        path = self._workspace.book().path
        dialog = file_dialog(self._window, "Where should the merged logbook be kept?", path.parent, LOGBOOKS)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("logbook")
        dialog.selectFile(f"{path.stem} merged.logbook")
        dialog.fileSelected.connect(lambda text: self._write_merged(merged, Path(text)))
        self._open(dialog)

    def _ask_same(self, other_path: Path, answers: Answers, pair: tuple[Player, Player]) -> None:
        names = " and ".join(quoted_name(player_words(player)) for player in pair)
        question = Confirmation(f"Are {names} one player?", "One player", self._window, leave="Two players")
        key = frozenset(player.id for player in pair)
        question.finished.connect(
            show_errors(
                self._workspace,
                lambda answer: self._merge(other_path, answers | {key: answer == QDialog.DialogCode.Accepted}),
            )
        )
        self._open(question)

    def _write_merged(self, merged: Merged, target: Path) -> None:
        def written(_nothing: None) -> None:
            self._books.open_logbook_at(target)
            sentences = merge_sentences(merged, self._workspace.book())
            self._tell("Merge", f"{target.name} is open. Both logbooks it was made of are as they were.", sentences)

        def failed(error: BaseException) -> None:
            if isinstance(error, UserError):
                self._workspace.message.emit(str(error))

        self._workspace.message.emit(f"Writing {target.name}…")
        self._worker.submit(write_merged, merged, target, done=written, failed=failed)

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
