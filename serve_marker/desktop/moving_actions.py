"""What the menus do for a logbook that moves house: its clips found in a folder, all of it packed and unpacked."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import QDialog, QFileDialog, QWidget

from serve_marker.desktop.dialogs.confirmation import Confirmation
from serve_marker.desktop.dialogs.file_dialog import file_dialog
from serve_marker.desktop.dialogs.under_way import UnderWay
from serve_marker.desktop.dialogs.what_was_done import WhatWasDone
from serve_marker.desktop.logbook_actions import LogbookActions
from serve_marker.desktop.session.clip_loader import ClipLoader
from serve_marker.desktop.session.show_errors import show_errors
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.moved_clips import (
    FoundClips,
    find_all_moved,
    found_sentences,
    keep_places,
    missing_sentence,
)
from serve_marker.logbook.pack import NOT_SHARING, ZIP, Packed, Told, pack
from serve_marker.logbook.unpack import Unpacked, unpack
from serve_marker.printable import quoted_name

ZIP_FILE, FOLDER = "One zip file (*.zip)", "A folder (*)"


class _Stopped(Exception):
    """The coach stopped the work."""


class MovingActions(QObject):
    """Handlers of the actions about clips that moved, and about packs."""

    def __init__(self, window: QWidget, workspace: Workspace, books: LogbookActions, opening: ClipLoader) -> None:
        super().__init__(window)
        self._window = window
        self._workspace = workspace
        self._books = books
        self._opening = opening
        self._worker = Worker("moving", self)

    def close(self) -> None:
        """Stop the work that runs, and wait for its end."""
        self._worker.close()

    def find_clips(self) -> None:
        """Ask for the folder in which the clips of the logbook are now."""
        book = self._workspace.book()
        dialog = file_dialog(self._window, "In which folder are the clips now?", book.path.parent)
        dialog.fileSelected.connect(show_errors(self._workspace, lambda text: self._find_clips(Path(text))))
        dialog.open()

    def _find_clips(self, folder: Path) -> None:
        book = self._workspace.book()
        self._opening.allow(folder)

        def found(clips: FoundClips) -> None:
            if self._workspace.logbook is not book:
                return
            keep_places(book, clips.moved)
            words, *missing = found_sentences(clips, folder)
            if missing:
                self._tell("Find moved clips", words, missing)
            else:
                self._workspace.message.emit(words)
            entry = self._workspace.clip_entry
            if entry is not None and self._workspace.clip is None:
                self._opening.show(entry)

        self._run(
            "Find moved clips", f"Looking in {quoted_name(folder.name)}…", find_all_moved, book, folder, done=found
        )

    def pack(self) -> None:
        """Ask where to pack the logbook and its clips."""
        book = self._workspace.book()
        words = f"Pack this logbook and its {len(book.clips())} clips for another computer? {NOT_SHARING}"
        question = Confirmation(words, "Pack…", self._window)
        question.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        question.accepted.connect(show_errors(self._workspace, self._ask_target))
        question.open()

    def _ask_target(self) -> None:
        path = self._workspace.book().path
        files = f"{ZIP_FILE};;{FOLDER}"
        dialog = file_dialog(self._window, "Where should the pack be kept?", path.parent, files)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix(ZIP[1:])
        dialog.filterSelected.connect(lambda files: dialog.setDefaultSuffix(ZIP[1:] if files == ZIP_FILE else ""))
        dialog.selectFile(f"{path.stem} pack{ZIP}")
        dialog.fileSelected.connect(show_errors(self._workspace, lambda text: self._pack(Path(text))))
        dialog.open()

    def _pack(self, target: Path) -> None:
        book = self._workspace.book()

        def packed(answer: Packed) -> None:
            words = f"{target.name} is ready. {NOT_SHARING}"
            self._tell("Pack", words, [missing_sentence(one) for one in answer.missing] or ["Every clip is in it."])

        self._run("Pack", f"Packing {target.name}…", pack, book, target, self._told, done=packed)

    def unpack(self) -> None:
        """Ask for a pack and for the folder to unpack it into, and open its logbook."""
        book = self._workspace.logbook
        folder = book.path.parent if book is not None else Path.home()
        dialog = file_dialog(self._window, "Which pack?", folder, ZIP_FILE)
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.fileSelected.connect(show_errors(self._workspace, lambda text: self._ask_folder(Path(text))))
        dialog.open()

    def _ask_folder(self, source: Path) -> None:
        dialog = file_dialog(self._window, "Unpack into which new folder?", source.parent, FOLDER)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.selectFile(source.stem)
        dialog.fileSelected.connect(show_errors(self._workspace, lambda text: self._unpack(source, Path(text))))
        dialog.open()

    def _unpack(self, source: Path, target: Path) -> None:
        def unpacked(answer: Unpacked) -> None:
            self._books.open_logbook_at(answer.logbook)
            if answer.missing:
                self._tell(
                    "Unpack", f"{answer.logbook.name} is open.", [missing_sentence(one) for one in answer.missing]
                )

        self._run("Unpack", f"Unpacking {source.name}…", unpack, source, target, self._told, done=unpacked)

    @property
    def _told(self) -> Told:
        def told(done: int, of: int) -> None:
            if self._worker.cancelled():
                raise _Stopped
            self._worker.progressed.emit(done, of)

        return told

    def _run(self, title: str, words: str, work: Callable[..., Any], *args: Any, done: Callable[[Any], object]) -> None:
        """Do long work off the window's thread, under a dialog that can stop it."""
        dialog = UnderWay(title, words, self._window)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._worker.progressed.connect(dialog.set_progress)
        dialog.rejected.connect(self._worker.cancel)
        dialog.rejected.connect(lambda: self._workspace.message.emit("Stopped; nothing was left half-written."))

        def finished(answer: Any) -> None:
            dialog.accept()
            show_errors(self._workspace, done)(answer)

        def failed(error: BaseException) -> None:
            dialog.accept()
            if isinstance(error, UserError):
                self._workspace.message.emit(str(error))

        dialog.open()
        self._worker.submit(work, *args, done=finished, failed=failed)

    def _tell(self, title: str, words: str, sentences: list[str]) -> None:
        dialog: QDialog = WhatWasDone(title, words, sentences, self._window)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.open()
