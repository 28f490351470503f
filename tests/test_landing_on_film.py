"""Landings sharpened by the film, on rendered film with its truth: found, never wrongly, with an honest error."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from serve_marker.camera.picture.ball_spots import ball_response, difference, strongest
from serve_marker.flight.pace import READOUT_S, ROWS_APART_SD
from serve_marker.logbook.records import Mark, Serve
from serve_marker.marking.film_sharpening import with_film_marks
from serve_marker.marking.landing import place
from serve_marker.marking.landing_on_film import film_marks
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader
from tests.truths import is_own, true_view, turn_of

CLICKED_LATE = (-1, 1)
OWN_LANDINGS, OTHER_LANDINGS = 3, 2


def clicks(truth: dict[str, Any], reader: FrameReader) -> Iterator[tuple[Serve, NDArray[np.float64], float]]:
    """Some floor landings of the first place, clicked a frame early and a frame late, with the true place and time."""
    hand = np.random.default_rng(8)
    underside = is_own(truth)
    last = truth["segments"][0]["frames"][1]
    floor = [served for served in truth["serves"] if served["outcome"] == "floor" and served.get("landing_in_frame")]
    whole = [served for served in floor if served["landing_frame"] + 1 < last]
    for served in whole[: OWN_LANDINGS if is_own(truth) else OTHER_LANDINGS]:
        balls = {int(row[0]): row[1:3] for row in served["ball_track"]}
        landed_m = turn_of(truth) * np.array(served["landing_xy"])
        for late in CLICKED_LATE:
            frame = served["landing_frame"] + late
            if frame not in balls:
                continue
            x_px, y_px = (float(at) for at in np.array(balls[frame]) + hand.normal(size=2))
            mark = Mark(reader.clip.time_s(frame), (x_px, y_px), *reader.clip.gaps_s(frame), on_ball=not underside)
            serve = Serve(id="s", clip_id="c", landing=mark, served_to="b" if landed_m[1] > 0 else "a")
            yield serve, landed_m, served["landing_time"]


def test_whichever_near_frame_is_clicked_the_film_gives_the_touch(true_clip: dict[str, Any]) -> None:
    """Most are sharpened, none wrongly: half a metre is what a frame makes, and most lie within what is stated.

    The moment of the touch is told too: two of three within a quarter of a frame, most within two deviations, of which
    one part is how much later a phone reads the row of the landing than the middle of the picture.
    """
    view = true_view(true_clip)
    sharpened, inside, frames_off, in_time = [], [], [], []
    with FrameReader(open_clip(true_clip["path"])) as reader:
        for serve, landed_m, landed_s in clicks(true_clip, reader):
            found = replace(serve, film_marks=film_marks(serve, view, reader))
            sharpened.append(bool(found.film_marks))
            if found.film_marks:
                placed = place(found, view)
                point, landing = placed.landing_point, placed.landing
                assert point is not None
                assert landing is not None
                assert placed.touch_after_s is not None
                assert placed.touch_sd_s is not None
                late_s = landing.time_s + placed.touch_after_s - landed_s
                frames_off.append(abs(late_s) / landing.gap_before_s)
                read_later_s = ROWS_APART_SD * min(landing.gap_before_s, READOUT_S)
                in_time.append(abs(late_s) <= 2 * np.hypot(placed.touch_sd_s, read_later_s))
                away_m = float(np.hypot(*(np.array([point.x_m, point.y_m]) - landed_m)))
                assert away_m < 0.5
                inside.append(away_m <= point.error_m)
    assert np.mean(sharpened) >= 0.6
    assert np.mean(inside) >= 0.8
    assert np.mean(np.array(frames_off) <= 0.25) >= 2 / 3
    assert np.mean(in_time) >= 0.8


def test_a_click_where_no_ball_is_stays_as_it_is(true_clip: dict[str, Any]) -> None:
    view, chance = true_view(true_clip), np.random.default_rng(2)
    serves = []
    clip = open_clip(true_clip["path"])
    for frame in chance.integers(60, true_clip["segments"][0]["frames"][1] - 60, 3).tolist():
        x_m, y_m = chance.uniform(-4, 4), chance.uniform(1, 8) * chance.choice([-1, 1])
        x_px, y_px = view.project(np.array([[x_m, y_m]]))[0].tolist()
        if 0 < x_px < clip.width and 0 < y_px < clip.height:
            mark = Mark(clip.time_s(frame), (x_px, y_px), *clip.gaps_s(frame))
            serves.append(Serve(id="s", clip_id="c", landing=mark, served_to="b" if y_m > 0 else "a"))
    assert [serve.film_marks for serve in with_film_marks(serves, view, clip, 1.0)] == [()] * len(serves)


@pytest.mark.parametrize("outcome", ["received", "net", "target"])
def test_only_a_floor_landing_has_a_touch(outcome: str, true_clips: list[dict[str, Any]]) -> None:
    truth = true_clips[0]
    with FrameReader(open_clip(truth["path"])) as reader:
        serve, *_ = next(clicks(truth, reader))
        assert film_marks(replace(serve, outcome=outcome), true_view(truth), reader) == ()


@pytest.mark.parametrize("radius_px", [2.5, 4.0, 9.0])
def test_a_disc_is_found_to_a_fifth_of_a_pixel(radius_px: float) -> None:
    """A disc drawn at a known place with its edge smoothed over a pixel."""
    down, across = np.mgrid[0:80, 0:100]
    centre = np.array([47.3, 31.8])
    behind = np.full((80, 100), 90, np.uint8)
    share = np.clip(radius_px + 0.5 - np.hypot(across - centre[0], down - centre[1]), 0, 1)
    grey = (behind + 60 * share).round().astype(np.uint8)
    places, response = strongest(ball_response(difference(grey, behind), radius_px), 3, radius_px)
    assert np.hypot(*(places[0] - centre)) < 0.2
    assert response[0] > 12
