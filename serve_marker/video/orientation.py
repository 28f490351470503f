"""How a stored picture has to be turned and mirrored to stand upright.

Containers carry a display matrix: nine 32-bit numbers in the order a b u, c d v, x y w that take a stored
point (p, q), y down, to the shown point (a p + c q, b p + d q) (ISO/IEC 14496-12, 8.3.2). Of the whole
matrix only the turn in quarter circles and the mirroring are meant for the viewer here.
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

QUARTER_TOLERANCE_DEG = 1.0


@dataclass(frozen=True)
class Orientation:
    """Mirror left and right if `mirrored`, then turn clockwise by `rotation_deg` (0, 90, 180 or 270).

    Examples
    --------
    >>> Orientation(90).upright_size(1280, 720)
    (720, 1280)
    >>> Orientation(90).upright(np.array([[[1], [2]]]))[:, :, 0].tolist()
    [[1], [2]]
    >>> Orientation(0, mirrored=True).upright(np.array([[[1], [2]]]))[:, :, 0].tolist()
    [[2, 1]]
    """

    rotation_deg: int = 0
    mirrored: bool = False

    def upright_size(self, width: int, height: int) -> tuple[int, int]:
        """Width and height [px] of the upright picture, and just as well of the stored one for an upright one."""
        return (height, width) if self.rotation_deg in (90, 270) else (width, height)

    def upright_pixel_aspect(self, stored: float) -> float:
        """A pixel's width over its height in the upright picture, from that in the stored one."""
        return 1 / stored if self.rotation_deg in (90, 270) else stored

    def upright(self, picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """The stored picture (H, W, channels) as it should be seen, rows next to each other in memory."""
        if not self.mirrored and self.rotation_deg == 0:
            return np.ascontiguousarray(picture)
        height, width, channels = picture.shape
        pixels = np.ascontiguousarray(picture).view(np.dtype((np.void, channels * picture.itemsize)))
        pixels = pixels.reshape(height, width)
        if self.mirrored:
            pixels = pixels[:, ::-1]
        turned = np.ascontiguousarray(np.rot90(pixels, -self.rotation_deg // 90))
        return turned.view(picture.dtype).reshape(*turned.shape, channels)


def display_orientation(frame: Any) -> tuple[Orientation, bool]:
    """How a frame (av VideoFrame) is made upright, and whether that is exactly what it asks for."""
    from av.sidedata.sidedata import Type

    try:
        matrix = frame.side_data.get(Type.DISPLAYMATRIX)
    except ValueError:
        # PyAV before 19 raises where a frame carries any side data it does not know; the turn alone can still be read.
        return Orientation(-round(frame.rotation / 90) * 90 % 360), True
    return orientation_of(bytes(matrix) if matrix is not None else None)


def orientation_of(display_matrix: bytes | None) -> tuple[Orientation, bool]:
    """Orientation of a display matrix (36 bytes, the machine's byte order), and whether it says exactly that.

    The second value is False for a turn that is no quarter circle (the nearest one is taken) and for a
    matrix without meaning. `None` and an empty matrix mean: as stored.

    Examples
    --------
    >>> quarter_right = struct.pack("=9i", 0, 65536, 0, -65536, 0, 0, 0, 0, 1 << 30)
    >>> orientation_of(quarter_right)
    (Orientation(rotation_deg=90, mirrored=False), True)
    """
    if not display_matrix:
        return Orientation(), True
    a, b, _, c, d, *_ = struct.unpack("=9i", display_matrix[:36])
    if a * d == b * c:
        return Orientation(), False
    mirrored = a * d < b * c
    turn_deg = math.degrees(math.atan2(-b if mirrored else b, -a if mirrored else a)) % 360
    quarters = round(turn_deg / 90)
    exact = abs(turn_deg - 90 * quarters) <= QUARTER_TOLERANCE_DEG
    return Orientation(quarters % 4 * 90, mirrored), exact
