"""Pixels that are not square: what a stream says of them, and how a picture of them is stretched to be true."""

from __future__ import annotations

from typing import Any

PIXEL_ASPECTS = (0.25, 4.0)
"""No camera's pixels are longer than this; what says so is damaged."""
ALMOST_SQUARE = 0.005


def stored_pixel_aspect(stream: Any) -> float:
    """The width of a stored pixel over its height, as the stream (av VideoStream) says; 1 where it is almost square."""
    aspect = float(stream.sample_aspect_ratio or 1)
    believed = PIXEL_ASPECTS[0] <= aspect <= PIXEL_ASPECTS[1] and abs(aspect - 1) > ALMOST_SQUARE
    return aspect if believed else 1.0


def stretch_of(pixel_aspect: float) -> tuple[float, float]:
    """How many times as wide and as high a picture has to be shown so that its pixels have their true shape.

    Examples
    --------
    >>> stretch_of(1.5), stretch_of(0.5)
    ((1.5, 1.0), (1.0, 2.0))
    """
    return max(1.0, pixel_aspect), max(1.0, 1 / pixel_aspect)
