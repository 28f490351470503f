"""Places of a ball in the air: the line of sight cut at a known height."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.camera.homography import Floats, map_points, point_jacobian
from serve_marker.camera.view import View

NEAREST_TO_LEVEL_M = 0.1
"""A ball as high as the camera, within this, is seen along the level: its distance cannot be told."""


def locate_aloft(
    view: View, points_px: ArrayLike, height_m: ArrayLike, height_sd_m: ArrayLike
) -> tuple[Floats, Floats]:
    """Return the floor points (N, 2) [m] straight below a ball seen at pixels (N, 2), and covariances (N, 2, 2) [m2].

    Points of one height are seen through a homography of their own, ``[p1, p2, p3 h + p4]`` of the projection's
    columns (Criminisi, Reid, Zisserman, Int. J. Comput. Vis. 2000, 40, 123-148: planes parallel to a known one). The
    covariance holds click, misfit and height; the view's own error is taken as it is on the floor below. NaN where the
    camera's place is not known, behind the camera, and within 0.1 m of its height.

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
    projection = view.projection
    for k in range(count):
        if abs(heights[k] - view.camera_position_m[2]) < NEAREST_TO_LEVEL_M:
            continue
        plane = np.column_stack([projection[:, :2], projection[:, 2] * heights[k] + projection[:, 3]])
        found = map_points(np.linalg.inv(plane), pixels[k : k + 1])
        ahead = plane[2, :2] @ found[0] + plane[2, 2]
        if not (np.isfinite(found).all() and ahead > 0):
            continue
        below_px = view.project(found)
        _, floor_cov = view.locate(below_px)
        noise = (view.click_sd_px**2 + view.misfit_sd_px**2) * np.eye(2)
        if np.isfinite(floor_cov).all():
            noise = view.to_pixels(found[0], floor_cov[0])[1][0]
        back = np.linalg.inv(point_jacobian(plane, found)[0])
        drop = (found[0] - np.array(view.camera_position_m[:2])) / (heights[k] - view.camera_position_m[2])
        xy_m[k] = found[0]
        cov_m2[k] = back @ noise @ back.T + np.outer(drop, drop) * height_sds[k] ** 2
    return xy_m, cov_m2
