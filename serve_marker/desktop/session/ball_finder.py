"""The ball near the cross-hair on the frame shown, looked for off the window's thread."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject

from serve_marker.camera.view.view import View
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.marking.ball_at_cross_hair import SeenBall, ball_near
from serve_marker.report.overlay_items import Pixel
from serve_marker.video.clip import Clip
from serve_marker.video.frames import FrameReader


class BallFinder(QObject):
    """Answers for the frame it was asked on; an answer that comes after another frame is shown is dropped."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._worker = Worker("ball", self)

    def look(self, pixel: Pixel, reach_px: float, done: Callable[[SeenBall], object]) -> None:
        """Look for the ball within a reach [px] of a pixel, and hand it over; say so where none is seen."""
        workspace = self._workspace
        clip, view, frame = workspace.clip, workspace.view, workspace.frame
        if clip is None or view is None:
            raise UserError("Set up the view first; it tells how large the ball is seen.")

        def answer(found: SeenBall | None) -> None:
            if workspace.clip is not clip or workspace.frame != frame:
                return
            if found is None:
                workspace.message.emit("No ball is seen near the cross-hair on this frame.")
            else:
                done(found)

        asked = (pixel, reach_px, frame, view, clip, workspace.time_scale)
        self._worker.submit(_seen_near, *asked, done=answer)

    def close(self) -> None:
        """Let the work that runs end."""
        self._worker.close()


def _seen_near(pixel: Pixel, reach_px: float, frame: int, view: View, clip: Clip, time_scale: float) -> SeenBall | None:
    with FrameReader(clip) as reader:
        return ball_near(pixel, reach_px, frame, view, reader, time_scale)
