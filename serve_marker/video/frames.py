"""The exact frame `i` of a clip, asked for in any order; for a screen that steps see frame_worker.py."""

from __future__ import annotations

from types import TracebackType
from typing import Any, Self

import av
import numpy as np
from numpy.typing import NDArray

from serve_marker.errors import UserError
from serve_marker.video.clip import Clip
from serve_marker.video.picture import colour, grey
from serve_marker.video.seeking_decoder import Decoder


class FrameReader:
    """Reads single frames of one clip, by one thread at a time.

    Nothing is kept but the decoder's place: a frame costs decoding from the key frame before it, or from the frame read
    last where that is nearer.
    """

    def __init__(self, clip: Clip) -> None:
        self.clip = clip
        self._missing: set[int] = set()
        self._decoder: Decoder | None = Decoder(clip)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def frame(self, i: int) -> NDArray[np.uint8]:
        """Frame `i` upright in full resolution, (height, width, 3) RGB, read-only.

        Raises
        ------
        UserError
            If the clip has no such frame, the frame is damaged, or the file cannot be read any more.
        """
        return colour(self._decoded(i), self.clip.orientation)

    def grey(self, i: int) -> NDArray[np.uint8]:
        """Frame `i` upright in full resolution, brightness alone (height, width), read-only; errors as `frame`."""
        return grey(self._decoded(i), self.clip.orientation)

    def scaled(self, i: int, max_width: int, max_height: int) -> NDArray[np.uint8]:
        """Frame `i` upright, made smaller to fit (never larger than it is), (h, w, 3) RGB, read-only."""
        clip = self.clip
        share = min(1.0, max_width / clip.width, max_height / clip.height)
        if share == 1.0:
            return self.frame(i)
        stored = clip.orientation.upright_size(clip.width, clip.height)
        width, height = (max(2, round(side * share / 2) * 2) for side in stored)
        return colour(self._decoded(i), clip.orientation, (width, height))

    def close(self) -> None:
        """Release the file and the decoder's threads."""
        if self._decoder is not None:
            self._decoder.close()
            self._decoder = None

    def _decoded(self, i: int) -> Any:
        """Frame `i` as the decoder delivers it."""
        self.clip.checked_index(i)
        if self._decoder is None:
            raise ValueError("this FrameReader is closed")
        name = self.clip.path.name
        wanted = None
        if i not in self._missing:
            try:
                for index, frame in self._decoder.run_to(i):
                    if index == i:
                        wanted = frame
            except (av.FFmpegError, OSError):
                raise UserError(
                    f"{name} could not be read at frame {i}. Check that its disk or card is still connected."
                ) from None
        if wanted is None:
            self._missing.add(i)
            raise UserError(f"Frame {i} of {name} is damaged and cannot be shown; step to another frame.")
        return wanted
