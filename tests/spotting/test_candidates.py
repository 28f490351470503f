from __future__ import annotations

import threading

import numpy as np
import pytest
from numpy.typing import NDArray

from serve_marker.spotting.candidates import (
    LEAST_GREY,
    MOST_CANDIDATES,
    _Finder,
    ball_radii_px,
    divisor_for,
    looks,
    pixels_per_radian,
    radius_range_px,
    standing_out,
)
from serve_marker.video.clip import open_clip
from tests.spotting.films import SAMPLES, gallery_truth, gallery_view


def picture_with(*balls: tuple[int, int], grey: int = 200, radius_px: int = 4) -> NDArray[np.uint8]:
    down, across = np.mgrid[0:90, 0:160]
    picture = np.full((90, 160), 100, dtype=np.uint8)
    for x, y in balls:
        picture[np.hypot(across - x, down - y) <= radius_px] = grey
    return picture


@pytest.mark.parametrize("grey", [200, 20])
def test_only_where_the_ball_is_now_stands_out_not_where_it_was_or_will_be(grey: int) -> None:
    before, here, after = (picture_with(at, grey=grey) for at in ((30, 40), (60, 42), (90, 40)))

    mask = standing_out(before, here, after)

    rows, columns = np.nonzero(mask)
    assert np.hypot(columns - 60, rows - 42).max() <= 4
    assert len(rows) == (here == grey).sum()


def test_a_light_that_dims_all_by_less_than_the_threshold_hides_nothing_and_shows_nothing() -> None:
    still = picture_with()

    assert not standing_out(still + np.uint8(LEAST_GREY), still, still + np.uint8(LEAST_GREY)).any()


@pytest.mark.parametrize("divisor", [1, 2])
def test_a_candidate_is_told_in_pixels_of_the_full_picture(divisor: int) -> None:
    finder = _Finder(divisor, 4.0 * divisor, 8.0 * divisor)
    steps = [picture_with(at) for at in ((30, 40), (60, 42), (90, 40))]

    found = [finder.add(k, k / 30, step) for k, step in enumerate(steps)]

    assert found[:2] == [None, None]
    look = found[2]
    assert look is not None
    assert look.index == 1
    assert look.centres_px.tolist() == [[(60 + 0.5) * divisor - 0.5, (42 + 0.5) * divisor - 0.5]]
    assert look.areas_px2.tolist() == [(steps[1] == 200).sum() * divisor**2]


def test_a_picture_that_jumps_as_a_whole_tells_nothing() -> None:
    finder = _Finder(1, 1.5, 3.0)
    rng = np.random.default_rng(1)
    spots = [(int(x), int(y)) for x in range(4, 640, 12) for y in range(4, 360, 12)]
    assert len(spots) > MOST_CANDIDATES
    still, jumped = np.full((360, 640), 100, np.uint8), np.full((360, 640), 100, np.uint8)
    for x, y in spots:
        jumped[y - 2 : y + 3, x - 2 : x + 3] = 150 + int(rng.integers(50))

    looked = [finder.add(k, k / 30, picture) for k, picture in enumerate((still, jumped, still))][2]

    assert looked is not None
    assert len(looked.centres_px) == 0


def test_the_smallest_ball_decides_how_small_pictures_are_made() -> None:
    smallest_px, largest_px = radius_range_px(gallery_view())

    # 0.105 m over the way from the gallery (0.8, -16, 4.5) to 4 m behind the far end line, times 900 px of focal length
    assert smallest_px == pytest.approx(900 * 0.105 / np.hypot(29.0, 5.0), rel=0.1)
    assert largest_px > 3 * smallest_px
    assert divisor_for(smallest_px) == 1


def test_pixels_per_radian_are_the_focal_length() -> None:
    view = gallery_view()

    assert pixels_per_radian(view) == pytest.approx(900, rel=0.02)
    away_m = np.linalg.norm(np.array([[1.0, -3.0, 2.0]]) - view.camera_position_m)
    assert ball_radii_px(view, np.array([[1.0, -3.0, 2.0]])) == pytest.approx(900 * 0.105 / away_m, rel=0.05)


def test_nearly_every_visible_ball_in_flight_is_a_candidate() -> None:
    clip, view, truth = open_clip(SAMPLES / "autumn-gallery.mp4"), gallery_view(), gallery_truth()
    serve = truth["serves"][1]
    first, last = (round(serve[name] * 30) for name in ("contact_time_s", "landing_time_s"))

    found = list(looks(clip, view, np.arange(first - 1, last + 2)))

    seen = {int(row[0]): np.array(row[1:3]) for row in serve["ball_px"]}
    near = [np.hypot(*(look.centres_px - seen[look.index]).T).min() < 12 for look in found if look.index in seen]
    assert len(found) == last - first + 1
    assert np.mean(near) >= 0.8


def test_looks_not_asked_for_any_more_are_no_longer_decoded() -> None:
    """The search is cancelled, or fails: the thread that decodes ahead must end with it."""
    clip, view = open_clip(SAMPLES / "autumn-gallery.mp4"), gallery_view()
    before = threading.active_count()
    some = looks(clip, view, np.arange(clip.frame_count))
    next(some)

    some.close()

    assert threading.active_count() == before
