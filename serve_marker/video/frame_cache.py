"""Frames kept around the one looked at: what lies in the direction of travel goes last."""

from __future__ import annotations

from bisect import insort
from collections.abc import Callable
from typing import Any

from serve_marker.video.picture import bytes_of

DEFAULT_CACHE_BYTES = 256 * 1024 * 1024
BEHIND_KEPT = 8
BEHIND_RANK = 1 << 40
SURPLUS = 2


class FrameCache:
    """Decoded frames (av VideoFrame) by index, up to a number of bytes.

    Where room is needed, the frame behind the cursor that is farthest away goes first, then the farthest ahead;
    a few behind the cursor count as ahead, so that a step back never finds nothing.
    """

    def __init__(self, limit_bytes: int) -> None:
        self.limit_bytes = limit_bytes
        self.cursor = 0
        self.travel = 1
        self.held_bytes = 0
        self._frames: dict[int, Any] = {}
        self._order: list[int] = []
        self._spares: list[Any] = []
        self._reuses = False
        self.in_use: Any = None
        self._frame_bytes = 1

    def __contains__(self, index: int) -> bool:
        return index in self._frames

    def __len__(self) -> int:
        return len(self._frames)

    def get(self, index: int) -> Any:
        """The frame, or None."""
        return self._frames.get(index)

    @property
    def capacity(self) -> int:
        """How many frames of the size last kept there is room for."""
        return max(1, self.limit_bytes // self._frame_bytes)

    def put(self, index: int, frame: Any, needed: bool = False) -> None:
        """Keep the frame, unless all others are nearer and this one is not the one `needed`."""
        if index in self._frames:
            return
        self._frame_bytes = bytes_of(frame)
        while self._frames and self.held_bytes + self._frame_bytes > self.limit_bytes:
            farthest = self._farthest()
            if not needed and self._rank(farthest) < self._rank(index):
                self._let_go(frame)
                return
            self._order.remove(farthest)
            dropped = self._frames.pop(farthest)
            self.held_bytes -= bytes_of(dropped)
            self._let_go(dropped)
        if needed or self._frame_bytes <= self.limit_bytes:
            insort(self._order, index)
            self._frames[index] = frame
            self.held_bytes += self._frame_bytes

    def take_spare(self, make: Callable[[], Any]) -> Any:
        """A frame whose memory may be written over; the first time as many are made as there will ever be room for.

        Taken all at once they lie side by side in memory. One by one, with whatever else the decoder needs in between,
        they would leave holes that are never filled nor given back, and fresh memory costs as much as the work.
        """
        if not self._reuses:
            first = make()
            self._spares = [first, *(make() for _ in range(self.limit_bytes // bytes_of(first) + SURPLUS))]
            self._reuses = True
        free = next((k for k, spare in enumerate(self._spares) if spare is not self.in_use), None)
        return make() if free is None else self._spares.pop(free)

    def has_room(self) -> bool:
        """Whether one more frame can be kept without losing one that lies ahead."""
        if self.held_bytes + self._frame_bytes <= self.limit_bytes:
            return True
        return bool(self._order) and self._rank(self._farthest()) > BEHIND_RANK

    def resize(self, limit_bytes: int, width: int) -> None:
        """Another bound; frames of another width [px] are forgotten."""
        if any(frame.width != width for frame in self._frames.values()):
            self.clear()
        self.limit_bytes = limit_bytes

    def clear(self) -> None:
        """Forget everything."""
        self._frames.clear()
        self._order.clear()
        self._spares.clear()
        self._reuses = False
        self.held_bytes = 0

    def _let_go(self, frame: Any) -> None:
        if self._reuses and len(self._spares) <= SURPLUS:
            self._spares.append(frame)

    def _farthest(self) -> int:
        """On each side the outermost frame is the farthest, so only two come into question."""
        return max(self._order[0], self._order[-1], key=self._rank)

    def _rank(self, index: int) -> int:
        ahead = (index - self.cursor) * self.travel
        return BEHIND_RANK - ahead if ahead < -BEHIND_KEPT else abs(ahead)
