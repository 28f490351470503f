"""What would make a view better: worked out beside the window once the coach pauses."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer, Signal

from serve_marker.camera.fitting.error_reduction import Advice, advice
from serve_marker.camera.view.view import View
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import Workspace

PAUSE_MS = 600


class ViewAdvice(QObject):
    """Advice on the open view while it is ``wanted``; ``changed`` says that it is there."""

    changed = Signal()

    def __init__(self, workspace: Workspace, wanted: Callable[[], bool]) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._wanted = wanted
        self._worker = Worker("advice", self)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self._work_out)
        self._view: View | None = None
        self.found: tuple[Advice, ...] | None = None
        """What would help, the most first; None until it is worked out."""
        workspace.view_changed.connect(self.follow)

    @property
    def busy(self) -> bool:
        """Whether advice is being worked out."""
        return self._worker.busy or self._pause.isActive()

    def close(self) -> None:
        """Join the worker."""
        self._pause.stop()
        self._worker.close()

    def follow(self) -> None:
        """Take notice of another view, or of being wanted again."""
        if self._workspace.view is not self._view:
            self._view, self.found = None, None
            self._worker.cancel()
            if self._workspace.view is not None and self._wanted():
                self._pause.start()

    def _work_out(self) -> None:
        view = self._workspace.view
        if view is not None and self._wanted():
            self._view = view
            self._worker.submit(advice, view, done=self._take)

    def _take(self, found: list[Advice]) -> None:
        self.found = tuple(found)
        self.changed.emit()
