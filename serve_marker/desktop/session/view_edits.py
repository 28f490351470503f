"""The view of a clip, segment by segment where its camera was moved, and the edits of views that can be undone."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from serve_marker.camera.fitting.repeatability import OWN_CLICK, text_clicked_by
from serve_marker.camera.view.view import Trace, View
from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.court.dimensions import COURTS, Court
from serve_marker.desktop.session.edits import CHANGED_ELSEWHERE, TimeScale, Touched, UndoableEdit
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, Gym, Practice, Serve, StoredView
from serve_marker.logbook.serve_arrays import columns_of
from serve_marker.logbook.store import Logbook
from serve_marker.marking.landing import place_all
from serve_marker.plain_json import read_json, texts_of, told_as
from serve_marker.study.flight_columns import time_scales


@dataclass(frozen=True)
class ViewState:
    """Everything a change of view touches: what was marked, the stored view, and the clip that uses it.

    ``from_s`` is where the segment of the clip begins to which all this belongs; ``skipped`` are landmarks left out;
    ``clicked`` is where landmarks were clicked that move to their crossing, also while they still lie there.
    """

    marks: tuple[tuple[str, tuple[float, float]], ...]
    court: Court
    net_height_m: float
    clip: ClipEntry
    stored: StoredView | None = None
    gym: Gym | None = None
    traces: tuple[tuple[str, Trace], ...] = ()
    from_s: float = 0.0
    skipped: tuple[str, ...] = ()
    clicked: tuple[tuple[str, tuple[float, float]], ...] = ()

    def using(self, view_id: str | None) -> ViewState:
        """Return the state with another view, or none, in its segment."""
        if self.from_s == 0.0:
            return replace(self, clip=replace(self.clip, view_id=view_id))
        later = tuple((from_s, view_id if from_s == self.from_s else kept) for from_s, kept in self.clip.later_views)
        return replace(self, clip=replace(self.clip, later_views=later))


def segment_at(entry: ClipEntry, time_s: float) -> tuple[float, str | None]:
    """Return when the segment of a clip that holds at a time begins, and the id of its view.

    Examples
    --------
    >>> entry = ClipEntry(
    ...     id="c", practice_id="p", path="", size_bytes=0, fingerprint="", view_id="1", later_views=((20.0, "2"),)
    ... )
    >>> segment_at(entry, 19.9), segment_at(entry, 20.0)
    ((0.0, '1'), (20.0, '2'))
    """
    begun = [segment for segment in entry.later_views if segment[0] <= time_s]
    return max(begun) if begun else (0.0, entry.view_id)


def court_text(court: Court) -> str:
    """Return a court as a gym keeps it."""
    return json.dumps(court.to_dict(), sort_keys=True)


def _court_at(logbook: Logbook, entry: ClipEntry) -> Court:
    """The court the coach said a clip's gym, or the only gym there is, has; the indoor court where she said none."""
    gyms = logbook.gyms()
    named = {practice.gym_id for practice in logbook.practices() if practice.id == entry.practice_id}
    likely = [gym for gym in gyms if gym.id in named] or (gyms if len(gyms) == 1 else [])
    told = next((gym.court for gym in likely if gym.court), "")
    with told_as("The court of this gym cannot be read; choose it again in Set up."):
        return Court.from_dict(read_json(told)) if told else COURTS["indoor"]


def _draft_text(state: ViewState) -> str:
    return json.dumps(
        {
            "court": state.court.to_dict(),
            "net_height_m": state.net_height_m,
            "marks": dict(state.marks),
            "clicked": dict(state.clicked),
            "traces": dict(state.traces),
            "skipped": state.skipped,
        }
    )


def view_state_at(logbook: Logbook, entry: ClipEntry, time_s: float) -> tuple[View | None, ViewState]:
    """Return the view that holds at a time of a clip, and the state it came from; landmarks alone until it is one."""
    from_s, view_id = segment_at(entry, time_s)
    stored = next((view for view in logbook.views() if view.id == view_id), None)
    draft = _draft_at(logbook, entry, from_s)
    if stored is not None:
        view = view_from_text(stored.document)
        gym = next((gym for gym in logbook.gyms() if gym.id == stored.gym_id), None)
        marks, traces = tuple(view.marks.items()), tuple(view.traces.items())
        clicked = tuple(view.clicked.items())
        return view, ViewState(
            marks, view.court, view.net_height_m, entry, stored, gym, traces, from_s, draft.skipped, clicked
        )
    return None, draft


def _draft_at(logbook: Logbook, entry: ClipEntry, from_s: float) -> ViewState:
    """What is marked so far of the view that is to hold from a time on."""
    text = logbook.view_draft(entry.id, from_s)
    with told_as("The marks of this view cannot be read. Begin Set up again."):
        draft: dict[str, Any] = read_json(text) if text else {"court": _court_at(logbook, entry).to_dict()}
        court = Court.from_dict(draft["court"])
        net_height_m = float(draft.get("net_height_m") or court.net_heights[0].height_m)
        marks, clicked = (
            tuple((str(name), (float(x), float(y))) for name, (x, y) in draft.get(kind, {}).items())
            for kind in ("marks", "clicked")
        )
        traces = tuple(
            (str(line), tuple((float(x), float(y)) for x, y in points))
            for line, points in draft.get("traces", {}).items()
        )
        skipped = texts_of(draft.get("skipped", []))
    return ViewState(marks, court, net_height_m, entry, None, None, traces, from_s, skipped, clicked)


@dataclass(frozen=True)
class ChangeView(UndoableEdit):
    """The view of a clip before and after; the clip's serves, as they are by then, are placed anew.

    Parameters
    ----------
    made : stored views that come with the edit and go with its undo.
    time_scale : the clip's.
    nudged : the mark that is being nudged, "" for none; nudges of one mark in a row are one step of undo.
    practice : the practice before and after, where it gets another gym.
    """

    text: str
    before: ViewState
    after: ViewState
    time_scale: TimeScale
    made: tuple[StoredView, ...] = ()
    nudged: str = ""
    practice: tuple[Practice, Practice] | None = None

    def followed_by(self, later: UndoableEdit) -> ChangeView | None:
        """Return both as one step where they nudge the same mark."""
        if not isinstance(later, ChangeView) or not self.nudged or later.nudged != self.nudged:
            return None
        return None if self.made or later.made else replace(self, after=later.after)

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the view, which view the clip uses, and where that view places its serves."""
        before, after = (self.before, self.after) if forward else (self.after, self.before)
        with logbook.one_change():
            entry = next((clip for clip in logbook.clips() if clip.id == after.clip.id), None)
            if entry is None or _views_in(entry) != _views_in(before.clip):
                raise UserError(CHANGED_ELSEWHERE)
            if after.stored is None or after.skipped != before.skipped:
                logbook.put_view_draft(entry.id, after.from_s, _draft_text(after))
            if after.stored is not None:
                self._write_view(logbook, before, after, after.stored)
            if self.practice is not None:
                old, new = self.practice if forward else self.practice[::-1]
                if old not in logbook.practices():
                    raise UserError(CHANGED_ELSEWHERE)
                logbook.put(new)
            if forward:
                logbook.put(*(made for made in self.made if made != after.stored))
            logbook.put(replace(entry, view_id=after.clip.view_id, later_views=after.clip.later_views))
            self._place(logbook, after, entry.filmed_at_fps)
            if not forward:
                for made in self.made:
                    _require_to_itself(logbook, made, entry)
                    _require_kept(made, logbook.views())
                logbook.remove(*self.made)

    def _write_view(self, logbook: Logbook, before: ViewState, after: ViewState, stored: StoredView) -> None:
        if after.gym is not None and after.gym.id not in {gym.id for gym in logbook.gyms()}:
            logbook.put(after.gym)
        known = logbook.views()
        if stored in self.made and stored.id not in {view.id for view in known}:
            logbook.put(stored)
        elif before.stored is not None and before.stored.id == stored.id:
            _require_kept(before.stored, known)
            if before.stored.document != stored.document:
                _require_to_itself(logbook, stored, after.clip)
            logbook.put(stored)
        else:
            _require_kept(stored, known)

    def _place(self, logbook: Logbook, after: ViewState, filmed_at_fps: float | None) -> None:
        documents = {view.id: view.document for view in logbook.views()}
        by_view: dict[str | None, list[Serve]] = {}
        for serve in logbook.serves(clip_id=after.clip.id):
            _, view_id = segment_at(after.clip, serve.moment_s or 0.0)
            by_view.setdefault(view_id if view_id in documents else None, []).append(serve)
        for view_id, serves in by_view.items():
            of_view = [replace(serve, view_id=view_id, landing_point=None, contact_point=None) for serve in serves]
            if view_id is not None:
                view = view_from_text(documents[view_id])
                of_view = place_all(of_view, view, self.time_scale(filmed_at_fps))
            logbook.put(*(new for old, new in zip(serves, of_view, strict=True) if new != old))

    def touches(self, *, forward: bool) -> Touched:
        """Return that a view was changed."""
        return Touched(views=True, records=self.practice is not None, clip_ids=(self.after.clip.id,))


def clips_using(logbook: Logbook, view_id: str) -> list[ClipEntry]:
    """Return the clips in which a view holds, all through or in a segment."""
    return [clip for clip in logbook.clips() if view_id in _views_in(clip).values()]


def _views_in(clip: ClipEntry) -> dict[float, str | None]:
    return {0.0: clip.view_id, **dict(clip.later_views)}


def _require_kept(expected: StoredView, views: Sequence[StoredView]) -> None:
    if expected not in views:
        raise UserError(CHANGED_ELSEWHERE)


def _require_to_itself(logbook: Logbook, stored: StoredView, entry: ClipEntry) -> None:
    if any(clip.id != entry.id for clip in clips_using(logbook, stored.id)):
        raise UserError(f"Another clip uses the view {stored.name} by now, so nothing was changed.")


class ChangeOwnClick(UndoableEdit):
    """How far the coach's clicks are off before and after; stored views count with it, all serves are placed anew.

    Views that cannot be read stay as they are, and so do their serves. Serves that are still as this edit wrote them
    go back to exactly where they were.

    Parameters
    ----------
    words : what undo calls it.
    text : the setting from now on.
    open_clips : by id, the time scales of clips whose film is at hand; others go by the frames around their marks.
    """

    def __init__(self, logbook: Logbook, words: str, text: str, open_clips: Mapping[str, TimeScale]) -> None:
        self.text = words
        self._settings = (logbook.get_setting(OWN_CLICK), text)
        before = logbook.views()
        after = [replace(stored, document=text_clicked_by(text, stored.document)) for stored in before]
        self._views = (before, after)
        self._open_clips = open_clips
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
        clips = logbook.clips()
        scales = time_scales(clips, columns_of(serves))
        for clip in clips:
            if clip.id in self._open_clips:
                scales[clip.id] = self._open_clips[clip.id](clip.filmed_at_fps)
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

    def touches(self, *, forward: bool) -> Touched:
        """Return that views were changed."""
        return Touched(views=True)


def _readable(stored: StoredView) -> View | None:
    try:
        return view_from_text(stored.document)
    except UserError:
        return None
