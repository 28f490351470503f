"""What a coach should know about a clip, one sentence each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from serve_marker.video.packet_stamps import PacketTable

NAMED_RANGES = 3


@dataclass(frozen=True)
class FrameRange:
    """Frames `first` to `last` whose picture may be wrong or missing; `why` says which."""

    first: int
    last: int
    why: str


def runs(bad: NDArray[np.bool_] | Sequence[bool] | Iterable[bool]) -> list[tuple[int, int]]:
    """First and last place of each run of True.

    Examples
    --------
    >>> runs([False, True, True, False, True])
    [(1, 2), (4, 4)]
    """
    padded = np.concatenate([[False], np.fromiter(bad, dtype=bool), [False]])
    edges = np.flatnonzero(padded[1:] != padded[:-1])
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def opening_sentences(
    path: Path, packets: PacketTable, expected_frames: int, matrix_exact: bool, square_pixels: bool
) -> Iterator[str]:
    """What is known once the packets are read."""
    found = len(packets.shown_pts)
    if packets.read_error or (expected_frames and found + packets.without_stamp < 0.99 * expected_frames):
        yield f"{path.name} was cut off or breaks off. Only its first {found} frames are there."
    elif packets.damaged:
        yield f"{packets.damaged} frames of {path.name} are damaged. The picture may be wrong there."
    if packets.without_stamp:
        yield f"{packets.without_stamp} frames of {path.name} carry no time and are left out."
    if packets.out_of_order:
        yield f"Some frames of {path.name} carry the same time or an earlier one. Times there are uncertain."
    if not matrix_exact:
        yield f"{path.name} asks to be turned by an odd angle. The nearest quarter turn is shown."
    if not square_pixels:
        yield f"{path.name} has pixels that are not square. It is shown in its true shape."
        yield f"Heights come out wrong in {path.name}. Mark only the floor, no net and no balls in the air."


def slow_motion_sentence(path: Path, shown_fps: float, filmed_fps: float) -> str:
    """What a capture rate in the container means."""
    return (
        f"{path.name} is slow motion: filmed at {filmed_fps:.0f} frames a second and shown at {shown_fps:.0f}."
        f" Say {filmed_fps:.0f} under Practice > Slow motion, or its paces come out too low."
    )


def damage_sentence(path: Path, ranges: Sequence[FrameRange]) -> str:
    """Which frames are damaged.

    Examples
    --------
    >>> damage_sentence(Path("serves.mp4"), [FrameRange(40, 61, "damaged"), FrameRange(90, 90, "lost")])
    'serves.mp4 is damaged at frames 40-61 and 90. The picture may be wrong or missing there.'
    """
    places = [f"{s.first}-{s.last}" if s.last > s.first else f"{s.first}" for s in ranges[:NAMED_RANGES]]
    if len(ranges) > NAMED_RANGES:
        places.append(f"{len(ranges) - NAMED_RANGES} more places")
    listed = " and ".join([", ".join(places[:-1]), places[-1]] if len(places) > 1 else places)
    return f"{path.name} is damaged at frames {listed}. The picture may be wrong or missing there."
