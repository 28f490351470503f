"""The changes that can be undone: to serves, to a clip's view with all it places, and to other records.

A change is written to the logbook first, in one transaction, and only then moves the undo stack;
so a refused write (full disk, read-only folder, another window's work) leaves both as they were.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from PySide6.QtGui import QUndoCommand

from serve_marker.camera.viewfile import view_from_text
from serve_marker.court.dimensions import Court
from serve_marker.desktop.serving_order import Turns
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, Gym, Player, Practice, Serve, StoredView
from serve_marker.marking import place_all

if TYPE_CHECKING:
    from serve_marker.desktop.workspace import Workspace
    from serve_marker.logbook.store import Logbook

ServePair = tuple[Serve | None, Serve | None]
RecordPair = tuple[Player | None, Player | None] | tuple[Practice, Practice]
CHANGED_ELSEWHERE = "Another window changed this meanwhile, so nothing was changed; open the logbook again to see it."


@dataclass(frozen=True)
class ViewState:
    """Everything a change of view touches: the landmarks as marked, the stored view, and the clip that uses it."""

    marks: tuple[tuple[str, tuple[float, float]], ...]
    court: Court
    net_height_m: float
    clip: ClipEntry
    stored: StoredView | None = None
    gym: Gym | None = None


def draft_key(clip: ClipEntry) -> str:
    """Return the logbook setting that keeps a clip's landmarks until they are enough for a view."""
    return f"landmarks {clip.id}"


def draft_text(state: ViewState) -> str:
    """Return the landmarks marked so far, as the logbook keeps them."""
    return json.dumps({"court": state.court.to_dict(), "net_height_m": state.net_height_m, "marks": dict(state.marks)})


class Change(QUndoCommand):
    """What the workspace needs of a command."""

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write one side of the change, in one transaction."""
        raise NotImplementedError


class ChangeServes(Change):
    """Serves before and after; None on one side means the serve appears or goes.

    Whose turn it was belongs to the practice open then, and is put back only while that one is open.
    """

    def __init__(
        self, workspace: Workspace, text: str, pairs: Sequence[ServePair], turns: tuple[Turns, Turns] | None = None
    ) -> None:
        super().__init__(text)
        self._workspace = workspace
        self._pairs = list(pairs)
        self._turns = turns
        self._practice_id = workspace.practice.id if workspace.practice else None

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the serves of one side."""
        logbook.change_serves(self._pairs if forward else [(after, before) for before, after in self._pairs])

    def redo(self) -> None:
        self._show([after or before for before, after in self._pairs], self._turns and self._turns[1])

    def undo(self) -> None:
        self._show([before or after for before, after in self._pairs], self._turns and self._turns[0])

    def _show(self, serves: list[Serve | None], turns: Turns | None) -> None:
        practice = self._workspace.practice
        here = practice is not None and practice.id == self._practice_id
        self._workspace.show_serves(serves, turns if here else None)


class ChangeView(Change):
    """The view of a clip before and after; the clip's serves, as they are by then, are placed anew."""

    def __init__(self, workspace: Workspace, text: str, before: ViewState, after: ViewState) -> None:
        super().__init__(text)
        self._workspace = workspace
        self._before = before
        self._after = after
        self._time_scale_then = workspace.time_scale
        stored = after.stored
        self._made = stored if stored is not None and stored.id not in workspace.stored_views() else None

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the view, which view the clip uses, and where that view places its serves."""
        before, after = (self._before, self._after) if forward else (self._after, self._before)
        with logbook.one_change():
            entry = next((clip for clip in logbook.clips() if clip.id == after.clip.id), None)
            if entry is None or entry.view_id != before.clip.view_id:
                raise UserError(CHANGED_ELSEWHERE)
            if after.stored is None:
                logbook.set_setting(draft_key(entry), draft_text(after))
            else:
                self._write_view(logbook, before, after, after.stored)
            logbook.put(replace(entry, view_id=after.clip.view_id))
            self._place(logbook, after)
            if not forward and self._made is not None:
                _require_to_itself(logbook, self._made, entry)
                _require_kept(self._made, logbook.views())
                logbook.remove(self._made)

    def _write_view(self, logbook: Logbook, before: ViewState, after: ViewState, stored: StoredView) -> None:
        if after.gym is not None and after.gym.id not in {gym.id for gym in logbook.gyms()}:
            logbook.put(after.gym)
        known = logbook.views()
        if stored == self._made and stored.id not in {view.id for view in known}:
            logbook.put(stored)
        elif before.stored is not None and before.stored.id == stored.id:
            _require_kept(before.stored, known)
            if before.stored.document != stored.document:
                _require_to_itself(logbook, stored, after.clip)
            logbook.put(stored)
        else:
            _require_kept(stored, known)

    def _place(self, logbook: Logbook, after: ViewState) -> None:
        serves = logbook.serves(clip_id=after.clip.id)
        if after.stored is None:
            placed = [replace(serve, view_id=None, landing_point=None, contact_point=None) for serve in serves]
        else:
            of_view = [replace(serve, view_id=after.stored.id) for serve in serves]
            placed = place_all(of_view, view_from_text(after.stored.document), self._time_scale(after.clip))
        logbook.put(*(new for old, new in zip(serves, placed, strict=True) if new != old))

    def _time_scale(self, entry: ClipEntry) -> float:
        open_entry = self._workspace.clip_entry
        is_open = open_entry is not None and open_entry.id == entry.id
        return self._workspace.time_scale if is_open else self._time_scale_then

    def redo(self) -> None:
        self._workspace.show_view(self._after.clip)

    def undo(self) -> None:
        self._workspace.show_view(self._before.clip)


class ChangeRecords(Change):
    """Players, practices and settings before and after; None on one side means the player joins or leaves."""

    def __init__(
        self,
        workspace: Workspace,
        text: str,
        pairs: Sequence[RecordPair] = (),
        settings: Mapping[str, tuple[str, str]] | None = None,
    ) -> None:
        super().__init__(text)
        self._workspace = workspace
        self._pairs = list(pairs)
        self._settings = dict(settings or {})

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the records and settings of one side, unless another window changed one of them."""
        pairs = [pair if forward else pair[::-1] for pair in self._pairs]
        with logbook.one_change():
            found: dict[str, Player | Practice] = {player.id: player for player in logbook.players()}
            found.update((practice.id, practice) for practice in logbook.practices())
            for before, after in pairs:
                record = before or after
                if record is not None and found.get(record.id) != before:
                    raise UserError(CHANGED_ELSEWHERE)
            for key, (old, new) in self._settings.items():
                if logbook.get_setting(key) != (old if forward else new):
                    raise UserError(CHANGED_ELSEWHERE)
                logbook.set_setting(key, new if forward else old)
            logbook.put(*(after for _, after in pairs if after is not None))
            logbook.remove(*(before for before, after in pairs if before is not None and after is None))

    def redo(self) -> None:
        self._workspace.show_records()

    def undo(self) -> None:
        self._workspace.show_records()


def _require_kept(expected: StoredView, views: Sequence[StoredView]) -> None:
    if expected not in views:
        raise UserError(CHANGED_ELSEWHERE)


def _require_to_itself(logbook: Logbook, stored: StoredView, entry: ClipEntry) -> None:
    if any(clip.view_id == stored.id and clip.id != entry.id for clip in logbook.clips()):
        raise UserError(f"Another clip uses the view {stored.name} by now, so nothing was changed.")
