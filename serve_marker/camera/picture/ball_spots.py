"""Where a ball may be on a frame: round spots of its size that differ from the still picture behind it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import Floats

GreyPicture = NDArray[np.uint8]

NOISE_GREY = 5.0
MOST_GREY = 20.0
"""Differences below the noise count nothing, above the cap no more than it: shade on the ball matters little."""
RING_SHARE = 1.7
"""Outer radius of the ring around a ball, which a ball leaves as it was, over the ball's own."""
LEAST_RESPONSE = 2.5


def still_picture(greys: NDArray[np.uint8]) -> GreyPicture:
    """Return what stands still on pictures (K, H, W): the median of each pixel, (H, W)."""
    return np.asarray(np.median(greys, axis=0), dtype=np.uint8)


def difference(grey: GreyPicture, behind: GreyPicture) -> NDArray[np.float32]:
    """Return how much each pixel (H, W) differs from what is behind, from 0 (noise) to 20 (surely)."""
    import cv2

    away = cv2.absdiff(grey, behind).astype(np.float32) - np.float32(NOISE_GREY)
    return np.asarray(np.clip(away, 0.0, MOST_GREY), dtype=np.float32)


def disc_and_ring(radius_px: float) -> NDArray[np.float32]:
    """Return the kernel (N, N) that takes the mean over a ring around a disc from the mean over the disc.

    Examples
    --------
    >>> kernel = disc_and_ring(3.0)
    >>> abs(float(kernel.sum())) < 1e-4, bool(kernel[len(kernel) // 2, len(kernel) // 2] > 0)
    (True, True)
    """
    half = int(np.ceil(RING_SHARE * radius_px + 1))
    ways = np.arange(-half, half + 1)
    away = np.hypot(*np.meshgrid(ways, ways))
    disc = np.clip(radius_px + 0.5 - away, 0.0, 1.0)
    ring = np.clip(RING_SHARE * radius_px + 0.5 - away, 0.0, 1.0) * (1 - np.clip(radius_px + 1.5 - away, 0.0, 1.0))
    return np.asarray(disc / disc.sum() - ring / ring.sum(), dtype=np.float32)


def ball_response(away: NDArray[np.float32], radius_px: float) -> NDArray[np.float32]:
    """Return how much a ball of that radius centred on each pixel stands out of a `difference` (H, W)."""
    import cv2

    return np.asarray(cv2.filter2D(away, -1, disc_and_ring(radius_px), borderType=cv2.BORDER_REPLICATE), np.float32)


def strongest(response: NDArray[np.float32], count: int, apart_px: float) -> tuple[Floats, Floats]:
    """Return the strongest places (N, 2) [px] of a response (H, W), at most ``count``, and how strong they are (N,)."""
    import cv2

    reach = 2 * max(1, round(apart_px)) + 1
    peak = (response >= cv2.dilate(response, np.ones((reach, reach), np.uint8))) & (response > LEAST_RESPONSE)
    down, across = np.nonzero(peak)
    best = np.argsort(-response[down, across])[:count]
    rows, columns = down[best], across[best]
    places = np.column_stack([columns, rows]).astype(np.float64)
    padded = np.pad(response, 1, mode="edge")
    for axis, (down_by, across_by) in enumerate(((0, 1), (1, 0))):
        before, here, after = (padded[rows + 1 + way * down_by, columns + 1 + way * across_by] for way in (-1, 0, 1))
        bend = before - 2 * here + after
        with np.errstate(all="ignore"):
            shift = np.where(bend < 0, (before - after) / (2 * bend), 0.0)
        places[:, axis] += np.clip(shift, -0.5, 0.5)
    return places, response[rows, columns].astype(np.float64)
