"""A first look at a clip before all of it has been read."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from serve_marker.video.opening import first_frame, opened
from serve_marker.video.orientation import display_orientation
from serve_marker.video.picture import colour
from serve_marker.video.pixel_shape import stored_pixel_aspect

MICROSECONDS = 1_000_000


@dataclass(frozen=True, eq=False)
class Glance:
    """The first picture, upright (height, width, 3) RGB, and the length the container names [s], NaN where none.

    `pixel_aspect` is the width of one of its pixels over its height.
    """

    path: Path
    picture: NDArray[np.uint8]
    duration_s: float
    pixel_aspect: float


def glance(path: str | os.PathLike[str]) -> Glance:
    """Read no more of a clip than its first picture needs.

    Raises
    ------
    UserError
        If there is no such file, or nothing in it that can be shown.
    """
    path = Path(path)
    with opened(path) as (container, stream):
        duration_s = container.duration / MICROSECONDS if container.duration else float("nan")
        stored_aspect = stored_pixel_aspect(stream)
    frame = first_frame(path)
    orientation, _ = display_orientation(frame)
    return Glance(path, colour(frame, orientation), duration_s, orientation.upright_pixel_aspect(stored_aspect))
