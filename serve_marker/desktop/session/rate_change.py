"""The change of the rate a clip was filmed at, which can be undone."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.desktop.session.edits import CHANGED_ELSEWHERE, Change
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry
from serve_marker.marking.landing import place_all

if TYPE_CHECKING:
    from serve_marker.desktop.session.workspace import Workspace
    from serve_marker.logbook.store import Logbook
    from serve_marker.video.clip import Clip


class ChangeCaptureRate(Change):
    """The rate a clip was filmed at before and after; its serves, as they are by then, are placed in the true time."""

    def __init__(self, workspace: Workspace, text: str, clip: Clip, before: ClipEntry, after: ClipEntry) -> None:
        super().__init__(text)
        self._workspace = workspace
        self._clip = clip
        self._before = before
        self._after = after

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the rate, and where the serves' views place them at it."""
        before, after = (self._before, self._after) if forward else (self._after, self._before)
        with logbook.one_change():
            entry = next((clip for clip in logbook.clips() if clip.id == after.id), None)
            if entry is None or entry.filmed_at_fps != before.filmed_at_fps:
                raise UserError(CHANGED_ELSEWHERE)
            logbook.put(replace(entry, filmed_at_fps=after.filmed_at_fps))
            serves = logbook.serves(clip_id=entry.id)
            for stored in logbook.views():
                of_view = [serve for serve in serves if serve.view_id == stored.id]
                if of_view:
                    view = view_from_text(stored.document)
                    logbook.put(*place_all(of_view, view, self._clip.time_scale(after.filmed_at_fps)))

    def redo(self) -> None:
        self._workspace.show_view(self._after)

    def undo(self) -> None:
        self._workspace.show_view(self._before)
