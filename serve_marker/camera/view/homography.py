"""Plane homographies from marks: maximum likelihood and first-order covariance.

A homography H takes floor points [m] to pixels. It is defined up to scale, so that its covariance is kept for all
nine entries (row by row, scale held fixed), which needs no entry to differ from 0.

References
----------
Criminisi, Reid, Zisserman, "A Plane Measuring Device", BMVC 1997, sections 3 and 5-7; Hartley & Zisserman,
"Multiple View Geometry", chapters 4 and 5.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.court.dimensions import Floats

MAX_STEPS = 100
SETTLED_GAIN = 1e-12
SMALLEST_STEP = 1e-10


def solve_homography(floor_m: ArrayLike, pixels_px: ArrayLike) -> Floats:
    """Return H (3, 3) for floor points (N, 2) [m] seen at pixels (N, 2), N >= 4.

    Exact for four points; for more the pixels' squared distances are minimised (Levenberg-Marquardt in normalised
    coordinates). The sign makes the third coordinate of most marks positive: that is in front of the camera.

    Examples
    --------
    >>> corners = [(0, 0), (1, 0), (0, 1), (1, 1)]
    >>> H = solve_homography(corners, [(10, 10), (150, 40), (30, 130), (190, 210)])
    >>> (H / H[2, 2]).round(4).tolist()
    [[100.0, 18.25, 10.0], [19.3333, 112.4167, 10.0], [-0.2667, -0.0583, 1.0]]
    """
    floor, pixels = _pairs(floor_m, pixels_px)
    to_floor, to_pixels = _normaliser(floor), _normaliser(pixels)
    seen = map_points(to_pixels, pixels)
    plane = map_points(to_floor, floor)
    H = _refine(_direct(plane, seen), plane, seen)
    H = np.linalg.inv(to_pixels) @ H @ to_floor
    H /= np.linalg.norm(H)
    depth = third_coordinate(H, floor)
    return H if (depth > 0).sum() * 2 >= len(floor) else -H


def homography_covariance(H: ArrayLike, floor_m: ArrayLike, cov_px2: ArrayLike) -> Floats:
    """First-order covariance (9, 9) of H's entries, for marks with covariances (N, 2, 2) [px2].

    ``(J^T S^-1 J)^-1`` on the eight directions that change the mapping, which for four marks equals
    ``J^-1 S J^-T`` (Criminisi et al. 1997; Hartley & Zisserman chapter 5).
    """
    H = np.asarray(H, dtype=float)
    floor = np.asarray(floor_m, dtype=float)
    cov = np.asarray(cov_px2, dtype=float)
    if cov.shape != (len(floor), 2, 2):
        raise ValueError(f"mark covariances must have shape ({len(floor)}, 2, 2), not {cov.shape}")
    to_floor, to_pixels = _normaliser(floor), _normaliser(map_points(H, floor))
    normal = to_pixels @ H @ np.linalg.inv(to_floor)
    scale = np.linalg.norm(normal)
    directions = _tangent(normal / scale)
    jacobian = entry_jacobian(normal / scale, map_points(to_floor, floor)) @ directions
    whiten = np.linalg.inv(np.linalg.cholesky(cov * to_pixels[0, 0] ** 2))
    rows = (whiten @ jacobian).reshape(-1, 8)
    root = np.linalg.pinv(rows)
    back = np.kron(np.linalg.inv(to_pixels), to_floor.T) @ directions @ root * scale
    return np.asarray(back @ back.T)


def map_points(H: Floats, points: Floats) -> Floats:
    """Map points (N, 2) through H (3, 3).

    Examples
    --------
    >>> map_points(np.diag([2.0, 2.0, 1.0]), np.array([[1.0, 3.0]])).tolist()
    [[2.0, 6.0]]
    """
    q = points @ H[:, :2].T + H[:, 2]
    return np.asarray(q[:, :2] / q[:, 2:])


def third_coordinate(H: Floats, points: Floats) -> Floats:
    """The homogeneous coordinate (N,) of mapped points, positive in front of the camera."""
    return np.asarray(points @ H[2, :2] + H[2, 2])


def point_jacobian(H: Floats, points: Floats) -> Floats:
    """Derivative (N, 2, 2) of the mapped points by the points.

    Examples
    --------
    >>> point_jacobian(np.diag([2.0, 3.0, 1.0]), np.zeros((1, 2))).tolist()
    [[[2.0, 0.0], [0.0, 3.0]]]
    """
    w = third_coordinate(H, points)[:, None, None]
    return np.asarray((H[:2, :2] - map_points(H, points)[:, :, None] * H[2, :2]) / w)


def entry_jacobian(H: Floats, points: Floats) -> Floats:
    """Derivative (N, 2, 9) of the mapped points by H's entries, row by row."""
    w = third_coordinate(H, points)
    u, v = map_points(H, points).T
    source = np.column_stack([points, np.ones(len(points))]) / w[:, None]
    jacobian = np.zeros((len(points), 2, 9))
    jacobian[:, 0, 0:3] = source
    jacobian[:, 1, 3:6] = source
    jacobian[:, 0, 6:9] = -u[:, None] * source
    jacobian[:, 1, 6:9] = -v[:, None] * source
    return jacobian


def _pairs(floor_m: ArrayLike, pixels_px: ArrayLike) -> tuple[Floats, Floats]:
    floor, pixels = np.asarray(floor_m, dtype=float), np.asarray(pixels_px, dtype=float)
    if floor.ndim != 2 or floor.shape[1] != 2 or len(floor) < 4 or floor.shape != pixels.shape:
        raise ValueError(f"need two arrays of shape (N >= 4, 2), not {floor.shape} and {pixels.shape}")
    return floor, pixels


def _normaliser(points: Floats) -> Floats:
    """Similarity (3, 3) to zero mean and mean distance sqrt(2) (Hartley & Zisserman 4.4)."""
    centre = points.mean(axis=0)
    scale = np.sqrt(2) / max(np.hypot(*(points - centre).T).mean(), 1e-12)
    return np.array([[scale, 0, -scale * centre[0]], [0, scale, -scale * centre[1]], [0, 0, 1.0]])


def _direct(plane: Floats, seen: Floats) -> Floats:
    ones = np.column_stack([plane, np.ones(len(plane))])
    equations = np.zeros((2 * len(plane), 9))
    equations[0::2, 0:3] = ones
    equations[1::2, 3:6] = ones
    equations[0::2, 6:9] = -seen[:, :1] * ones
    equations[1::2, 6:9] = -seen[:, 1:] * ones
    return np.asarray(np.linalg.svd(equations)[2][-1].reshape(3, 3))


def _tangent(H: Floats) -> Floats:
    return np.asarray(np.linalg.svd(H.reshape(1, 9))[2][1:].T)


def _refine(H: Floats, plane: Floats, seen: Floats) -> Floats:
    with np.errstate(all="ignore"):
        residual = seen - map_points(H, plane)
        cost, damping = float((residual**2).sum()), 1e-6
        for _ in range(MAX_STEPS):
            directions = _tangent(H)
            jacobian = (entry_jacobian(H, plane) @ directions).reshape(-1, 8)
            normal = jacobian.T @ jacobian
            if not np.isfinite(normal).all():
                break
            step = np.linalg.lstsq(normal + damping * np.diag(np.diag(normal)), jacobian.T @ residual.ravel(), None)[0]
            tried = H + (directions @ step).reshape(3, 3)
            tried /= np.linalg.norm(tried)
            tried_residual = seen - map_points(tried, plane)
            tried_cost = float((tried_residual**2).sum())
            if tried_cost < cost:
                gain, H, residual, cost = cost - tried_cost, tried, tried_residual, tried_cost
                damping = max(damping / 10, 1e-12)
                if gain <= SETTLED_GAIN * cost:
                    break
            elif np.linalg.norm(step) < SMALLEST_STEP or damping > 1e6:
                break
            else:
                damping *= 10
    return H
