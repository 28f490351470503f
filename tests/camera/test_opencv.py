"""The same inputs through OpenCV: one plane calibrated, a pose solved, and a published set of chessboards."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from serve_marker.camera.fitting.bundle_adjustment import Known, adjust
from serve_marker.camera.fitting.lens_choice import middle_of, start_camera
from serve_marker.camera.fitting.observations import of_marks
from serve_marker.camera.view.homography import homography_covariance, map_points, solve_homography
from serve_marker.court.dimensions import court_named, landmarks

COURT = court_named("indoor")
PLACES = landmarks(COURT)


def adjusted(places_m, pixels, size, known, sd_px=1.0):
    H = solve_homography(places_m[:, :2], pixels)
    noise = np.broadcast_to(np.eye(2) * sd_px**2, (len(pixels), 2, 2))
    start = start_camera(H, homography_covariance(H, places_m[:, :2], noise), size)
    assert start is not None
    return adjust(start, of_marks(places_m, pixels, np.full(len(pixels), sd_px)), known)


@pytest.fixture
def clicked(camera_named):
    """Places and pixels of ten marks and ten more points of the floor, bent by a wide lens, with 0.7 px of noise."""
    camera = camera_named("stand")
    rng = np.random.default_rng(9)
    floor = np.vstack([[place[:2] for place in PLACES.values()], rng.uniform((-4.5, -8), (4.5, 9), (10, 2))])
    places = np.column_stack([floor, np.zeros(len(floor))])
    rays = (camera.project(places) - (np.array(camera.size) - 1) / 2) / camera.focal_px
    r2 = (rays**2).sum(axis=1, keepdims=True)
    bent = rays * (1 - 0.1 * r2 + 0.02 * r2**2) * camera.focal_px + (np.array(camera.size) - 1) / 2
    return places, bent + rng.normal(0, 0.7, bent.shape), camera.size


def test_one_plane_is_calibrated_as_by_opencv(clicked):
    """With nothing expected beforehand ours is `calibrateCamera` with the principal point held."""
    places, pixels, size = clicked
    ours = adjusted(places, pixels, size, Known(middle_of(size), 0.0, 1e6, 0.0, 0.0)).camera
    guess = np.array(
        [[ours.focal_px * 1.02, 0, (size[0] - 1) / 2], [0, ours.focal_px * 1.02, (size[1] - 1) / 2], [0, 0, 1]]
    )
    flags = cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_PRINCIPAL_POINT | cv2.CALIB_FIX_ASPECT_RATIO
    flags |= cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K2 | cv2.CALIB_FIX_K3
    rms, K, dist, (turn,), (shift,) = cv2.calibrateCamera(
        [places.astype(np.float32)],
        [pixels.astype(np.float32)],
        size,
        guess,
        np.zeros(5),
        flags=flags,
        criteria=(3, 500, 1e-12),
    )
    assert ours.focal_px == pytest.approx(K[0, 0], rel=2e-4)
    assert ours.lens.k1 * (ours.focal_px / ours.lens.scale_px) ** 2 == pytest.approx(dist.ravel()[0], abs=2e-4)
    np.testing.assert_allclose(ours.place_m, (-cv2.Rodrigues(turn)[0].T @ shift).ravel(), atol=0.01)
    assert np.sqrt((np.square(pixels - ours.shown(places))).sum(axis=1).mean()) == pytest.approx(rms, rel=1e-4)


def test_pose_is_that_of_solve_pnp(clicked):
    """At the likeliest camera, OpenCV's pose for its focal length and bend is the same."""
    places, pixels, size = clicked
    ours = adjusted(places, pixels, size, Known(middle_of(size), 0.0, 1e6, 0.0, 0.0)).camera
    K = np.array([[ours.focal_px, 0, ours.lens.centre_px[0]], [0, ours.focal_px, ours.lens.centre_px[1]], [0, 0, 1]])
    dist = np.array([ours.lens.k1 * (ours.focal_px / ours.lens.scale_px) ** 2, 0, 0, 0])
    _, turn, shift = cv2.solvePnP(places, pixels, K, dist)
    turn, shift = cv2.solvePnPRefineLM(places, pixels, K, dist, turn, shift)
    np.testing.assert_allclose(ours.place_m, (-cv2.Rodrigues(turn)[0].T @ shift).ravel(), atol=0.005)


def test_straightened_marks_give_opencv_s_homography(clicked):
    places, pixels, size = clicked
    ours = adjusted(places, pixels, size, Known(middle_of(size), 1e4, 1e6, 0.0, 0.0)).camera
    theirs, _ = cv2.findHomography(places[:, :2], ours.lens.straighten(pixels), 0)
    np.testing.assert_allclose(ours.straight(places), map_points(theirs, places[:, :2]), atol=0.15)


@pytest.fixture(scope="module")
def boards():
    """Corners of the OpenCV sample images left01 to left14 (Debian opencv-doc, Apache License 2.0), and our cameras."""
    kept = json.loads((Path(__file__).parent / "chessboard_corners.json").read_text())
    grid = kept["square_m"] * np.array([(x, y) for y in range(6) for x in range(9)], dtype=float)
    found = []
    for pixels in map(np.array, kept["boards"].values()):
        flat = next(side for side in (grid, grid * (1, -1)) if np.linalg.det(solve_homography(side, pixels)) < 0)
        places = np.column_stack([flat, np.zeros(len(flat))])
        size = tuple(kept["image_size"])
        known = Known(middle_of(size), 20.0, 0.3, 0.3, 0.0)
        found.append((flat, pixels, adjusted(places, pixels, size, known, sd_px=0.2).camera))
    return found


PUBLISHED_FOCAL_PX = 535.9157
PUBLISHED_BEND = (-0.266373, -0.038589, 0.238392)


def published_bend(r):
    """Share by which OpenCV's left_intrinsics.yml moves a point r focal lengths from the centre."""
    k1, k2, k3 = PUBLISHED_BEND
    return k1 * r**2 + k2 * r**4 + k3 * r**6


def test_each_published_chessboard_gives_the_known_lens(boards):
    """Each board calibrated alone, as a court is; in the middle within 2 % of focal length and 4 % of the bend."""
    focals, bends = [], []
    for _, _, camera in boards:
        unit = camera.focal_px / camera.lens.scale_px
        focals.append(camera.focal_px)
        bends.append([camera.lens.k1 * (unit * r) ** 2 + camera.lens.k2 * (unit * r) ** 4 for r in (0.3, 0.5)])
    assert len(focals) == 13
    assert np.median(focals) == pytest.approx(PUBLISHED_FOCAL_PX, rel=0.02)
    np.testing.assert_allclose(np.median(bends, axis=0), [published_bend(0.3), published_bend(0.5)], rtol=0.04)
    np.testing.assert_allclose(bends, np.tile([published_bend(0.3), published_bend(0.5)], (13, 1)), rtol=0.16)


def off_board_mm(flat, pixels):
    """Root mean square distance [mm] of corners from where a free homography puts them on the board."""
    found = map_points(np.linalg.inv(solve_homography(flat, pixels)).astype(np.float64), pixels)
    return 1000 * np.sqrt(((found - flat) ** 2).sum(axis=1).mean())


def test_the_corners_are_those_that_opencv_calibrates(boards):
    """Corners found in windows of 5 px: OpenCV's calibration of all 13 boards has f 532.757 px and 0.1956 px rms."""
    places = [np.column_stack([flat, np.zeros(len(flat))]).astype(np.float32) for flat, _, _ in boards]
    guess, flags = np.array([[500.0, 0, 320], [0, 500, 240], [0, 0, 1]]), cv2.CALIB_USE_INTRINSIC_GUESS
    rms, K, *_ = cv2.calibrateCamera(
        *(places, [pixels.astype(np.float32) for _, pixels, _ in boards], (640, 480), guess, np.zeros(5)),
        flags=flags | cv2.CALIB_FIX_ASPECT_RATIO,
    )
    assert K[0, 0] == pytest.approx(532.757, abs=0.1)
    assert rms == pytest.approx(0.195554, abs=5e-4)


def test_the_lens_flattens_the_boards(boards):
    """Corners lie 0.545 to 1.056 mm off a free homography; OpenCV's lens of all boards leaves 0.106 to 0.157 mm.

    That is 4.0 to 9.4 times less. Ours is told by one board at a time, as a court is.
    """
    bent = [off_board_mm(flat, pixels) for flat, pixels, _ in boards]
    straight = [off_board_mm(flat, camera.lens.straighten(pixels)) for flat, pixels, camera in boards]
    assert (min(bent), max(bent)) == pytest.approx((0.545, 1.056), rel=0.03)
    assert 0.106 <= np.median(straight) <= 0.157
    assert max(straight) < 0.2
    assert min(np.divide(bent, straight)) >= 4.0
