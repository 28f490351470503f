"""The focal length, from the floor's homography alone: where the search for the camera starts.

Square pixels and a principal point at the picture's centre leave one unknown, the focal length. The columns of
``K^-1 H`` must be perpendicular and equally long (Zhang, "A Flexible New Technique for Camera Calibration", PAMI
2000, equations 3 and 4). Both conditions are weighed by the covariance of H, together with a weak expectation of
phone cameras, which decides alone where the picture says nothing about the focal length.
"""

from __future__ import annotations

import numpy as np

from serve_marker.camera.fitting.usual_lenses import USUAL_FOCAL, USUAL_FOCAL_LOG_SD
from serve_marker.court.dimensions import Floats

_FACTORS = np.geomspace(0.25, 8.0, 400)


def focal_of(H: Floats, H_cov: Floats, image_size: tuple[int, int]) -> float:
    """Return the focal length [px] that a homography H (3, 3) with covariance (9, 9) makes likeliest."""
    centred = np.array([[1.0, 0, -(image_size[0] - 1) / 2], [0, 1.0, -(image_size[1] - 1) / 2], [0, 0, 1.0]])
    G = centred @ H
    move = np.kron(centred, np.eye(3))
    return _focal_px(G, move @ H_cov @ move.T, max(image_size))


def _focal_px(G: Floats, G_cov: Floats, longer_side_px: int) -> float:
    tried_px = longer_side_px * _FACTORS
    first = np.column_stack([G[0, 0] / tried_px, G[1, 0] / tried_px, np.full(len(tried_px), G[2, 0])])
    second = np.column_stack([G[0, 1] / tried_px, G[1, 1] / tried_px, np.full(len(tried_px), G[2, 1])])
    length_1, length_2 = np.linalg.norm(first, axis=1), np.linalg.norm(second, axis=1)
    unit_1, unit_2 = first / length_1[:, None], second / length_2[:, None]
    cosine = (unit_1 * unit_2).sum(axis=1)
    conditions = np.column_stack([cosine, np.log(length_1 / length_2)])
    by_first = np.stack([(unit_2 - cosine[:, None] * unit_1) / length_1[:, None], unit_1 / length_1[:, None]], axis=1)
    by_second = np.stack([(unit_1 - cosine[:, None] * unit_2) / length_2[:, None], -unit_2 / length_2[:, None]], axis=1)
    shrink = np.column_stack([1 / tried_px, 1 / tried_px, np.ones(len(tried_px))])[:, None, :]
    by_columns = np.concatenate([by_first * shrink, by_second * shrink], axis=2)
    entries = [0, 3, 6, 1, 4, 7]
    cov = by_columns @ G_cov[np.ix_(entries, entries)] @ by_columns.transpose(0, 2, 1)
    cov += 1e-12 * np.eye(2)
    misfit = np.einsum("ni,nij,nj->n", conditions, np.linalg.inv(cov), conditions)
    expected = (np.log(_FACTORS / USUAL_FOCAL) / USUAL_FOCAL_LOG_SD) ** 2
    return _lowest(tried_px, misfit + expected)


def _lowest(tried_px: Floats, cost: Floats) -> float:
    """The minimum between the samples, by a parabola in log focal length."""
    i = int(np.clip(cost.argmin(), 1, len(cost) - 2))
    before, at, after = cost[i - 1 : i + 2]
    bend = before - 2 * at + after
    shift = float(np.clip((before - after) / (2 * bend), -1, 1)) if bend > 0 else 0.0
    return float(tried_px[i] * (tried_px[i + 1] / tried_px[i]) ** shift)
