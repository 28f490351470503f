"""Serves of the open clip found in the background; each is in the logbook before anybody is told of it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from PySide6.QtCore import QObject, QStandardPaths, Qt, Signal

from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.desktop.session.proposal_marks import stored_proposal
from serve_marker.desktop.session.view_edits import segment_at
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, ServeSearch, StoredProposal, StoredView
from serve_marker.logbook.store import Logbook
from serve_marker.marking.view_reference import reference_of
from serve_marker.spotting.confidence import LEAST
from serve_marker.spotting.proposals import Proposal
from serve_marker.spotting.serves import SHARED_TIME, shared_time
from serve_marker.spotting.spot import spot
from serve_marker.video.clip import Clip
from serve_marker.video.frame_times import clock
from serve_marker.video.progress import PARTS, IsCancelled, Progress

NO_CLIP = "Open a clip first; then its serves can be found."
NO_VIEW = "Set up the view first; without it no ball can be followed."
NO_PLACE = "The view does not know the camera's place. Mark more corners, or the net's tops."


@dataclass(frozen=True, eq=False)
class SearchTask:
    """What is searched: a clip by a stored view, for serves from one end, or from both where ``served_from`` is ""."""

    logbook: Logbook
    entry: ClipEntry
    clip: Clip
    stored: StoredView
    served_from: str


class ServeFinder(QObject):
    """Looks for serves on the open clip, as long as it is open.

    Signals
    -------
    found : one more proposal is in the logbook.
    changed : the search has begun, come on or ended.
    """

    found = Signal()
    changed = Signal()
    _came = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._worker = Worker("spot", self)
        self.percent = 0
        self._worker.progressed.connect(self._come_on, Qt.ConnectionType.QueuedConnection)
        self._came.connect(self.found, Qt.ConnectionType.QueuedConnection)
        workspace.clip_changed.connect(self.stop)

    @property
    def busy(self) -> bool:
        """Whether serves are being looked for."""
        return self._worker.busy

    @property
    def why_not(self) -> str:
        """What stands in the way of a search, "" for nothing."""
        if self._workspace.clip is None:
            return NO_CLIP
        view = self._workspace.view
        if view is None:
            return NO_VIEW
        return NO_PLACE if view.camera_position_m is None else ""

    def search(self) -> ServeSearch | None:
        """Return what is known of the search on the open clip, None where there was none."""
        entry = self._workspace.clip_entry
        return None if entry is None else self._workspace.book().serve_search(entry.id)

    def begin(self, served_from: str) -> None:
        """Look for serves from an end, "" for both; what is known already is left as it is."""
        if self.why_not:
            raise UserError(self.why_not)
        workspace = self._workspace
        entry, clip, state = workspace.clip_entry, workspace.clip, workspace.view_state
        if entry is None or clip is None or state is None or state.stored is None:
            raise UserError(NO_VIEW)
        workspace.book().put(ServeSearch(id=entry.id, served_from=served_from))
        self.percent = 0
        true = replace(clip, capture_rate=entry.filmed_at_fps)
        task = SearchTask(workspace.book(), entry, true, state.stored, served_from)
        work = (task, self._worker.progressed.emit, self._worker.cancelled, self._came.emit)
        self._worker.submit(find_serves, *work, done=self._finished, failed=self._failed)
        self.changed.emit()

    def stop(self) -> None:
        """Look no further; what was found stays."""
        if self.busy:
            self._worker.cancel()
            self.changed.emit()

    def close(self) -> None:
        """Let the work that runs end."""
        self._worker.close()

    def _come_on(self, done: int, of: int) -> None:
        percent = 100 * done // of
        if self.busy and percent != self.percent:
            self.percent = percent
            self.changed.emit()

    def _finished(self, moved_s: float | None) -> None:
        self.changed.emit()
        if moved_s is not None:
            self._workspace.message.emit(
                f"The camera moved at {clock(moved_s)}. Set up the view from there, then find serves again."
            )

    def _failed(self, error: BaseException) -> None:
        self.changed.emit()
        self._workspace.message.emit(str(error))


def find_serves(
    task: SearchTask, progress: Progress, cancelled: IsCancelled, told: Callable[[], object]
) -> float | None:
    """Write what is found into the logbook as it comes; returns when [s] the camera stood where no view is known.

    Raises
    ------
    UserError
        Where the view does not hold for the clip, or a file cannot be read or written.
    Cancelled
        Where ``cancelled`` says so.
    """
    view, moved_s = view_from_text(task.stored.document), list[float]()

    def keep(found: Proposal) -> None:
        if task.served_from == found.served_to or found.confidence < LEAST:
            return
        if not _is_placed(found, view, task):
            moved_s.append(found.contact_s)
            return
        proposal = stored_proposal(found, task.clip, task.entry.id)
        if _is_new(proposal, task.logbook):
            task.logbook.put(proposal)
            told()

    so_far = progress_file(task.entry.id)
    spot(task.clip, view, reference_of(task.stored.document), progress, cancelled, keep, kept_in=so_far)
    task.logbook.put(ServeSearch(id=task.entry.id, served_from=task.served_from, finished=not moved_s))
    if so_far is not None:
        so_far.unlink(missing_ok=True)
    progress(PARTS, PARTS)
    return min(moved_s, default=None)


def progress_file(clip_id: str) -> Path | None:
    """Return where the search of a clip goes on from once it was broken off, among this computer's caches.

    None where nothing can be kept there; the search then begins anew.
    """
    caches = Path(QStandardPaths.writableLocation(QStandardPaths.StandardLocation.CacheLocation))
    with suppress(OSError):
        caches.mkdir(parents=True, exist_ok=True)
        return caches / f"{hashlib.sha256(clip_id.encode()).hexdigest()[:32]}.search"
    return None


def _is_placed(found: Proposal, view: View, task: SearchTask) -> bool:
    """Whether the clip has a view where a proposal lies: the searched one, or where that is moved one of its own."""
    view_id = segment_at(task.entry, found.landing_s)[1]
    if view_id != task.stored.id:
        return view_id is not None
    return np.array_equal(found.view.homography, view.homography)


def _is_new(proposal: StoredProposal, logbook: Logbook) -> bool:
    """Whether nothing is known of this serve; what is less sure and not answered makes way."""
    known = logbook.proposals(proposal.serve.clip_id)
    rivals = [one for one in known if shared_time(_span_s(one), _span_s(proposal)) > SHARED_TIME]
    if any(one.answer or one.confidence >= proposal.confidence for one in rivals):
        return False
    logbook.remove(*rivals)
    return True


def _span_s(proposal: StoredProposal) -> tuple[float, float]:
    contact, landing = proposal.serve.contact, proposal.serve.landing
    assert contact is not None
    assert landing is not None
    return contact.time_s, landing.time_s
