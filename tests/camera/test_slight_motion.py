from __future__ import annotations

import cv2
import numpy as np
import pytest

from serve_marker.camera.picture.feature_matching import Grey, corners_of, slight_motion, to_full_size
from serve_marker.camera.view.homography import map_points

SHAPE, SIZE = (360, 640), (1280, 720)
COURT_PX = np.array([[200.0, 500.0], [1080.0, 500.0], [900.0, 250.0], [380.0, 250.0]])


def picture(seed: int) -> Grey:
    noise = np.random.default_rng(seed).integers(0, 256, SHAPE).astype(np.uint8)
    return np.asarray(cv2.equalizeHist(cv2.GaussianBlur(noise, (0, 0), 3)), dtype=np.uint8)


def moved(grey: Grey, matrix: np.ndarray) -> Grey:
    """The picture as a camera sees it whose full-size pixels moved so (OpenCV's own warp)."""
    to_full = to_full_size(SHAPE, SIZE)
    small = np.linalg.inv(to_full) @ matrix @ to_full
    return np.asarray(cv2.warpPerspective(grey, small, SHAPE[::-1], borderMode=cv2.BORDER_REFLECT), dtype=np.uint8)


@pytest.mark.parametrize("shift_px", [(0.0, 0.0), (0.7, -0.4), (-3.0, 2.0)])
def test_a_picture_that_hardly_moved_is_told_to_a_fifth_of_a_pixel(shift_px: tuple[float, float]) -> None:
    before = picture(1)
    matrix = np.array([[1.0, 0.001, shift_px[0]], [-0.001, 1.0, shift_px[1]], [0.0, 0.0, 1.0]])

    told = slight_motion(before, corners_of(before), moved(before, matrix), SIZE)

    assert told is not None
    assert map_points(told.matrix, COURT_PX) == pytest.approx(map_points(matrix, COURT_PX), abs=0.2)


def test_people_before_a_third_of_the_picture_do_not_move_it() -> None:
    before, after = picture(1), picture(1).copy()
    after[:, :200] = picture(2)[:, :200]

    told = slight_motion(before, corners_of(before), after, SIZE)

    assert told is not None
    assert map_points(told.matrix, COURT_PX) == pytest.approx(COURT_PX, abs=0.4)


def test_another_place_and_a_wall_without_corners_tell_nothing() -> None:
    before, wall = picture(1), np.full(SHAPE, 90, dtype=np.uint8)

    assert slight_motion(before, corners_of(before), picture(2), SIZE) is None
    assert slight_motion(wall, corners_of(wall), before, SIZE) is None
