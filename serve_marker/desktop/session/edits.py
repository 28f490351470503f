"""The changes that can be undone: to serves, and to other records; ``view_change`` has those of a clip's view.

A change is written to the logbook first, in one transaction, and only then moves the undo stack;
so a refused write (full disk, read-only folder, another window's work) leaves both as they were.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from PySide6.QtGui import QUndoCommand

from serve_marker.desktop.session.serving_order import ServingOrder
from serve_marker.errors import UserError
from serve_marker.logbook.records import Player, Practice, Record, Serve, StoredFormation

if TYPE_CHECKING:
    from serve_marker.desktop.session.workspace import Workspace
    from serve_marker.logbook.store import Logbook

ServePair = tuple[Serve | None, Serve | None]
RecordPair = tuple[Player | None, Player | None] | tuple[Practice, Practice] | tuple[None, StoredFormation]
CHANGED_ELSEWHERE = "Another window changed this meanwhile, so nothing was changed; open the logbook again to see it."


class Change(QUndoCommand):
    """What the workspace needs of a command."""

    @abstractmethod
    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write one side of the change, in one transaction."""


class ChangeServes(Change):
    """Serves before and after; None on one side means the serve appears or goes.

    Whose turn it was belongs to the practice open then, and is put back only while that one is open.
    """

    def __init__(
        self,
        workspace: Workspace,
        text: str,
        pairs: Sequence[ServePair],
        turns: tuple[ServingOrder, ServingOrder] | None = None,
    ) -> None:
        super().__init__(text)
        self._workspace = workspace
        self._pairs = list(pairs)
        self._turns = turns
        self._practice_id = workspace.practice.id if workspace.practice else None
        self._chosen_before = workspace.selection

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the serves of one side."""
        logbook.change_serves(self._pairs if forward else [(after, before) for before, after in self._pairs])

    def redo(self) -> None:
        self._show([after or before for before, after in self._pairs], self._turns and self._turns[1])

    def undo(self) -> None:
        self._show([before or after for before, after in self._pairs], self._turns and self._turns[0])
        if not self._workspace.selection:
            self._workspace.select(s.id for s in self._workspace.serves if s.id in self._chosen_before)

    def _show(self, serves: list[Serve | None], turns: ServingOrder | None) -> None:
        practice = self._workspace.practice
        here = practice is not None and practice.id == self._practice_id
        self._workspace.show_serves(serves, turns if here else None)


class ChangeRecords(Change):
    """Players, practices, formations and settings before and after; None on one side means the record comes or goes."""

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
            kept: tuple[Record, ...] = (*logbook.players(), *logbook.practices(), *logbook.formations())
            found: dict[str, Record] = {record.id: record for record in kept}
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
