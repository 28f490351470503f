"""The same camera after its tripod was nudged: how far it turned, and the view that now holds.

The floor is one plane, so that its picture moves by a homography of the straightened pixels, whatever the camera
did; walls and nets move by others. Features of the whole picture find the rough motion; the grey values of the floor
alone (lines of all sports, grain of the wood) refine it below a pixel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.picture.direct_alignment import lay
from serve_marker.camera.picture.feature_matching import (
    Grey,
    PictureMotion,
    features_of,
    grey_of,
    motion_between,
    to_full_size,
)
from serve_marker.camera.view.homography import map_points
from serve_marker.camera.view.view import Trace, View
from serve_marker.court.dimensions import Floats, landmarks

ALIGN_SIDE_PX = 1280
FREE_ZONE_M = 3.0
NET_SLACK_M = 0.3
MOST_REFINED_PX = 10.0
"""The floor may move this much otherwise than the whole picture, at `ALIGN_SIDE_PX`."""
ALIGNMENT_SD_PX = 0.15
"""What the refinement leaves, per axis at `ALIGN_SIDE_PX` (measured on films with exact truth)."""
SAME_FLOOR_CORRELATION = 0.6


@dataclass(frozen=True, eq=False)
class Alignment:
    """How the picture of the floor moved.

    ``matrix`` (3, 3) takes straightened full-size pixels from before to after; ``turned_deg`` is the camera's turn,
    NaN where its focal length cannot be told; ``shifted_px`` the median way of the court in the picture;
    ``correlation`` of the floor's grey values once aligned, NaN where they could not be.
    """

    matrix: Floats
    turned_deg: float
    shifted_px: float
    motion: PictureMotion
    correlation: float


def align(before: NDArray[np.uint8], after: NDArray[np.uint8], view: View) -> Alignment | None:
    """Lay the picture of a view's floor on a later picture; None where the two show nothing in common.

    Parameters
    ----------
    before, after : (h, w) or (h, w, 3) of any size, each showing the whole picture; ``view`` holds for ``before``.
    """
    straight_before, straight_after = straightened(before, view), straightened(after, view)
    motion = motion_between(features_of(straight_before, view.image_size), features_of(straight_after, view.image_size))
    if motion is None or not _plausible(motion.matrix, view.image_size):
        return None
    refined, correlation = _refined(straight_before, straight_after, view, motion.matrix)
    moved = moved_pixels(refined, court_pixels(view), view)
    shifted_px = float(np.median(np.hypot(*(moved - court_pixels(view)).T)))
    return Alignment(refined, turned_deg(refined, view), shifted_px, motion, correlation)


def straightened(picture: NDArray[np.uint8], view: View) -> Grey:
    """A picture (h, w) or (h, w, 3) in grey, at most `ALIGN_SIDE_PX` long, as a lens without bend would show it."""
    import cv2

    grey = grey_of(picture, ALIGN_SIDE_PX)
    if not view.lens.bends:
        return grey
    grow = to_full_size(grey.shape, view.image_size)
    x, y = np.meshgrid(np.arange(grey.shape[1], dtype=float), np.arange(grey.shape[0], dtype=float))
    shown = view.lens.bend(map_points(grow, np.column_stack([x.ravel(), y.ravel()])))
    places = map_points(np.asarray(np.linalg.inv(grow)), shown).reshape(*grey.shape, 2).astype(np.float32)
    return np.asarray(cv2.remap(grey, places[..., 0], places[..., 1], cv2.INTER_LINEAR), dtype=np.uint8)


def moved_pixels(matrix: Floats, points_px: Floats, view: View) -> Floats:
    """Where points (N, 2) of the picture of the floor lie after its straight pixels moved by a matrix (3, 3)."""
    return view.lens.bend(map_points(matrix, view.lens.straighten(points_px)))


def moved_view(view: View, alignment: Alignment) -> View:
    """The view as the camera sees it after an alignment; what the alignment misses widens every later error."""
    homography = alignment.matrix @ view.homography
    size = np.linalg.norm(homography)
    turn = float(np.sign((homography @ (0.0, 0.0, 1.0))[2])) / size
    change = np.kron(alignment.matrix, np.eye(3)) * turn
    doubt_px = ALIGNMENT_SD_PX * max(view.image_size) / ALIGN_SIDE_PX
    whole = np.eye(len(view.parameter_cov))
    whole[:9, :9] = change
    cov = whole @ view.parameter_cov @ whole.T
    of_crossings_px = view.crossing_misfit_sd_px
    traces = {line: _still_shown(trace, alignment.matrix, view) for line, trace in view.traces.items()}
    marks, clicked = (
        {name: _still_shown((pixel,), alignment.matrix, view) for name, pixel in pixels.items()}
        for pixels in (view.marks, view.clicked)
    )
    return replace(
        view,
        homography=homography * turn,
        homography_cov=cov[:9, :9],
        rest_cov=cov[9:],
        marks={name: pixels[0] for name, pixels in marks.items() if pixels},
        clicked={name: pixels[0] for name, pixels in clicked.items() if pixels and marks[name]},
        traces={line: trace for line, trace in traces.items() if trace},
        misfit_sd_px=float(np.hypot(view.misfit_sd_px, doubt_px)),
        crossing_misfit_sd_px=None if of_crossings_px is None else float(np.hypot(of_crossings_px, doubt_px)),
        camera_position_m=_camera_place(homography * turn, view),
    )


def _still_shown(pixels: Sequence[tuple[float, float]], matrix: Floats, view: View) -> Trace:
    width, height = view.image_size
    moved = moved_pixels(matrix, np.array(pixels, dtype=float).reshape(-1, 2), view)
    return tuple((float(x), float(y)) for x, y in moved if -0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5)


def court_pixels(view: View) -> Floats:
    """Pixels (N, 2) of the court that the picture shows: its landmarks and a grid between them."""
    end_m, half_m = view.court.half_length_m, view.court.half_width_m
    x_m, y_m = np.meshgrid(np.linspace(-half_m, half_m, 5), np.linspace(-end_m, end_m, 9))
    floor = np.vstack(
        [np.array(list(landmarks(view.court).values()))[:, :2], np.column_stack([x_m.ravel(), y_m.ravel()])]
    )
    pixels = view.project(floor)
    shown = (pixels >= 0) & (pixels <= np.array(view.image_size) - 1)
    return pixels[shown.all(axis=1)]


def turned_deg(matrix: Floats, view: View) -> float:
    """Angle [deg] that the camera turned where straight floor pixels moved by a matrix (3, 3), NaN without a pose.

    Both poses are read off with the view's focal length, as `K^-1 H` is two columns of a rotation and a shift.
    """
    before, after = _pose(view.homography, view), _pose(matrix @ view.homography, view)
    if before is None or after is None:
        return float("nan")
    cosine = (np.trace(after[0] @ before[0].T) - 1) / 2
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def _pose(homography: Floats, view: View) -> tuple[Floats, Floats] | None:
    """Rotation (3, 3) and shift (3,) of the camera with the view's focal length; None where that cannot be told."""
    focal_px = view.focal_px if np.isfinite(view.focal_px) else _implied_focal_px(view)
    if not np.isfinite(focal_px):
        return None
    width, height = view.image_size
    x_px, y_px = view.lens.centre_px if view.lens.bends else ((width - 1) / 2, (height - 1) / 2)
    lens = np.array([[focal_px, 0, x_px], [0, focal_px, y_px], [0, 0, 1.0]])
    rays = np.linalg.inv(lens) @ homography
    left, sizes, right = np.linalg.svd(rays[:, :2], full_matrices=False)
    flat = left @ right
    return np.column_stack([flat, np.cross(flat[:, 0], flat[:, 1])]), rays[:, 2] / sizes.mean()


def _implied_focal_px(view: View) -> float:
    """Focal length [px] that the pose implies (Hartley & Zisserman 6.2.4), for views stored without one."""
    first_three = view.projection[:, :3]
    if not np.isfinite(first_three).all():
        return float("nan")
    rows = first_three / np.linalg.norm(first_three[2])
    centre = rows[:2] @ rows[2]
    return float(np.sqrt(np.maximum((rows[:2] ** 2).sum(axis=1) - centre**2, 0.0)).mean())


def _camera_place(homography: Floats, view: View) -> tuple[float, float, float] | None:
    pose = _pose(homography, view) if view.camera_position_m is not None else None
    if pose is None:
        return view.camera_position_m
    x_m, y_m, z_m = -pose[0].T @ pose[1]
    return (float(x_m), float(y_m), float(z_m)) if z_m > 0 else view.camera_position_m


def floor_mask(view: View, shape: tuple[int, ...]) -> Grey:
    """255 where a straightened picture (h, w) shows the floor around the court and not the net, else 0."""
    mask = np.zeros(shape[:2], dtype=np.uint8)
    shrink = np.asarray(np.linalg.inv(to_full_size(shape, view.image_size)), dtype=float)
    half_m, end_m = view.court.half_width_m + FREE_ZONE_M, view.court.half_length_m + FREE_ZONE_M
    floor = np.array([(x, y) for y in np.linspace(-end_m, end_m, 60) for x in np.linspace(-half_m, half_m, 20)])
    _fill(mask, map_points(shrink, view.lens.straighten(view.project(floor))), 255)
    if view.camera_position_m is not None:
        top_m, bottom_m = view.net_height_m + NET_SLACK_M, view.net_height_m - 1.0 - NET_SLACK_M
        side_m = view.court.half_width_m + 2 * NET_SLACK_M
        net = [(-side_m, 0, bottom_m), (side_m, 0, bottom_m), (side_m, 0, top_m), (-side_m, 0, top_m)]
        _fill(mask, map_points(shrink, view.lens.straighten(view.project(net))), 0)
    return mask


def _fill(mask: Grey, points_px: Floats, value: int) -> None:
    import cv2

    shown = points_px[np.isfinite(points_px).all(axis=1)]
    if len(shown) >= 3:
        corners = np.clip(shown, -1e4, 1e4).astype(np.float32)
        cv2.fillConvexPoly(mask, cv2.convexHull(corners).astype(np.int32), value)


def _plausible(matrix: Floats, image_size: tuple[int, int]) -> bool:
    """A nudged camera neither mirrors, nor folds, nor zooms its picture by half."""
    width, height = image_size
    corners = np.array([(0, 0), (width, 0), (width, height), (0, height)], dtype=float)
    depth = corners @ matrix[2, :2] + matrix[2, 2]
    if not (depth > 0.3 * depth.max()).all() and not (depth < 0.3 * depth.min()).all():
        return False
    moved = map_points(matrix, corners)
    x, y = moved.T
    area = 0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1))
    return bool(0.5 < area / (width * height) < 2.0)


def _refined(before: Grey, after: Grey, view: View, rough: Floats) -> tuple[Floats, float]:
    """The rough motion refined on the floor, and the correlation reached; as it was, and NaN, where that fails."""
    grow_before, grow_after = to_full_size(before.shape, view.image_size), to_full_size(after.shape, view.image_size)
    start = np.linalg.inv(grow_after) @ rough @ grow_before
    laid = lay(before, after, floor_mask(view, before.shape), start)
    if laid is None:
        return rough, float("nan")
    refined = grow_after @ laid.matrix @ np.linalg.inv(grow_before)
    inside = view.lens.straighten(court_pixels(view))
    gone_px = np.hypot(*(map_points(refined, inside) - map_points(rough, inside)).T).max()
    if gone_px > MOST_REFINED_PX * max(view.image_size) / ALIGN_SIDE_PX:
        return rough, float("nan")
    return refined, laid.correlation
