"""The coach's own click error: the change that lets every stored view count with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from serve_marker.camera.fitting.repeatability import OWN_CLICK, text_clicked_by
from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.desktop.session.edits import CHANGED_ELSEWHERE, Change
from serve_marker.errors import UserError
from serve_marker.logbook.columns import columns_of
from serve_marker.logbook.records import Serve, StoredView
from serve_marker.marking.landing import place_all
from serve_marker.study.flight_columns import time_scales

if TYPE_CHECKING:
    from serve_marker.camera.view.view import View
    from serve_marker.desktop.session.workspace import Workspace
    from serve_marker.logbook.store import Logbook


class ChangeOwnClick(Change):
    """The setting before and after; every stored view counts with it, and all serves are placed anew.

    Views that cannot be read stay as they are, and so do their serves. Serves that are still as this change wrote
    them go back to exactly where they were.
    """

    def __init__(self, workspace: Workspace, text: str) -> None:
        super().__init__("Your own click error")
        self._workspace = workspace
        book = workspace.book()
        self._settings = (book.get_setting(OWN_CLICK), text)
        before = book.views()
        after = [replace(stored, document=text_clicked_by(text, stored.document)) for stored in before]
        self._views = (before, after)
        self._other_side: dict[Serve, Serve] = {}

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the setting, the views of one side, and where they place their serves."""
        old, new = self._settings if forward else self._settings[::-1]
        before, after = self._views if forward else self._views[::-1]
        with logbook.one_change():
            if logbook.get_setting(OWN_CLICK) != old or logbook.views() != before:
                raise UserError(CHANGED_ELSEWHERE)
            logbook.set_setting(OWN_CLICK, new)
            logbook.put(*after)
            serves = logbook.serves()
            anew = self._placed_anew(logbook, serves)
            moved = {serve: self._other_side.get(serve) or anew.get(serve, serve) for serve in serves}
            logbook.put(*moved.values())
        self._other_side = {new: old for old, new in moved.items()}

    def _placed_anew(self, logbook: Logbook, serves: Sequence[Serve]) -> dict[Serve, Serve]:
        scales = time_scales(logbook.clips(), columns_of(serves))
        workspace = self._workspace
        if workspace.clip is not None and workspace.clip_entry is not None:
            scales[workspace.clip_entry.id] = workspace.time_scale
        placed: dict[Serve, Serve] = {}
        for stored in logbook.views():
            view = _readable(stored)
            if view is None:
                continue
            seen = [serve for serve in serves if serve.view_id == stored.id]
            for clip_id in {serve.clip_id for serve in seen}:
                of_clip = [serve for serve in seen if serve.clip_id == clip_id]
                placed |= zip(of_clip, place_all(of_clip, view, scales.get(clip_id, 1.0)), strict=True)
        return placed

    def redo(self) -> None:
        self._show()

    def undo(self) -> None:
        self._show()

    def _show(self) -> None:
        entry = self._workspace.clip_entry
        if entry is not None:
            self._workspace.show_view(entry)


def _readable(stored: StoredView) -> View | None:
    try:
        return view_from_text(stored.document)
    except UserError:
        return None
