"""Places of a ball in the air: the line of sight cut at a known height."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.camera.view.homography import map_points, point_jacobian
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats

NEAREST_TO_LEVEL_M = 0.1
"""A ball as high as the camera, within this, is seen along the level: its distance cannot be told."""


def locate_aloft(
    view: View, points_px: ArrayLike, height_m: ArrayLike, height_sd_m: ArrayLike
) -> tuple[Floats, Floats]:
    """Return the floor points (N, 2) [m] straight below a ball seen at pixels (N, 2), and covariances (N, 2, 2) [m2].

    Points of one height are seen through a homography of their own, ``[p1, p2, p3 h + p4]`` of the projection's
    columns (Criminisi, Reid, Zisserman, Int. J. Comput. Vis. 2000, 40, 123-148: planes parallel to a known one). The
    covariance holds click, misfit, view and height; above the camera the view's error is taken as it is on the floor
    below the ball. NaN where the camera's place is not known, behind it, and within 0.1 m of its height.

    Parameters
    ----------
    height_m, height_sd_m : (N,) or one number, of the ball's centre and its standard deviation.
    """
    pixels = np.asarray(points_px, dtype=float).reshape(-1, 2)
    count = len(pixels)
    heights, height_sds = (np.broadcast_to(np.asarray(v, dtype=float), (count,)) for v in (height_m, height_sd_m))
    xy_m, cov_m2 = np.full((count, 2), np.nan), np.full((count, 2, 2), np.nan)
    if view.camera_position_m is None:
        return xy_m, cov_m2
    under_m, camera_height_m = np.array(view.camera_position_m[:2]), view.camera_position_m[2]
    drops_m = camera_height_m - heights
    for height in np.unique(heights[drops_m >= NEAREST_TO_LEVEL_M]):
        level = heights == height
        xy_m[level], cov_m2[level] = view.raised(float(height)).locate(pixels[level])
    for k in np.flatnonzero(drops_m <= -NEAREST_TO_LEVEL_M):
        xy_m[k], cov_m2[k] = _above(view, pixels[k : k + 1], float(heights[k]))
    with np.errstate(all="ignore"):
        by_height = (under_m - xy_m) / drops_m[:, None]
    cov_m2 += by_height[:, :, None] * by_height[:, None, :] * (height_sds**2)[:, None, None]
    return xy_m, cov_m2


def _above(view: View, pixel: Floats, height_m: float) -> tuple[Floats, Floats]:
    """As `locate_aloft` for one pixel (1, 2) of a ball above the camera, which has no floor behind it."""
    nowhere = np.full(2, np.nan), np.full((2, 2), np.nan)
    projection = view.projection
    plane = np.column_stack([projection[:, :2], projection[:, 2] * height_m + projection[:, 3]])
    with np.errstate(all="ignore"):
        straight = np.asarray(view.lens.straighten(pixel), dtype=np.float64)
        found = map_points(np.asarray(np.linalg.inv(plane), dtype=np.float64), straight)
    if not (np.isfinite(found).all() and plane[2, :2] @ found[0] + plane[2, 2] > 0):
        return nowhere
    _, floor_cov = view.locate(view.project(found))
    pixel_cov = (view.click_sd_px**2 + view.misfit_sd_px**2) * np.eye(2)
    if np.isfinite(floor_cov).all():
        pixel_cov = view.to_pixels(found[0], floor_cov[0])[1][0]
    by_point = view.lens.bend_jacobian(straight)[0] @ point_jacobian(plane, found)[0]
    back = np.linalg.inv(by_point)
    return found[0], np.asarray(back @ pixel_cov @ back.T)
