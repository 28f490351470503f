"""What stays in the picture while people move, from the clip's first seconds: by it the place is known again."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QObject

from serve_marker.camera.features import Grey, background_of, grey_of
from serve_marker.camera.realign import ALIGN_SIDE_PX
from serve_marker.desktop.jobs import Lane
from serve_marker.desktop.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.video.clip import Clip
from serve_marker.video.frames import FrameReader

FIRST_S = 8.0
FRAMES = 7


class Background(QObject):
    """The still part of the open clip; ``picture`` is None until it is known."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._lane = Lane("background", self)
        self.picture: Grey | None = None
        workspace.clip_changed.connect(self._look)

    def close(self) -> None:
        """Join the lane."""
        self._lane.close()

    def _look(self) -> None:
        self.picture = None
        if self._workspace.clip is None:
            self._lane.cancel()
        else:
            self._lane.submit(first_seconds, self._workspace.clip, done=self._take, failed=_unless_unreadable)

    def _take(self, picture: Grey) -> None:
        self.picture = picture


def first_seconds(clip: Clip) -> Grey:
    """Return the median (h, w) of frames spread over a clip's first seconds."""
    times_s = np.linspace(0.0, min(FIRST_S, float(clip.times_s[-1])), FRAMES)
    with FrameReader(clip) as reader:
        pictures = [reader.scaled(clip.frame_at(time_s), ALIGN_SIDE_PX, ALIGN_SIDE_PX) for time_s in times_s]
    return background_of([grey_of(picture, ALIGN_SIDE_PX) for picture in pictures])


def _unless_unreadable(error: BaseException) -> None:
    """A frame that cannot be decoded is told where it is shown; the place is then known by one frame alone."""
    if not isinstance(error, UserError):
        raise error
