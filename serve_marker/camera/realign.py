"""The same camera after its tripod was nudged: how far it turned, and the view that now holds.

The floor is one plane, so that its picture moves by a homography of the straightened pixels, whatever the camera
did; walls and nets move by others. Features of the whole picture find the rough motion; the grey values of the floor
alone (lines of all sports, grain of the wood) refine it below a pixel (Evangelidis & Psarakis, "Parametric Image
Alignment using Enhanced Correlation Coefficient Maximization", PAMI 2008, indifferent to light).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.features import Grey, Motion, features_of, grey_of, motion_between, to_full_size
from serve_marker.camera.homography import Floats, map_points
from serve_marker.camera.pose import camera_position
from serve_marker.camera.view import View
from serve_marker.court.dimensions import landmarks

ALIGN_SIDE_PX = 1280
ALIGN_STEPS = 60
ALIGN_SETTLED = 1e-6
ALIGN_BLUR_PX = 5
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
    motion: Motion
    correlation: float


def align(before: NDArray[np.uint8], after: NDArray[np.uint8], view: View) -> Alignment | None:
    """Lay the picture of a view's floor on a later picture; None where the two show nothing in common.

    Parameters
    ----------
    before, after : (h, w) or (h, w, 3) of any size, each showing the whole picture; ``view`` holds for ``before``.
    """
    motion = motion_between(features_of(before, view.image_size), features_of(after, view.image_size))
    if motion is None or not _plausible(motion.matrix, view.image_size):
        return None
    refined, correlation = _refined(grey_of(before, ALIGN_SIDE_PX), grey_of(after, ALIGN_SIDE_PX), view, motion.matrix)
    shifted_px = median_shift_px(refined, court_pixels(view))
    return Alignment(refined, turned_deg(refined, view), shifted_px, motion, correlation)


def moved_view(view: View, alignment: Alignment) -> View:
    """The view as the camera sees it after an alignment; what the alignment misses widens every later error."""
    matrix = alignment.matrix
    homography = matrix @ view.homography
    homography /= np.linalg.norm(homography)
    centre = court_pixels(view).mean(axis=0, keepdims=True)
    if (matrix @ np.append(centre[0], 1.0))[2] < 0:
        homography = -homography
    move = np.kron(matrix, np.eye(3)) * (np.linalg.norm(homography) / np.linalg.norm(matrix @ view.homography))
    homography_cov = move @ view.homography_cov @ move.T
    doubt_px = ALIGNMENT_SD_PX * max(view.image_size) / ALIGN_SIDE_PX
    width, height = view.image_size

    def moved(pixels: tuple[tuple[float, float], ...]) -> Floats:
        return map_points(matrix, np.array(pixels, dtype=float).reshape(-1, 2))

    inside = {
        name: (float(x), float(y))
        for name, pixel in view.marks.items()
        for x, y in moved((pixel,))
        if -0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5
    }
    traces = {
        line: tuple(
            (float(x), float(y)) for x, y in moved(trace) if -0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5
        )
        for line, trace in view.traces.items()
    }
    return replace(
        view,
        homography=homography,
        homography_cov=homography_cov,
        marks=inside,
        traces={line: trace for line, trace in traces.items() if trace},
        misfit_sd_px=float(np.hypot(view.misfit_sd_px, doubt_px)),
        camera_position_m=camera_position(homography, homography_cov, view.image_size),
    )


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


def median_shift_px(matrix: Floats, pixels: Floats) -> float:
    """Median way [px] of pixels (N, 2) under a motion.

    Examples
    --------
    >>> median_shift_px(np.array([[1.0, 0, 3], [0, 1, 4], [0, 0, 1]]), np.zeros((5, 2)))
    5.0
    """
    return float(np.median(np.hypot(*(map_points(matrix, pixels) - pixels).T)))


def turned_deg(matrix: Floats, view: View) -> float:
    """Angle [deg] that the camera turned where the floor's picture moved by ``matrix``; NaN without a pose.

    Both poses are read off with the view's focal length, as `K^-1 H` is two columns of a rotation and a shift.
    """
    focal_px = focal_length_px(view)
    if not np.isfinite(focal_px):
        return float("nan")
    width, height = view.image_size
    lens = np.array([[focal_px, 0, (width - 1) / 2], [0, focal_px, (height - 1) / 2], [0, 0, 1.0]])
    between = (
        _rotation(np.linalg.inv(lens) @ matrix @ view.homography) @ _rotation(np.linalg.inv(lens) @ view.homography).T
    )
    return float(np.degrees(np.arccos(np.clip((np.trace(between) - 1) / 2, -1.0, 1.0))))


def _rotation(rays: Floats) -> Floats:
    """The rotation nearest to the first two columns of ``rays`` (3, 3)."""
    left, _, right = np.linalg.svd(rays[:, :2], full_matrices=False)
    flat = left @ right
    return np.column_stack([flat, np.cross(flat[:, 0], flat[:, 1])])


def focal_length_px(view: View) -> float:
    """Focal length [px] that the view's pose implies, NaN without one (Hartley & Zisserman 6.2.4)."""
    first_three = view.projection[:, :3]
    if not np.isfinite(first_three).all():
        return float("nan")
    rows = first_three / np.linalg.norm(first_three[2])
    centre = rows[:2] @ rows[2]
    lengths = np.sqrt(np.maximum((rows[:2] ** 2).sum(axis=1) - centre**2, 0.0))
    return float(lengths.mean())


def floor_mask(view: View, shape: tuple[int, ...]) -> Grey:
    """255 where a picture of this shape (h, w) shows the floor around the court and not the net, else 0."""
    mask = np.zeros(shape[:2], dtype=np.uint8)
    shrink = np.asarray(np.linalg.inv(to_full_size(shape, view.image_size)), dtype=float)
    half_m, end_m = view.court.half_width_m + FREE_ZONE_M, view.court.half_length_m + FREE_ZONE_M
    floor = np.array([(x, y) for y in np.linspace(-end_m, end_m, 60) for x in np.linspace(-half_m, half_m, 20)])
    _fill(mask, map_points(shrink, view.project(floor)), 255)
    if view.camera_position_m is not None:
        top_m, bottom_m = view.net_height_m + NET_SLACK_M, view.net_height_m - 1.0 - NET_SLACK_M
        side_m = view.court.half_width_m + 2 * NET_SLACK_M
        net = [(-side_m, 0, bottom_m), (side_m, 0, bottom_m), (side_m, 0, top_m), (-side_m, 0, top_m)]
        _fill(mask, map_points(shrink, view.project(net)), 0)
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
    import cv2

    grow_before, grow_after = to_full_size(before.shape, view.image_size), to_full_size(after.shape, view.image_size)
    start = np.linalg.inv(grow_after) @ rough @ grow_before
    start /= start[2, 2]
    mask = cv2.warpPerspective(floor_mask(view, before.shape), start, after.shape[::-1], flags=cv2.INTER_NEAREST)
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, ALIGN_STEPS, ALIGN_SETTLED)
    try:
        correlation, found = cv2.findTransformECC(
            before, after, start.astype(np.float32), cv2.MOTION_HOMOGRAPHY, stop, mask, ALIGN_BLUR_PX
        )
    except cv2.error:
        return rough, float("nan")
    refined = grow_after @ np.asarray(found, dtype=float) @ np.linalg.inv(grow_before)
    inside = court_pixels(view)
    gone_px = np.hypot(*(map_points(refined, inside) - map_points(rough, inside)).T).max()
    if gone_px > MOST_REFINED_PX * max(view.image_size) / ALIGN_SIDE_PX:
        return rough, float("nan")
    return refined, float(correlation)
