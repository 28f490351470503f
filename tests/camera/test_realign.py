"""A camera turned by known angles: the floor followed below a pixel past people and light, other places refused."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.picture.feature_matching import PictureMotion, grey_of
from serve_marker.camera.picture.moved_in_clip import Sighting, steadiness_of
from serve_marker.camera.picture.moved_since_view import recognise
from serve_marker.camera.picture.realign import Alignment, align, court_pixels, moved_view
from serve_marker.camera.view.lens import Lens
from serve_marker.camera.view.viewfile import read_marks
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader

FOCAL_PX = 820.0
"""winter-stand's camera, from its truth file."""


@pytest.fixture(scope="module")
def view(sample_clips):
    sheet = read_marks(sample_clips / "winter-stand.marks.json")
    return fit_view(sheet.marks, sheet.court, sheet.image_size, sheet.net_height_m, traces=sheet.traces).view


@pytest.fixture(scope="module")
def frames(sample_clips):
    """Two grey frames ten seconds apart: the people have walked on."""
    with FrameReader(open_clip(sample_clips / "winter-stand.mp4")) as reader:
        return [grey_of(reader.frame(reader.clip.frame_at(time_s)), 1280) for time_s in (2.0, 12.0)]


@pytest.fixture(scope="module")
def elsewhere(sample_clips):
    with FrameReader(open_clip(sample_clips / "autumn-gallery.mp4")) as reader:
        return grey_of(reader.frame(60), 1280)


def turned(picture, degrees):
    """The picture of a camera turned by (pitch, yaw, roll) about its own place, and how its pixels moved."""
    rotation, _ = cv2.Rodrigues(np.radians(degrees))
    lens = np.array([[FOCAL_PX, 0, 639.5], [0, FOCAL_PX, 359.5], [0, 0, 1]])
    move = lens @ rotation @ np.linalg.inv(lens)
    return cv2.warpPerspective(picture, move, (1280, 720), borderMode=cv2.BORDER_REPLICATE), move


def lit(picture, gamma):
    return np.round(255 * (picture / 255.0) ** gamma).astype(np.uint8)


@pytest.mark.parametrize(("degrees", "gamma"), [((0.2, 0.3, 0.0), 0.7), ((-0.8, 1.1, 0.3), 1.4)])
def test_the_lines_follow_a_turn_past_people_and_light(degrees, gamma, view, frames):
    later, move = turned(frames[1], degrees)

    found = recognise(view, lit(later, gamma), frames[0])

    pixels = court_pixels(view)
    away_px = np.hypot(*(cv2.perspectiveTransform(pixels[None], move)[0] - pixels).T)
    assert found.turned_deg == pytest.approx(np.linalg.norm(degrees), abs=0.1)
    assert found.shifted_px == pytest.approx(np.median(away_px), abs=0.5)
    assert "Check the re-aligned lines" in found.warnings[0]
    floor = np.array([(x, y) for x in (-4.0, 0.0, 4.0) for y in (-6.0, -1.0, 4.0)])
    true_px = cv2.perspectiveTransform(view.project(floor)[None], move)[0]
    assert np.median(np.hypot(*(found.view.project(floor) - true_px).T)) < 0.5


def test_clicks_move_with_the_landmarks_that_moved_to_their_crossing(view):
    """A picture 30 px further left: ways stay as they were, and one that found no crossing stays on its mark."""
    found, unmoved = (name for name in view.marks if name in ("end-b/left", "end-b/right"))
    clicked = {found: tuple(np.add(view.marks[found], (2.0, -1.0))), unmoved: view.marks[unmoved]}
    further = np.array([[1.0, 0, -30.0], [0, 1.0, 0], [0, 0, 1.0]])
    straight = replace(view, lens=Lens(), clicked=clicked)
    motion = PictureMotion(further, 0, 0, 0.0)
    moved = moved_view(straight, Alignment(further, 0.0, 30.0, motion, 1.0))
    assert np.subtract(moved.clicked[found], moved.marks[found]) == pytest.approx((2.0, -1.0))
    assert moved.clicked[unmoved] == moved.marks[unmoved]
    assert moved.marks[unmoved] == pytest.approx(np.subtract(view.marks[unmoved], (30.0, 0.0)))


def test_a_camera_that_stayed_is_left_alone(view, frames):
    found = recognise(view, lit(frames[1], 1.3), frames[0])
    assert (found.view is view, found.shifted_px, found.warnings) == (True, 0.0, ())


def test_lines_show_the_place_where_the_picture_kept_does_not(view, frames):
    """A picture kept in which a crowd hid nearly everything."""
    hidden = np.random.default_rng(1).integers(0, 255, frames[0].shape, dtype=np.uint8)
    found = recognise(view, frames[1], hidden)
    assert (found.view is view, found.warnings) == (True, ())


@pytest.mark.parametrize("with_picture", [True, False])
def test_another_place_is_no_view_of_this_one(view, frames, elsewhere, with_picture):
    found = recognise(view, elsewhere, frames[0] if with_picture else None)
    assert found.view is None
    assert "Make a new view" in found.warnings[0]


def test_a_re_aligned_view_is_less_sure(view, frames):
    later, _ = turned(frames[0], (0.3, 0.6, 0.0))
    motion = align(frames[0], later, view)
    assert motion is not None
    moved = moved_view(replace(view, crossing_misfit_sd_px=0.4), motion)
    assert moved.misfit_sd_px > view.misfit_sd_px
    assert moved.crossing_misfit_sd_px is not None
    assert moved.crossing_misfit_sd_px > 0.4
    assert moved_view(view, motion).crossing_misfit_sd_px is None
    assert moved.camera_position_m == pytest.approx(view.camera_position_m, abs=0.05)


def test_a_grey_wall_shows_nothing_in_common(view, frames):
    assert align(frames[0], np.full((720, 1280), 128, dtype=np.uint8), view) is None


STAYS = [
    ([0, 0, 0, 0], [(0, 1, 2, 3)], False),
    ([0, 0, 9, 0, 0], [(0, 1, 3, 4)], False),
    ([0, 0, 0, 20, 20, 20], [(0, 1, 2), (3, 4, 5)], False),
    ([0, 8, 3, 15, 6, 20, 1, 12], None, True),
]


@pytest.mark.parametrize(("ways_px", "stays", "never_still"), STAYS)
def test_stretches_of_a_film(ways_px, stays, never_still):
    """Looks as the whole picture's way in px: still, one look astray, knocked once, in a hand."""
    found = steadiness_of([Sighting(k, np.full((4, 2), float(way))) for k, way in enumerate(ways_px)], 1.5)
    assert found.never_still == never_still
    if stays is not None:
        assert [stay.looks for stay in found.stays] == stays
