"""Landings and contacts clicked are sharpened from the film around them, off the window's thread, as steps of undo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QObject, Signal

from serve_marker.desktop.session.edits import ChangeServes
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.records import Mark, Serve
from serve_marker.marking.film_sharpening import BOTH_ENDS, End, sharpened
from serve_marker.marking.landing import place_all
from serve_marker.video.frames import FrameReader

SHARPENED = "Sharpened from the film"
REFUSED = "Clicks stand again"
EndMarks = tuple[Mark | None, Mark | None]


class TouchFinder(QObject):
    """Follows the workspace: an end that is clicked or moved is looked for on the film, one serve after the other.

    A contact is looked for once the landing is there as well, for both together tell how the ball was hit.

    Signals
    -------
    sharpened(serve_id) : the film has told more of this serve.
    """

    sharpened = Signal(str)

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._worker = Worker("touch", self)
        self._seen: dict[str, EndMarks] = {}
        self._waiting: list[tuple[str, list[End]]] = []
        self._refused: set[tuple[str, End]] = set()
        self._reader: FrameReader | None = None
        workspace.clip_changed.connect(self._begin)
        workspace.serves_changed.connect(self._look_for_new)

    @property
    def busy(self) -> bool:
        """Whether something is still looked for."""
        return self._worker.busy

    def close(self) -> None:
        """Let the work that runs end."""
        self._waiting.clear()
        self._worker.close()

    def refuse(self) -> None:
        """The chosen serve's ends are where they were clicked, whatever the film shows.

        Raises
        ------
        UserError
            Where no serve is chosen, or the film did not sharpen it.
        """
        chosen = self._workspace.selected_serves()
        if len(chosen) != 1 or not (chosen[0].film_marks or chosen[0].contact_film_marks):
            raise UserError("Choose one serve that was sharpened from the film; then its clicks stand again.")
        self._refused |= {(chosen[0].id, end) for end in BOTH_ENDS}
        self._change(REFUSED, chosen[0], replace(chosen[0], film_marks=(), contact_film_marks=()))

    def _begin(self) -> None:
        self._worker.cancel()
        self._waiting.clear()
        self._refused.clear()
        self._seen = {serve.id: (serve.contact, serve.landing) for serve in self._workspace.serves}
        self._reader = None

    def _look_for_new(self) -> None:
        for serve in self._workspace.serves:
            contact, landing = self._seen.get(serve.id, (None, None))
            self._seen[serve.id] = serve.contact, serve.landing
            if serve.contact != contact:
                self._refused.discard((serve.id, "contact"))
            if serve.landing != landing:
                self._refused.discard((serve.id, "landing"))
            asked: list[End] = []
            if serve.landing != landing and not serve.film_marks:
                asked.append("landing")
            if (serve.contact, serve.landing) != (contact, landing) and not serve.contact_film_marks:
                asked.append("contact")
            if asked and serve.landing is not None and serve.landing.pixel is not None:
                self._waiting.append((serve.id, asked))
        self._next()

    def _next(self) -> None:
        workspace = self._workspace
        while self._waiting and not self._worker.busy and workspace.clip is not None and workspace.view is not None:
            serve_id, asked = self._waiting.pop(0)
            serve = self._serve(serve_id)
            if serve is None:
                continue
            if self._reader is None or self._reader.clip is not workspace.clip:
                try:
                    self._reader = FrameReader(workspace.clip)
                except UserError:
                    return

            def found(sharp: Serve, of: Serve = serve, asked: Sequence[End] = asked) -> None:
                self._found(of, sharp, asked)

            work = (serve, workspace.view, self._reader, workspace.time_scale, asked)
            self._worker.submit(sharpened, *work, done=found, failed=lambda _error: self._next())

    def _found(self, of: Serve, sharp: Serve, asked: Sequence[End]) -> None:
        """Take over what was found of each end that was asked for and is still as it was."""
        serve = self._serve(of.id)
        if serve is not None and serve.outcome == of.outcome and not self._workspace.history.stack.canRedo():
            wanted = [end for end in asked if (of.id, end) not in self._refused]
            shown = serve
            if "landing" in wanted and serve.landing == of.landing:
                shown = replace(shown, film_marks=sharp.film_marks)
            if "contact" in wanted and (serve.contact, serve.landing) == (of.contact, of.landing):
                shown = replace(shown, contact_film_marks=sharp.contact_film_marks)
            if shown != serve:
                self._change(SHARPENED, serve, shown)
                self.sharpened.emit(serve.id)
        self._next()

    def _serve(self, serve_id: str) -> Serve | None:
        return next((serve for serve in self._workspace.serves if serve.id == serve_id), None)

    def _change(self, words: str, serve: Serve, shown: Serve) -> None:
        workspace = self._workspace
        if workspace.view is not None:
            (changed,) = place_all([shown], workspace.view, workspace.time_scale)
            workspace.do(ChangeServes(words, [(serve, changed)], selects=False))
