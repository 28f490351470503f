"""The edits of a logbook's clips that can be undone: to another practice, and out of the logbook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from serve_marker.desktop.session.edits import CHANGED_ELSEWHERE, Touched, UndoableEdit
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, Practice, Serve
from serve_marker.logbook.store import Logbook


@dataclass(frozen=True)
class MoveClips(UndoableEdit):
    """Clips as they were, and the practice they go to; one that is new comes with the edit and goes with its undo."""

    text: str
    before: Sequence[ClipEntry]
    practice: Practice

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write to which practice the clips belong, unless another window moved or removed one of them."""
        with logbook.one_change():
            found = {clip.id: clip for clip in logbook.clips()}
            if forward and self.practice.id not in {practice.id for practice in logbook.practices()}:
                logbook.put(self.practice)
            for clip in self.before:
                there, here = (self.practice.id, clip.practice_id) if forward else (clip.practice_id, self.practice.id)
                if clip.id not in found or found[clip.id].practice_id != here:
                    raise UserError(CHANGED_ELSEWHERE)
                logbook.put(replace(found[clip.id], practice_id=there))
            if not forward and self.practice in logbook.practices() and not logbook.clips(self.practice.id):
                logbook.remove(self.practice)

    def touches(self, *, forward: bool) -> Touched:
        """Return that clips were moved."""
        return Touched(clips=True, clip_ids=tuple(clip.id for clip in self.before))


@dataclass(frozen=True)
class WholeClip:
    """A clip with all a logbook knows of it; ``drafts`` are views not yet made, by when in the clip they begin [s]."""

    entry: ClipEntry
    serves: tuple[Serve, ...]
    drafts: tuple[tuple[float, str], ...]
    checked_view_id: str | None


def whole_clip(logbook: Logbook, entry: ClipEntry) -> WholeClip:
    """Return a clip with all the logbook knows of it."""
    begins_s = (0.0, *(from_s for from_s, _ in entry.later_views))
    drafts = ((from_s, logbook.view_draft(entry.id, from_s)) for from_s in begins_s)
    serves = tuple(logbook.serves(clip_id=entry.id))
    return WholeClip(entry, serves, tuple(draft for draft in drafts if draft[1]), logbook.checked_view(entry.id))


@dataclass(frozen=True)
class RemoveClips(UndoableEdit):
    """Clips taken out of the logbook with their serves; the film files stay."""

    text: str
    clips: Sequence[WholeClip]

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Take the clips out, unless another window changed one of them, or put them back whole."""
        with logbook.one_change():
            for clip in self.clips:
                if forward:
                    if clip.entry not in logbook.clips() or whole_clip(logbook, clip.entry) != clip:
                        raise UserError(CHANGED_ELSEWHERE)
                    logbook.remove(*clip.serves, clip.entry)
                else:
                    _put_back(logbook, clip)

    def touches(self, *, forward: bool) -> Touched:
        """Return that clips came or went."""
        return Touched(clips=True, clip_ids=tuple(clip.entry.id for clip in self.clips))


def _put_back(logbook: Logbook, clip: WholeClip) -> None:
    logbook.put(clip.entry, *clip.serves)
    for from_s, document in clip.drafts:
        logbook.put_view_draft(clip.entry.id, from_s, document)
    if clip.checked_view_id is not None:
        logbook.put_checked_view(clip.entry.id, clip.checked_view_id)
