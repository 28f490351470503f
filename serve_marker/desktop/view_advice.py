"""What would make a view better, and its error on the floor: worked out beside the window whenever the view changes."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from serve_marker.camera.error_map import Advice, advice
from serve_marker.camera.view import View
from serve_marker.desktop.jobs import Lane
from serve_marker.desktop.workspace import Workspace


class ViewAdvice(QObject):
    """Advice on the open view; ``changed`` says that it is there or gone."""

    changed = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._lane = Lane("advice", self)
        self._view: View | None = None
        self.found: tuple[Advice, ...] = ()
        workspace.view_changed.connect(self._follow)

    @property
    def busy(self) -> bool:
        """Whether advice is being worked out."""
        return self._lane.busy

    def close(self) -> None:
        """Join the lane."""
        self._lane.close()

    def _follow(self) -> None:
        view = self._workspace.view
        if view is self._view:
            return
        self._view, self.found = view, ()
        if view is None:
            self._lane.cancel()
        else:
            self._lane.submit(advice, view, done=self._take)

    def _take(self, found: list[Advice]) -> None:
        self.found = tuple(found)
        self.changed.emit()
