"""What stays in the picture around the frame shown while people move: by it the place is known again."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QObject, QTimer

from serve_marker.camera.picture.feature_matching import (
    Features,
    Grey,
    background_of,
    features_of,
    grey_of,
    motion_between,
    trusted,
)
from serve_marker.camera.picture.moved_in_clip import still_limit_px
from serve_marker.camera.picture.realign import ALIGN_SIDE_PX
from serve_marker.camera.view.homography import map_points
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.video.clip import Clip
from serve_marker.video.frames import FrameReader
from serve_marker.video.progress import Cancelled, IsCancelled

REST_MS = 500
AROUND_S = (-6.0, -4.0, -2.0, 2.0, 4.0, 6.0, 8.0)


class ReferencePicture(QObject):
    """The still part of the clip around the frame shown, while its view is still to be made.

    ``picture`` is None until it is known.
    """

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._worker = Worker("background", self)
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._look)
        self.picture: Grey | None = None
        workspace.clip_changed.connect(self._moved)
        workspace.frame_changed.connect(lambda _index: self._moved())
        workspace.view_changed.connect(self._view_changed)

    def close(self) -> None:
        """Join the worker."""
        self._rest.stop()
        self._worker.close()

    def _moved(self) -> None:
        self.picture = None
        self._worker.cancel()
        if self._workspace.clip is not None and self._workspace.view is None:
            self._rest.start()

    def _view_changed(self) -> None:
        """A view was taken away, or a stretch begun, on the frame shown: its place will have to be known."""
        under_way = self._worker.busy or self._rest.isActive()
        if self._workspace.view is None and self.picture is None and not under_way:
            self._moved()

    def _look(self) -> None:
        clip = self._workspace.clip
        if clip is not None:
            self._worker.submit(
                still_part, clip, self._workspace.now_s, self._worker.cancelled, done=self._take, failed=_told_elsewhere
            )

    def _take(self, picture: Grey) -> None:
        self.picture = picture


def still_part(clip: Clip, time_s: float, cancelled: IsCancelled) -> Grey:
    """Return the median (h, w) of a clip's frames around a time that show the same place as the one at that time."""
    last_s = float(clip.times_s[-1])
    with FrameReader(clip) as reader:

        def grey_at(at_s: float) -> Grey:
            if cancelled():
                raise Cancelled
            return grey_of(reader.scaled(clip.frame_at(at_s), ALIGN_SIDE_PX, ALIGN_SIDE_PX), ALIGN_SIDE_PX)

        here = grey_at(time_s)
        around = [grey_at(time_s + away_s) for away_s in AROUND_S if 0.0 <= time_s + away_s <= last_s]
    size = (here.shape[1], here.shape[0])
    start = features_of(here, size)
    return background_of([here, *(grey for grey in around if _unmoved(start, features_of(grey, size)))])


def _unmoved(one: Features, other: Features) -> bool:
    size = one.image_size
    motion = motion_between(one, other)
    if motion is None or not trusted(motion):
        return False
    corners = np.array([(0, 0), (size[0], 0), size, (0, size[1])], dtype=float)
    away_px = np.hypot(*(map_points(motion.matrix, corners) - corners).T)
    return bool(np.median(away_px) < still_limit_px(size))


def _told_elsewhere(_error: BaseException) -> None:
    """A frame that cannot be decoded is told where it is shown; the place is then known by one frame alone."""
