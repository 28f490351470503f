"""The coach's own click error: the change that lets every stored view count with it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from serve_marker.camera.repeatability import OWN_CLICK, clicked_by
from serve_marker.camera.viewfile import view_from_text, view_to_text
from serve_marker.desktop.commands import CHANGED_ELSEWHERE, Change
from serve_marker.errors import UserError
from serve_marker.logbook.columns import columns_of
from serve_marker.logbook.records import StoredView
from serve_marker.marking import place_all
from serve_marker.study.flown import time_scales
from serve_marker.view_check import reference_of, with_reference

if TYPE_CHECKING:
    from serve_marker.desktop.workspace import Workspace
    from serve_marker.logbook.store import Logbook


class ChangeOwnClick(Change):
    """The setting before and after; every stored view counts with it, and all serves are placed anew."""

    def __init__(self, workspace: Workspace, text: str) -> None:
        super().__init__("Your own click error")
        self._workspace = workspace
        book = workspace.book()
        self._settings = (book.get_setting(OWN_CLICK), text)
        before = book.views()
        self._views = (before, [_counting_with(text, stored) for stored in before])

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the setting, the views of one side, and where they place their serves."""
        old, new = self._settings if forward else self._settings[::-1]
        before, after = self._views if forward else self._views[::-1]
        with logbook.one_change():
            if logbook.get_setting(OWN_CLICK) != old or logbook.views() != before:
                raise UserError(CHANGED_ELSEWHERE)
            logbook.set_setting(OWN_CLICK, new)
            logbook.put(*after)
            _place_all_anew(logbook)

    def redo(self) -> None:
        self._show()

    def undo(self) -> None:
        self._show()

    def _show(self) -> None:
        entry = self._workspace.clip_entry
        if entry is not None:
            self._workspace.show_view(entry)


def _counting_with(text: str, stored: StoredView) -> StoredView:
    document = view_to_text(clicked_by(text, view_from_text(stored.document, stored.name)))
    picture = reference_of(stored.document)
    return replace(stored, document=document if picture is None else with_reference(document, picture))


def _place_all_anew(logbook: Logbook) -> None:
    serves = logbook.serves()
    scales = time_scales(logbook.clips(), columns_of(serves))
    for stored in logbook.views():
        view = view_from_text(stored.document, stored.name)
        seen = [serve for serve in serves if serve.view_id == stored.id]
        for clip_id in {serve.clip_id for serve in seen}:
            of_clip = [serve for serve in seen if serve.clip_id == clip_id]
            logbook.put(*place_all(of_clip, view, scales.get(clip_id, 1.0)))
