"""Decoded frames (av VideoFrame) made smaller and turned into upright colour."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.video.orientation import Orientation
from serve_marker.video.tone import is_high_dynamic_range, to_screen

PLANAR_8_BIT = frozenset({"yuv420p", "yuvj420p"})
KEPT_FORMAT = "yuv420p"
DIVISORS = (1, 2, 4, 8)
STRIP_PIXELS = 1 << 16
_LOCAL = threading.local()


def bytes_of(frame: Any) -> int:
    """Memory a decoded frame (av VideoFrame) holds."""
    return sum(plane.buffer_size for plane in frame.planes)


def converted(frame: Any, pixel_format: str | None = None, size: tuple[int, int] | None = None) -> Any:
    """The frame in another pixel format or size (width, height), by the calling thread alone.

    A frame asked to convert itself starts scaling threads of its own and holds them for as long as it is kept.
    """
    if not hasattr(_LOCAL, "reformatter"):
        from av.video.reformatter import VideoReformatter

        _LOCAL.reformatter = VideoReformatter()
    width, height = size if size is not None else (None, None)
    return _LOCAL.reformatter.reformat(
        frame, width=width, height=height, format=pixel_format, interpolation="BILINEAR", threads=1
    )


def fresh(make: Callable[[], Any]) -> Any:
    """A frame of its own."""
    return make()


def divided(frame: Any, divisor: int, taken: Callable[[Callable[[], Any]], Any] = fresh) -> Any:
    """The frame at 1/2, 1/4 or 1/8 of its width and height, each pixel the mean of those it covers, in 8 bit 4:2:0.

    `taken` gives the frame to write into and is told how one is made; one that does not fit is passed over. Halving
    the planes as they are costs a quarter of what a general scaler takes.
    """
    if divisor == 1:
        return frame
    width, height = max(2, frame.width // divisor), max(2, frame.height // divisor)
    if frame.format.name not in PLANAR_8_BIT:
        return converted(frame, KEPT_FORMAT, (width, height))
    from av import VideoFrame

    def make() -> Any:
        return VideoFrame(width, height, frame.format.name)

    small = taken(make)
    if (small.width, small.height, small.format.name) != (width, height, frame.format.name):
        small = make()
    for source, target in zip(frame.planes, small.planes, strict=True):
        _shrink(_pixels(source), _pixels(target))
    small.colorspace, small.color_range = frame.colorspace, frame.color_range
    small.color_trc, small.color_primaries = frame.color_trc, frame.color_primaries
    return small


def _shrink(source: NDArray[np.uint8], target: NDArray[np.uint8]) -> None:
    """Means of blocks, strip by strip: OpenCV hands larger pictures to threads that the decoder needs more."""
    import cv2

    height, width = target.shape
    factor = source.shape[0] // height
    if source.shape != (height * factor, width * factor):
        cv2.resize(source, (width, height), dst=target, interpolation=cv2.INTER_AREA)
        return
    rows = max(1, STRIP_PIXELS // width)
    for top in range(0, height, rows):
        strip = target[top : top + rows]
        stretch = source[top * factor : (top + len(strip)) * factor]
        cv2.resize(stretch, (width, len(strip)), dst=strip, interpolation=cv2.INTER_AREA)


def _pixels(plane: Any) -> NDArray[np.uint8]:
    return np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)[: plane.height, : plane.width]


def grey(frame: Any, orientation: Orientation) -> NDArray[np.uint8]:
    """Upright brightness (h, w), read-only."""
    picture = orientation.upright(converted(frame, "gray").to_ndarray()[:, :, None])[:, :, 0]
    picture.flags.writeable = False
    return picture


def brightness(frame: Any, orientation: Orientation) -> NDArray[np.uint8]:
    """As `grey`, with the film's own range of brightness where it has 8 bits: many times as fast."""
    if frame.format.name not in PLANAR_8_BIT:
        return grey(frame, orientation)
    return orientation.upright(_pixels(frame.planes[0])[:, :, None])[:, :, 0]


def colour(frame: Any, orientation: Orientation, stored_size: tuple[int, int] | None = None) -> NDArray[np.uint8]:
    """Upright (h, w, 3) RGB, read-only; scaled to `stored_size` (width, height) of the picture as stored if given."""
    if stored_size is not None and stored_size != (frame.width, frame.height):
        frame = converted(frame, size=stored_size)
    if is_high_dynamic_range(frame):
        stored = to_screen(converted(frame, "rgb48le").to_ndarray(), int(frame.color_trc))
    else:
        stored = converted(frame, "rgb24").to_ndarray()
    picture = orientation.upright(stored)
    picture.flags.writeable = False
    return picture
