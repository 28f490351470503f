"""Undo and redo: edits written to the logbook, and the steps that show again what each of them touches."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from typing import Protocol

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoCommand, QUndoStack

from serve_marker.desktop.session.edits import Touched, UndoableEdit
from serve_marker.logbook.records import ClipEntry, Practice, Serve
from serve_marker.logbook.store import Logbook

MERGING_ID = 1
"""Qt offers steps of one id to be merged; the edits decide."""


class EditedWorkspace(Protocol):
    """What undo needs of the workspace."""

    practice: Practice | None
    clip_entry: ClipEntry | None
    serves: list[Serve]
    selection: tuple[str, ...]

    def book(self) -> Logbook: ...
    def show(self, touched: Touched) -> None: ...
    def select(self, serve_ids: Iterable[str], *, by_hand: bool) -> None: ...


class UndoHistory(QObject):
    """The edits made, each one step back and forward.

    Signals
    -------
    message(text) : what was undone or redone.
    clip_asked(clip_id, then) : a clip that is not open has to be shown, and then something done.
    film_asked : the film has to be in sight, for something is done to the open clip.
    """

    message = Signal(str)
    clip_asked = Signal(str, object)
    film_asked = Signal()

    def __init__(self, workspace: EditedWorkspace, parent: QObject) -> None:
        super().__init__(parent)
        self.stack = QUndoStack(self)
        self._workspace = workspace

    def do(self, edit: UndoableEdit) -> None:
        """Write an edit to the logbook and put it on the stack; a refused write raises and changes nothing."""
        edit.write(self._workspace.book(), forward=True)
        self.stack.push(_UndoStep(self._workspace, edit))

    def undo(self) -> None:
        """Write back the last change; one to another clip only once that clip is shown."""
        self._move(forward=False)

    def redo(self) -> None:
        """Write the last undone change again."""
        self._move(forward=True)

    def _move(self, *, forward: bool, went: bool = False) -> None:
        can_move = self.stack.canRedo() if forward else self.stack.canUndo()
        if not can_move:
            self.message.emit("Nothing to redo." if forward else "Nothing to undo.")
            return
        step = self.stack.command(self.stack.index() - (0 if forward else 1))
        assert isinstance(step, _UndoStep)
        clip_ids = step.edit.touches(forward=forward).clip_ids
        if self._show_clip_of(clip_ids, partial(self._move, forward=forward, went=True)):
            return
        entry = self._workspace.clip_entry
        step.edit.write(self._workspace.book(), forward=forward)
        if forward:
            self.stack.redo()
        else:
            self.stack.undo()
        where = f"Back to {entry.file_name}. " if went and entry is not None else ""
        words = f"{where}{'Redone' if forward else 'Undone'}: {step.text()}."
        if not self._show_clip_of(clip_ids, partial(self.message.emit, words)):
            self.message.emit(words)

    def _show_clip_of(self, clip_ids: Iterable[str], then: Callable[[], None]) -> bool:
        """Ask for one of these clips to be shown, unless one is open or none is in the logbook."""
        entry = self._workspace.clip_entry
        if entry is not None and entry.id in clip_ids:
            self.film_asked.emit()
            return False
        there = next((clip.id for clip in self._workspace.book().clips() if clip.id in clip_ids), None)
        if there is not None:
            self.clip_asked.emit(there, then)
        return there is not None


class _UndoStep(QUndoCommand):
    """An edit on the undo stack, written by the time it is redone or undone here: it shows what the edit touches.

    Whose turn it was belongs to the practice open then, and is put back only while that one is open.
    """

    def __init__(self, workspace: EditedWorkspace, edit: UndoableEdit) -> None:
        super().__init__(edit.text)
        self.edit = edit
        self._workspace = workspace
        self._practice_id = workspace.practice.id if workspace.practice else None
        self._selection = workspace.selection

    def id(self) -> int:
        return MERGING_ID

    def mergeWith(self, other: QUndoCommand) -> bool:
        merged = self.edit.followed_by(other.edit) if isinstance(other, _UndoStep) else None
        self.edit = merged or self.edit
        return merged is not None

    def redo(self) -> None:
        self._show(forward=True)

    def undo(self) -> None:
        self._show(forward=False)

    def _show(self, *, forward: bool) -> None:
        touched, workspace = self.edit.touches(forward=forward), self._workspace
        if workspace.practice is None or workspace.practice.id != self._practice_id:
            touched = replace(touched, turns=None)
        known = {serve.id for serve in workspace.serves}
        workspace.show(touched)
        still_there = [serve.id for serve in workspace.serves if serve.id in self._selection]
        came_back = not known.issuperset(still_there)
        if touched.serve_ids is not None and not forward and (came_back or not workspace.selection):
            workspace.select(still_there, by_hand=came_back)
