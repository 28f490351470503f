"""Two pictures of one plane laid on each other by their grey values, below a pixel.

Gauss-Newton on the eight free entries of a homography over the pixels with the steepest edges (Baker & Matthews,
"Lucas-Kanade 20 Years On", IJCV 2004), with weights that fall with the residual: people, balls and whatever stands
above the plane drop out. Slow changes of light are taken away beforehand, a change of contrast is solved for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.picture.feature_matching import Grey
from serve_marker.camera.view.homography import entry_jacobian, map_points
from serve_marker.court.dimensions import Floats

BLUR_PX = (2.5, 1.2)
LIGHT_PX = 41
MOST_PIXELS = 30_000
"""OpenCV samples fewer than 32,767 places in one row, ten times as fast as in one column."""
STEPS = 15
SETTLED_PX = 0.002
NOISE_FLOOR = 1.5
FEWEST_PIXELS = 500


@dataclass(frozen=True, eq=False)
class Laid:
    """The homography (3, 3) from the first picture to the second, and how their edges then correlate."""

    matrix: Floats
    correlation: float


def lay(before: Grey, after: Grey, mask: Grey, start: Floats) -> Laid | None:
    """Refine a homography (3, 3) from one grey picture (h, w) to another (h', w') over the first one's masked pixels.

    Returns None where too little of the plane shows in both.
    """
    matrix = start / start[2, 2]
    correlation = 0.0
    for blur_px in BLUR_PX:
        first, second = _edges(before, blur_px), _edges(after, blur_px)
        places, values = _steepest(first, mask)
        if len(places) < FEWEST_PIXELS:
            return None
        for _ in range(STEPS):
            found = _step(places, values, second, matrix)
            if found is None:
                return None
            move, correlation, moved_px = found
            matrix = matrix + move
            matrix = matrix / matrix[2, 2]
            if moved_px < SETTLED_PX:
                break
    return Laid(matrix, correlation)


def _edges(picture: Grey, blur_px: float) -> NDArray[np.float32]:
    import cv2

    sharp = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), blur_px)
    return np.asarray(sharp - cv2.blur(sharp, (LIGHT_PX, LIGHT_PX)), dtype=np.float32)


def _steepest(picture: NDArray[np.float32], mask: Grey) -> tuple[Floats, Floats]:
    """Places (N, 2) of the steepest masked pixels, and their values (N,)."""
    down, across = np.gradient(picture)
    steepness = np.where(mask > 0, np.hypot(across, down), 0.0)
    steepness[:3], steepness[-3:], steepness[:, :3], steepness[:, -3:] = 0, 0, 0, 0
    count = min(MOST_PIXELS, int((steepness > 0).sum()))
    chosen = np.argpartition(steepness.ravel(), -count)[-count:] if count else np.zeros(0, dtype=int)
    y, x = np.divmod(chosen, picture.shape[1])
    return np.column_stack([x, y]).astype(float), picture.ravel()[chosen].astype(float)


def _step(
    places: Floats, values: Floats, second: NDArray[np.float32], matrix: Floats
) -> tuple[Floats, float, float] | None:
    """One step: the change (3, 3) of the homography, the correlation before it, and how far it moves pixels."""
    import cv2

    there = map_points(matrix, places)
    height, width = second.shape
    inside = ((there > 2) & (there < (width - 3, height - 3))).all(axis=1)
    if inside.sum() < FEWEST_PIXELS:
        return None
    places, values, there = places[inside], values[inside], there[inside]

    def sampled(off_x: float, off_y: float) -> Floats:
        x, y = (there + np.array([off_x, off_y])).astype(np.float32).T
        return np.asarray(cv2.remap(second, x[None], y[None], cv2.INTER_CUBIC), dtype=float).ravel()

    seen = sampled(0, 0)
    by_place = np.column_stack([sampled(0.5, 0) - sampled(-0.5, 0), sampled(0, 0.5) - sampled(0, -0.5)])
    gain = float(np.median(np.abs(values)) / max(np.median(np.abs(seen)), 1e-6))
    residual = values - gain * seen
    noise = max(NOISE_FLOOR, 1.4826 * float(np.median(np.abs(residual))))
    weights = 1 / (1 + (residual / (2 * noise)) ** 2) ** 2
    gain = float((weights * values * seen).sum() / max((weights * seen**2).sum(), 1e-9))
    residual = values - gain * seen
    pull = gain * np.einsum("ni,nij->nj", by_place, entry_jacobian(matrix, places))[:, :8]
    scale = np.sqrt((weights[:, None] * pull**2).sum(axis=0)) + 1e-12
    pull = pull / scale
    normal = (pull * weights[:, None]).T @ pull + 1e-9 * np.eye(8)
    step = np.linalg.solve(normal, pull.T @ (weights * residual)) / scale
    move = np.append(step, 0.0).reshape(3, 3)
    moved_px = float(np.median(np.hypot(*(map_points(matrix + move, places) - there).T)))
    return move, float(np.corrcoef(values, seen)[0, 1]), moved_px
