"""The exact frame `i` of a clip, asked for in any order, in bounded memory."""

from __future__ import annotations

from collections import OrderedDict
from types import TracebackType
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

from serve_marker.errors import UserError
from serve_marker.video.clip import Clip
from serve_marker.video.decoder import Decoder
from serve_marker.video.picture import KEPT_FORMAT, bytes_of, colour, converted

DEFAULT_CACHE_BYTES = 256 * 1024 * 1024
FULL_SIZE_KEPT_BESIDE_SCALED = 8


class FrameCache:
    """Decoded frames up to a number of bytes; the one used longest ago goes first."""

    def __init__(self, limit_bytes: int) -> None:
        self.limit_bytes = limit_bytes
        self.held_bytes = 0
        self._frames: OrderedDict[tuple[int, tuple[int, int]], Any] = OrderedDict()

    def get(self, i: int, size: tuple[int, int]) -> Any:
        """The frame (av VideoFrame) `i` of this stored size (width, height), or None."""
        frame = self._frames.get((i, size))
        if frame is not None:
            self._frames.move_to_end((i, size))
        return frame

    def put(self, i: int, size: tuple[int, int], frame: Any) -> None:
        """Keep `frame`, making room first; a frame larger than the whole cache is not kept."""
        if (i, size) in self._frames:
            self._frames.move_to_end((i, size))
            return
        needed = bytes_of(frame)
        if needed > self.limit_bytes:
            return
        while self.held_bytes + needed > self.limit_bytes:
            self.held_bytes -= bytes_of(self._frames.popitem(last=False)[1])
        self._frames[(i, size)] = frame
        self.held_bytes += needed

    def clear(self) -> None:
        """Forget everything."""
        self._frames.clear()
        self.held_bytes = 0


class FrameReader:
    """Reads frames of one clip, by one thread at a time.

    Frames are kept as the decoder delivers them and turned into colour only when asked for. Of a run from the key
    frame, as many frames before the wanted one are kept as the cache holds, so that stepping backward decodes a
    long group only once for each cacheful.
    """

    def __init__(self, clip: Clip, cache_bytes: int = DEFAULT_CACHE_BYTES) -> None:
        self.clip = clip
        self.full_size = clip.orientation.upright_size(clip.width, clip.height)
        self._orientation = clip.orientation
        self._cache = FrameCache(cache_bytes)
        self._missing: set[int] = set()
        self._decoder: Decoder | None = Decoder(clip)

    def __enter__(self) -> FrameReader:
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
        return self._picture(self._stored(i, self.full_size))

    def scaled(self, i: int, max_width: int, max_height: int) -> NDArray[np.uint8]:
        """Frame `i` upright, made smaller to fit (never larger than it is), (h, w, 3) RGB, read-only.

        Far more small frames fit into the cache, so this is the one for stepping on a screen.
        """
        share = min(1.0, max_width / self.clip.width, max_height / self.clip.height)
        if share == 1.0:
            return self.frame(i)
        width, height = (max(2, round(side * share / 2) * 2) for side in self.full_size)
        return self._picture(self._stored(i, (width, height)))

    def close(self) -> None:
        """Release the file, the decoder's threads and the cache."""
        if self._decoder is not None:
            self._decoder.close()
            self._decoder = None
        self._cache.clear()

    def _stored(self, i: int, size: tuple[int, int]) -> Any:
        """Frame `i` in stored orientation and this size."""
        self.clip.checked_index(i)
        if self._decoder is None:
            raise ValueError("this FrameReader is closed")
        kept = self._cache.get(i, size)
        if kept is not None:
            return kept
        full = self._cache.get(i, self.full_size)
        if full is None:
            full = self._decode(i, size)
        fitted = self._fitted(full, size)
        self._cache.put(i, size, fitted)
        return fitted

    def _decode(self, i: int, size: tuple[int, int]) -> Any:
        """Frame `i` in full size; frames before it that fit go into the cache in the size asked for."""
        assert self._decoder is not None
        name = self.clip.path.name
        wanted = None
        if i not in self._missing:
            try:
                for index, frame in self._decoder.run_to(i):
                    if index == i:
                        wanted = frame
                    self._keep(index, frame, size, i)
            except (av.FFmpegError, OSError):
                raise UserError(
                    f"{name} could not be read at frame {i}; check that its disk or card is still connected."
                ) from None
        if wanted is None:
            self._missing.add(i)
            raise UserError(f"Frame {i} of {name} is damaged and cannot be shown; step to another frame.")
        return wanted

    def _keep(self, index: int, frame: Any, size: tuple[int, int], wanted: int) -> None:
        if size == self.full_size:
            if wanted - index < self._cache.limit_bytes // bytes_of(frame):
                self._cache.put(index, size, frame)
            return
        if wanted - index < FULL_SIZE_KEPT_BESIDE_SCALED:
            self._cache.put(index, self.full_size, frame)
        scaled_bytes = size[0] * size[1] * 3 // 2
        room_bytes = self._cache.limit_bytes - FULL_SIZE_KEPT_BESIDE_SCALED * bytes_of(frame)
        if wanted - index < room_bytes // scaled_bytes and self._cache.get(index, size) is None:
            self._cache.put(index, size, self._fitted(frame, size))

    def _fitted(self, frame: Any, size: tuple[int, int]) -> Any:
        if size == self.full_size:
            return frame
        return converted(frame, KEPT_FORMAT, size)

    def _picture(self, frame: Any) -> NDArray[np.uint8]:
        return colour(frame, self._orientation)
