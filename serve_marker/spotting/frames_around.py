"""The frames that a closer look at both ends of a serve takes, decoded once, in order, and kept while they fit."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress

import numpy as np
from numpy.typing import NDArray

from serve_marker.errors import UserError
from serve_marker.marking.ball_search import still_frames
from serve_marker.video.frames import FrameReader

BEFORE_S, AFTER_S = 0.36, 0.4
"""Around an end all frames are looked at so long before and after (`serve_marker.marking.ball_search`, with how far an
end may lie from where the flight tells it)."""
MOST_BYTES = 200_000_000


class FramesAround(FrameReader):
    """Reads frames of one clip, and keeps the brightness of those around some moments."""

    _kept: dict[int, NDArray[np.uint8]] | None = None

    def keep(self, moments_s: Iterable[float]) -> None:
        """Decode the frames around moments on the clip's clock, those kept already excepted; the others are let go."""
        before = self._kept or {}
        wanted = np.unique(np.concatenate([self._around(moment_s) for moment_s in moments_s])).tolist()
        self._kept = {frame: before[frame] for frame in wanted if frame in before}
        held = sum(grey.nbytes for grey in self._kept.values())
        for frame in wanted:
            if frame not in self._kept and held < MOST_BYTES:
                with suppress(UserError):
                    self._kept[frame] = super().grey(frame)
                    held += self._kept[frame].nbytes

    def grey(self, i: int) -> NDArray[np.uint8]:
        """As `FrameReader.grey`."""
        if self._kept is not None and i in self._kept:
            return self._kept[i]
        return super().grey(i)

    def _around(self, moment_s: float) -> NDArray[np.int_]:
        times_s = self.clip.times_s
        since_s = times_s - times_s[self.clip.frame_at(moment_s)]
        near = np.flatnonzero((since_s >= -BEFORE_S) & (since_s <= AFTER_S))
        return np.concatenate([near, still_frames(since_s)])
