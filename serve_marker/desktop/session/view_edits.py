"""The view of a clip, stretch by stretch where its camera was moved, and the change of it that can be undone."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from PySide6.QtGui import QUndoCommand

from serve_marker.camera.view.view import Trace, View
from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.court.dimensions import COURTS, Court
from serve_marker.desktop.session.edits import CHANGED_ELSEWHERE, Change
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, Gym, Serve, StoredView
from serve_marker.marking.landing import place_all

if TYPE_CHECKING:
    from serve_marker.desktop.session.workspace import Workspace
    from serve_marker.logbook.store import Logbook

Later = tuple[tuple[float, str | None], ...]
"""When [s] each stretch of a clip after its first one begins, and the id of the view that holds there, if any."""

MERGING_ID = 1


@dataclass(frozen=True)
class ViewState:
    """Everything a change of view touches: what was marked, the stored view, and the clip that uses it.

    ``from_s`` is where the stretch of the clip begins to which all this belongs, ``later`` are the stretches after the
    first one.
    """

    marks: tuple[tuple[str, tuple[float, float]], ...]
    court: Court
    net_height_m: float
    clip: ClipEntry
    stored: StoredView | None = None
    gym: Gym | None = None
    traces: tuple[tuple[str, Trace], ...] = ()
    from_s: float = 0.0
    later: Later = ()

    def using(self, view_id: str | None) -> ViewState:
        """Return the state with another view, or none, in its stretch."""
        if self.from_s == 0.0:
            return replace(self, clip=replace(self.clip, view_id=view_id))
        later = tuple((from_s, view_id if from_s == self.from_s else kept) for from_s, kept in self.later)
        return replace(self, later=later)


def segment_at(entry: ClipEntry, later: Later, time_s: float) -> tuple[float, str | None]:
    """Return when the stretch of a clip that holds at a time begins, and the id of its view.

    Examples
    --------
    >>> entry = ClipEntry(id="c", practice_id="p", path="", size_bytes=0, fingerprint="", view_id="first")
    >>> segment_at(entry, ((20.0, "second"),), 19.9), segment_at(entry, ((20.0, "second"),), 20.0)
    ((0.0, 'first'), (20.0, 'second'))
    """
    begun = [stretch for stretch in later if stretch[0] <= time_s]
    return max(begun) if begun else (0.0, entry.view_id)


def later_segments(logbook: Logbook, clip_id: str) -> Later:
    """Return the stretches of a clip after its first one, as the logbook keeps them."""
    text = logbook.get_setting(_later_key(clip_id))
    return tuple((float(from_s), view_id) for from_s, view_id in json.loads(text)) if text else ()


def _later_key(clip_id: str) -> str:
    return f"stretches {clip_id}"


def _draft_key(clip_id: str, from_s: float) -> str:
    """The setting that keeps a stretch's landmarks until they are enough for a view."""
    return f"landmarks {clip_id}" + (f" {from_s:.3f}" if from_s else "")


def _draft_text(state: ViewState) -> str:
    return json.dumps(
        {
            "court": state.court.to_dict(),
            "net_height_m": state.net_height_m,
            "marks": dict(state.marks),
            "traces": dict(state.traces),
        }
    )


def view_state_at(logbook: Logbook, entry: ClipEntry, time_s: float) -> tuple[View | None, ViewState]:
    """Return the view that holds at a time of a clip, and the state it came from; landmarks alone until it is one."""
    later = later_segments(logbook, entry.id)
    from_s, view_id = segment_at(entry, later, time_s)
    stored = next((view for view in logbook.views() if view.id == view_id), None)
    if stored is not None:
        view = view_from_text(stored.document)
        gym = next((gym for gym in logbook.gyms() if gym.id == stored.gym_id), None)
        marks, traces = tuple(view.marks.items()), tuple(view.traces.items())
        return view, ViewState(marks, view.court, view.net_height_m, entry, stored, gym, traces, from_s, later)
    text = logbook.get_setting(_draft_key(entry.id, from_s))
    draft: dict[str, Any] = json.loads(text) if text else {"court": COURTS["indoor"].to_dict()}
    court = Court.from_dict(draft["court"])
    net_height_m = draft.get("net_height_m") or court.net_heights[0].height_m
    marks = tuple((name, (float(x), float(y))) for name, (x, y) in draft.get("marks", {}).items())
    traces = tuple(
        (line, tuple((float(x), float(y)) for x, y in points)) for line, points in draft.get("traces", {}).items()
    )
    return None, ViewState(marks, court, net_height_m, entry, None, None, traces, from_s, later)


class ChangeView(Change):
    """The view of a clip before and after; the clip's serves, as they are by then, are placed anew.

    ``also_made`` are views of other stretches that come with the change; ``merging`` names a mark that is being
    nudged: nudges of one mark in a row are one step of undo.
    """

    def __init__(
        self,
        workspace: Workspace,
        text: str,
        before: ViewState,
        after: ViewState,
        also_made: Sequence[StoredView] = (),
        merging: str = "",
    ) -> None:
        super().__init__(text)
        self._workspace = workspace
        self._before = before
        self._after = after
        self._merging = merging
        self._time_scale_then = workspace.time_scale
        known = workspace.stored_views()
        made = (after.stored,) if after.stored is not None and after.stored.id not in known else ()
        self._made: tuple[StoredView, ...] = (*made, *also_made)

    def id(self) -> int:
        return MERGING_ID if self._merging else -1

    def mergeWith(self, other: QUndoCommand) -> bool:
        if not isinstance(other, ChangeView) or other._merging != self._merging or self._made or other._made:
            return False
        self._after = other._after
        return True

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the view, which view the clip uses, and where that view places its serves."""
        before, after = (self._before, self._after) if forward else (self._after, self._before)
        with logbook.one_change():
            entry = next((clip for clip in logbook.clips() if clip.id == after.clip.id), None)
            now = None if entry is None else (entry.view_id, later_segments(logbook, entry.id))
            if entry is None or now != (before.clip.view_id, before.later):
                raise UserError(CHANGED_ELSEWHERE)
            if after.stored is None:
                logbook.set_setting(_draft_key(entry.id, after.from_s), _draft_text(after))
            else:
                self._write_view(logbook, before, after, after.stored)
            if forward:
                logbook.put(*(made for made in self._made if made != after.stored))
            if after.later != before.later:
                logbook.set_setting(_later_key(entry.id), json.dumps(after.later))
            logbook.put(replace(entry, view_id=after.clip.view_id))
            self._place(logbook, after)
            if not forward:
                for made in self._made:
                    _require_to_itself(logbook, made, entry)
                    _require_kept(made, logbook.views())
                logbook.remove(*self._made)

    def _write_view(self, logbook: Logbook, before: ViewState, after: ViewState, stored: StoredView) -> None:
        if after.gym is not None and after.gym.id not in {gym.id for gym in logbook.gyms()}:
            logbook.put(after.gym)
        known = logbook.views()
        if stored in self._made and stored.id not in {view.id for view in known}:
            logbook.put(stored)
        elif before.stored is not None and before.stored.id == stored.id:
            _require_kept(before.stored, known)
            if before.stored.document != stored.document:
                _require_to_itself(logbook, stored, after.clip)
            logbook.put(stored)
        else:
            _require_kept(stored, known)

    def _place(self, logbook: Logbook, after: ViewState) -> None:
        documents = {view.id: view.document for view in logbook.views()}
        by_view: dict[str | None, list[Serve]] = {}
        for serve in logbook.serves(clip_id=after.clip.id):
            _, view_id = segment_at(after.clip, after.later, serve.moment_s or 0.0)
            by_view.setdefault(view_id if view_id in documents else None, []).append(serve)
        for view_id, serves in by_view.items():
            of_view = [replace(serve, view_id=view_id, landing_point=None, contact_point=None) for serve in serves]
            if view_id is not None:
                view = view_from_text(documents[view_id])
                of_view = place_all(of_view, view, self._time_scale(after.clip))
            logbook.put(*(new for old, new in zip(serves, of_view, strict=True) if new != old))

    def _time_scale(self, entry: ClipEntry) -> float:
        open_entry = self._workspace.clip_entry
        is_open = open_entry is not None and open_entry.id == entry.id
        return self._workspace.time_scale if is_open else self._time_scale_then

    def redo(self) -> None:
        self._workspace.show_view(self._after.clip)

    def undo(self) -> None:
        self._workspace.show_view(self._before.clip)


def clips_using(logbook: Logbook, view_id: str) -> list[ClipEntry]:
    """Return the clips in which a view holds, all through or in a stretch."""
    return [
        clip
        for clip in logbook.clips()
        if view_id in (clip.view_id, *(later_id for _, later_id in later_segments(logbook, clip.id)))
    ]


def _require_kept(expected: StoredView, views: Sequence[StoredView]) -> None:
    if expected not in views:
        raise UserError(CHANGED_ELSEWHERE)


def _require_to_itself(logbook: Logbook, stored: StoredView, entry: ClipEntry) -> None:
    if any(clip.id != entry.id for clip in clips_using(logbook, stored.id)):
        raise UserError(f"Another clip uses the view {stored.name} by now, so nothing was changed.")
