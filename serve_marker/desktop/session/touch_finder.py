"""Landings clicked in the window are sharpened from the film around them, off its thread, each a step of undo."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QObject

from serve_marker.camera.view.view import View
from serve_marker.desktop.session.edits import ChangeServes
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.records import Mark, Serve
from serve_marker.marking.landing import place_all
from serve_marker.marking.touch_on_film import film_marks
from serve_marker.video.frames import FrameReader

SHARPENED = "Landing sharpened from the film"
REFUSED = "The film's touch taken back, the click stands"


class TouchFinder(QObject):
    """Follows the workspace: a landing that is clicked or moved is looked for on the film, one after the other."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._worker = Worker("touch", self)
        self._seen: dict[str, Mark | None] = {}
        self._waiting: list[str] = []
        self._reader: FrameReader | None = None
        workspace.clip_changed.connect(self._begin)
        workspace.serves_changed.connect(self._look_for_new)

    @property
    def busy(self) -> bool:
        """Whether a landing is still looked for."""
        return self._worker.busy

    def close(self) -> None:
        """Let the work that runs end."""
        self._waiting.clear()
        self._worker.close()

    def refuse(self) -> None:
        """The chosen serve's landing is where it was clicked, whatever the film shows.

        Raises
        ------
        UserError
            Where no serve is chosen, or the film did not sharpen it.
        """
        chosen = self._workspace.selected_serves()
        if len(chosen) != 1 or not chosen[0].film_marks:
            raise UserError("Choose one serve whose landing was sharpened from the film; then its click stands again.")
        self._change(REFUSED, chosen[0], ())

    def _begin(self) -> None:
        self._worker.cancel()
        self._waiting.clear()
        self._seen = {serve.id: serve.landing for serve in self._workspace.serves}
        self._reader = None

    def _look_for_new(self) -> None:
        for serve in self._workspace.serves:
            if serve.id in self._seen and self._seen[serve.id] == serve.landing:
                continue
            self._seen[serve.id] = serve.landing
            if serve.landing is not None and serve.landing.pixel is not None and not serve.film_marks:
                self._waiting.append(serve.id)
        self._next()

    def _next(self) -> None:
        workspace = self._workspace
        while self._waiting and not self._worker.busy and workspace.clip is not None and workspace.view is not None:
            serve = self._serve(self._waiting.pop(0))
            if serve is None:
                continue
            if self._reader is None or self._reader.clip is not workspace.clip:
                self._reader = FrameReader(workspace.clip)

            def found(marks: tuple[Mark, ...], of: Serve = serve) -> None:
                self._found(of, marks)

            work = (serve, workspace.view, self._reader, workspace.time_scale)
            self._worker.submit(_film_marks, *work, done=found, failed=lambda _error: self._next())

    def _found(self, of: Serve, marks: tuple[Mark, ...]) -> None:
        serve = self._serve(of.id)
        is_same = serve is not None and serve.landing == of.landing and serve.outcome == of.outcome
        if marks and serve is not None and is_same and not self._workspace.history.stack.canRedo():
            self._change(SHARPENED, serve, marks)
        self._next()

    def _serve(self, serve_id: str) -> Serve | None:
        return next((serve for serve in self._workspace.serves if serve.id == serve_id), None)

    def _change(self, words: str, serve: Serve, marks: tuple[Mark, ...]) -> None:
        workspace = self._workspace
        view = workspace.view
        if view is not None:
            (changed,) = place_all([replace(serve, film_marks=marks)], view, workspace.time_scale)
            workspace.do(ChangeServes(words, [(serve, changed)], selects=False))


def _film_marks(serve: Serve, view: View, reader: FrameReader, time_scale: float) -> tuple[Mark, ...]:
    """As `film_marks`; where the film cannot be read the click stands."""
    try:
        return film_marks(serve, view, reader, time_scale)
    except UserError:
        return ()
