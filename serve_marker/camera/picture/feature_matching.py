"""What a camera sees that stays: small grey pictures, their features, and how two pictures lie on each other."""

from __future__ import annotations

import base64
import binascii
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.view.homography import map_points
from serve_marker.court.dimensions import Floats
from serve_marker.errors import UserError

FEWEST_INLIERS = 25
LEAST_INLIER_SHARE = 0.35
LEAST_SPREAD = 0.08

Grey = NDArray[np.uint8]

FEATURE_SIDE_PX = 640
REFERENCE_SIDE_PX = 1280
"""As large as the pictures it is laid on: three quarters of that put a low camera's court half a pixel off."""
REFERENCE_QUALITY = 85
MOST_FEATURES = 2500
CONTRAST_THRESHOLD = 0.015
"""Below OpenCV's usual 0.04: gym walls and wooden floors are pale."""
RATIO = 0.8
"""A match counts where its distance is below this share of the next best one's (Lowe 2004, section 7.1)."""
INLIER_PX = 1.5
"""At the size of `FEATURE_SIDE_PX`."""
FEWEST_MATCHES = 8
MOST_CORNERS, CORNER_QUALITY, CORNERS_APART_PX, FOLLOWED_PX = 300, 0.005, 8, 15
LEAST_FOLLOWED_SHARE = 0.6
"""On rendered film of still cameras 73 to 96 of 100 corners arrive together, after a knock of 18 px 45."""


@dataclass(frozen=True, eq=False)
class Features:
    """Where the features of a picture lie, (N, 2) [px of the full-size picture], and what each looks like (N, 128)."""

    image_size: tuple[int, int]
    points_px: Floats
    descriptors: NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class PictureMotion:
    """A homography (3, 3) between two pictures' full-size pixels, and how many of the matches it explains."""

    matrix: Floats
    inliers: int
    matches: int
    spread: float
    """Area that the explained matches cover, over the picture's."""


def grey_of(picture: NDArray[np.uint8], longest_side_px: int) -> Grey:
    """A picture (H, W, 3) or (H, W) in grey, made smaller until no side is longer than asked.

    Examples
    --------
    >>> grey_of(np.zeros((720, 1280, 3), dtype=np.uint8), 640).shape
    (360, 640)
    """
    import cv2

    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY) if picture.ndim == 3 else picture
    share = longest_side_px / max(grey.shape)
    if share < 1:
        size = (round(grey.shape[1] * share), round(grey.shape[0] * share))
        grey = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    return np.asarray(grey, dtype=np.uint8)


def to_full_size(shape: tuple[int, ...], image_size: tuple[int, int]) -> Floats:
    """The matrix (3, 3) from pixels of a picture of this shape (h, w) to those of the full size (width, height).

    Pixel centres are whole numbers, so that the corners of the pictures meet at -0.5.

    Examples
    --------
    >>> map_points(to_full_size((360, 640), (1280, 720)), np.array([[0.0, 0.0], [639.5, 359.5]])).tolist()
    [[0.5, 0.5], [1279.5, 719.5]]
    """
    across, down = image_size[0] / shape[1], image_size[1] / shape[0]
    return np.array([[across, 0, (across - 1) / 2], [0, down, (down - 1) / 2], [0, 0, 1.0]])


def features_of(picture: NDArray[np.uint8], image_size: tuple[int, int]) -> Features:
    """Features of a picture (h, w, 3) or (h, w) of any size that shows all of the full-size one."""
    import cv2

    grey = grey_of(picture, FEATURE_SIDE_PX)
    finder = cv2.SIFT.create(nfeatures=MOST_FEATURES, contrastThreshold=CONTRAST_THRESHOLD)
    found, descriptors = finder.detectAndCompute(cv2.createCLAHE(2.0, (8, 8)).apply(grey), None)
    points = np.array([key.pt for key in found], dtype=float).reshape(-1, 2)
    looks = np.asarray(descriptors, dtype=np.float32) if found else np.zeros((0, 128), dtype=np.float32)
    return Features(image_size, map_points(to_full_size(grey.shape, image_size), points), looks)


def motion_between(before: Features, after: Features) -> PictureMotion | None:
    """How ``before`` lies on ``after``; None where too few features agree on anything."""
    pairs = _matches(before.descriptors, after.descriptors)
    return _motion_of(before.points_px[pairs[:, 0]], after.points_px[pairs[:, 1]], after.image_size)


def corners_of(picture: Grey) -> NDArray[np.float32]:
    """Points (N, 2) of a picture (h, w), in its own pixels, that can be followed (Shi, Tomasi 1994)."""
    import cv2

    found = cv2.goodFeaturesToTrack(picture, MOST_CORNERS, CORNER_QUALITY, CORNERS_APART_PX)
    return np.zeros((0, 2), np.float32) if found is None else np.asarray(found, dtype=np.float32).reshape(-1, 2)


def slight_motion(
    before: Grey, corners: NDArray[np.float32], after: Grey, image_size: tuple[int, int]
) -> PictureMotion | None:
    """How a picture (h, w) with its corners (N, 2) lies on another where it has hardly moved; None where it has.

    The corners are followed from one to the other (Lucas, Kanade 1981, in pyramids): a twentieth of the cost of
    features found anew.
    """
    import cv2

    if len(corners) < FEWEST_INLIERS or before.shape != after.shape:
        return None
    ends, seen, _ = cv2.calcOpticalFlowPyrLK(
        before, after, corners, np.empty_like(corners), winSize=(FOLLOWED_PX, FOLLOWED_PX), maxLevel=2
    )
    kept, to_full = seen.ravel() == 1, to_full_size(before.shape, image_size)
    source, target = (map_points(to_full, points[kept].astype(float)) for points in (corners, ends))
    motion = _motion_of(source, target, image_size)
    return motion if motion is not None and motion.inliers >= LEAST_FOLLOWED_SHARE * len(corners) else None


def _motion_of(source: Floats, target: Floats, image_size: tuple[int, int]) -> PictureMotion | None:
    """The motion of points (N, 2) to others, None where too few agree."""
    import cv2

    if len(source) < FEWEST_MATCHES:
        return None
    cv2.setRNGSeed(1)
    limit_px = INLIER_PX * max(image_size) / FEATURE_SIDE_PX
    matrix, kept = cv2.findHomography(source, target, cv2.RANSAC, limit_px, maxIters=5000, confidence=0.999)
    if matrix is None or kept.sum() < FEWEST_MATCHES:
        return None
    inside = kept.ravel().astype(bool)
    hull = cv2.convexHull(target[inside].astype(np.float32))
    spread = float(cv2.contourArea(hull)) / (image_size[0] * image_size[1])
    return PictureMotion(np.asarray(matrix, dtype=float), int(inside.sum()), len(source), spread)


def _matches(first: NDArray[np.float32], second: NDArray[np.float32]) -> NDArray[np.int64]:
    """Pairs (M, 2) of indices that are each other's best match and clearly better than the next."""
    if len(first) < 2 or len(second) < 2:
        return np.zeros((0, 2), dtype=np.int64)
    squares = (first**2).sum(axis=1)[:, None] + (second**2).sum(axis=1) - 2 * first @ second.T
    rows, best, back = np.arange(len(first)), squares.argmin(axis=1), squares.argmin(axis=0)
    nearest = squares[rows, best]
    squares[rows, best] = np.inf
    kept = (nearest < RATIO**2 * squares.min(axis=1)) & (back[best] == rows)
    return np.column_stack([rows[kept], best[kept]])


def background_of(pictures: list[Grey]) -> Grey:
    """What stays in grey pictures (h, w) of one place: the median of each pixel.

    Examples
    --------
    >>> background_of([np.full((1, 1), value, dtype=np.uint8) for value in (10, 200, 12)]).tolist()
    [[12]]
    """
    return np.asarray(np.median(np.stack(pictures), axis=0), dtype=np.uint8)


def reference_to_text(picture: NDArray[np.uint8]) -> str:
    """A picture (H, W, 3) or (H, W) as a small grey JPEG in base64, to be kept with a view."""
    import cv2

    _, packed = cv2.imencode(".jpg", grey_of(picture, REFERENCE_SIDE_PX), [cv2.IMWRITE_JPEG_QUALITY, REFERENCE_QUALITY])
    return base64.b64encode(packed.tobytes()).decode("ascii")


def reference_from_text(text: str) -> Grey:
    """The grey picture (h, w) that `reference_to_text` packed.

    Raises
    ------
    UserError : where the text holds no picture.
    """
    import cv2

    try:
        packed = np.frombuffer(base64.b64decode(text, validate=True), dtype=np.uint8)
        picture = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE) if len(packed) else None
    except (binascii.Error, ValueError, cv2.error):
        picture = None
    if picture is None:
        raise UserError("The picture kept with the view is damaged. Check the view against a clip again.")
    return np.asarray(picture, dtype=np.uint8)


def trusted(motion: PictureMotion) -> bool:
    """Whether a motion rests on enough matches over enough of the picture to be more than chance."""
    return (
        motion.inliers >= FEWEST_INLIERS
        and motion.inliers >= LEAST_INLIER_SHARE * motion.matches
        and motion.spread >= LEAST_SPREAD
    )
