"""The two kinds of change that can be undone: to serves, and to a view together with the serves placed by it.

A change is written to the logbook first, in one transaction, and only then moves the undo stack;
so a refused write (full disk, read-only folder) leaves both as they were.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from PySide6.QtGui import QUndoCommand

from serve_marker.court.dimensions import Court
from serve_marker.desktop.serving_order import Turns
from serve_marker.logbook.records import ClipEntry, Gym, Serve, StoredView

if TYPE_CHECKING:
    from serve_marker.desktop.workspace import Workspace
    from serve_marker.logbook.store import Logbook

ServePair = tuple[Serve | None, Serve | None]


@dataclass(frozen=True)
class ViewState:
    """Everything a change of view touches: the landmarks as marked, the stored view, the clip and its serves."""

    marks: tuple[tuple[str, tuple[float, float]], ...]
    court: Court
    net_height_m: float
    clip: ClipEntry
    stored: StoredView | None = None
    gym: Gym | None = None
    serves: tuple[Serve, ...] = ()


def draft_key(clip: ClipEntry) -> str:
    """Return the logbook setting that keeps a clip's landmarks until they are enough for a view."""
    return f"landmarks {clip.id}"


def draft_text(state: ViewState) -> str:
    """Return the landmarks marked so far, as the logbook keeps them."""
    return json.dumps({"court": state.court.to_dict(), "net_height_m": state.net_height_m, "marks": dict(state.marks)})


class Change(Protocol):
    """What the workspace needs of a command."""

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write one side of the change, in one transaction."""
        ...


class ChangeServes(QUndoCommand):
    """Serves before and after; None on one side means the serve appears or goes."""

    def __init__(
        self, workspace: Workspace, text: str, pairs: Sequence[ServePair], turns: tuple[Turns, Turns] | None = None
    ) -> None:
        super().__init__(text)
        self._workspace = workspace
        self._pairs = list(pairs)
        self._turns = turns

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the serves of one side."""
        logbook.change_serves(self._pairs if forward else [(after, before) for before, after in self._pairs])

    def redo(self) -> None:
        self._workspace.show_serves([after or before for before, after in self._pairs], self._turns and self._turns[1])

    def undo(self) -> None:
        self._workspace.show_serves([before or after for before, after in self._pairs], self._turns and self._turns[0])


class ChangeView(QUndoCommand):
    """A view before and after, with the serves it places."""

    def __init__(self, workspace: Workspace, text: str, before: ViewState, after: ViewState) -> None:
        super().__init__(text)
        self._workspace = workspace
        self._before = before
        self._after = after
        stored = after.stored
        self._made = stored if stored is not None and stored.id not in workspace.stored_views() else None

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the view, the clip that uses it and every serve placed by it."""
        state = self._after if forward else self._before
        if state.stored is None:
            logbook.set_setting(draft_key(state.clip), draft_text(state))
        records = [record for record in (state.gym, state.stored) if record is not None]
        logbook.put(*records, state.clip, *state.serves)
        if not forward and self._made is not None:
            logbook.remove(self._made)

    def redo(self) -> None:
        self._workspace.show_view(self._after)

    def undo(self) -> None:
        self._workspace.show_view(self._before)
