"""Contacts sharpened by the film, on rendered film with its truth: the moment of the hit, with an honest error."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from serve_marker.camera.view.view import View
from serve_marker.flight.pace import READOUT_S, ROWS_APART_SD
from serve_marker.logbook.records import Mark, Serve
from serve_marker.marking.contact_on_film import contact_film_marks
from serve_marker.marking.film_sharpening import sharpened
from serve_marker.marking.landing import in_true_time, place, place_all
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader
from tests.truths import is_own, true_view, turn_of

CLICKED_LATE = (-1, 1)
SERVES = 3
FOOT_SD_M = (0.1, 0.3)
KINDS = {"float_standing": "float", "topspin_standing": "topspin"}


def clicks(
    truth: dict[str, Any], view: View, reader: FrameReader, frames_late: tuple[int, ...] = CLICKED_LATE
) -> Iterator[tuple[Serve, float]]:
    """Some serves with both ends clicked on the floor, the contact a frame early or late, and when they were hit."""
    hand, clip, turn = np.random.default_rng(5), reader.clip, turn_of(truth)
    last = truth["segments"][0]["frames"][1]
    floor = [one for one in truth["serves"] if one["outcome"] == "floor" and one.get("landing_in_frame")]
    for one in [one for one in floor if one["landing_frame"] + 1 < last][:SERVES]:
        foot_m = turn * np.array(one["contact_pos"][:2]) + hand.normal(0, FOOT_SD_M)
        (foot_px, landing_px) = view.project(np.vstack([foot_m, turn * np.array(one["landing_xy"])])).tolist()
        landing = Mark(clip.time_s(one["landing_frame"]), tuple(landing_px), *clip.gaps_s(one["landing_frame"]))
        for late in frames_late:
            frame = one["contact_frame"] + late
            contact = Mark(clip.time_s(frame), tuple(foot_px), *clip.gaps_s(frame))
            kind = KINDS.get(one["type"], one["type"].replace("_", " "))
            serve = Serve(id="s", clip_id="c", contact=contact, landing=landing, serve_type=kind)
            yield place(serve, view), one["contact_time"]


def test_whichever_near_frame_is_clicked_the_film_gives_the_hit(true_clip: dict[str, Any]) -> None:
    """A third and more are told, half of these within a quarter of a frame, all within one, most within their error."""
    view = true_view(true_clip)
    told, frames_off, inside = [], [], []
    with FrameReader(open_clip(true_clip["path"])) as reader:
        for serve, hit_s in clicks(true_clip, view, reader):
            found = replace(serve, contact_film_marks=contact_film_marks(serve, view, reader))
            told.append(bool(found.contact_film_marks))
            if not found.contact_film_marks:
                continue
            placed = place(found, view)
            assert placed.contact is not None
            assert placed.hit_after_s is not None
            assert placed.hit_sd_s is not None
            off_s = abs(placed.contact.time_s + placed.hit_after_s - hit_s)
            frame_s = max(placed.contact.gap_before_s, placed.contact.gap_after_s)
            frames_off.append(off_s / frame_s)
            inside.append(off_s <= 2 * np.hypot(placed.hit_sd_s, ROWS_APART_SD * min(frame_s, READOUT_S)))
            assert placed.contact_point is not None
            assert serve.contact_point is not None
            stays = (placed.contact_point.x_m, placed.contact_point.y_m) == (
                serve.contact_point.x_m,
                serve.contact_point.y_m,
            )
            assert stays, "the foot point is the coach's"
    assert np.mean(told) >= 1 / 3
    assert np.median(frames_off) <= 0.25
    assert max(frames_off) < 1
    assert np.mean(inside) >= 0.8


def test_a_click_long_before_the_toss_stays_as_it_is(true_clip: dict[str, Any]) -> None:
    view = true_view(true_clip)
    with FrameReader(open_clip(true_clip["path"])) as reader:
        early = round(1.2 / float(np.median(np.diff(reader.clip.times_s))))
        for serve, _ in clicks(true_clip, view, reader, (-early,)):
            assert contact_film_marks(serve, view, reader) == ()


def test_a_hit_needs_both_ends_of_its_flight(true_clips: list[dict[str, Any]]) -> None:
    truth = next(one for one in true_clips if is_own(one))
    view = true_view(truth)
    with FrameReader(open_clip(truth["path"])) as reader:
        serve, _ = next(clicks(truth, view, reader))
        assert contact_film_marks(serve, view, reader)
        assert serve.landing is not None
        for lacking in (
            replace(serve, landing=None, landing_point=None),
            replace(serve, landing=replace(serve.landing, time_s=serve.landing.time_s + 4)),
            place(replace(serve, contact=Mark(1.0)), view),
        ):
            assert contact_film_marks(lacking, view, reader) == ()


def test_slow_motion_tells_the_same_moment(true_clips: list[dict[str, Any]]) -> None:
    """The same film with times that run twice as long as life: the same balls, the moment on the clip's own clock."""
    truth = next(one for one in true_clips if is_own(one))
    view = true_view(truth)
    clip = open_clip(truth["path"])
    stretched = replace(clip, times_s=2 * clip.times_s)
    with FrameReader(clip) as reader, FrameReader(stretched) as slowly:
        serve, _ = next(clicks(truth, view, reader))
        (life,) = place_all([sharpened(serve, view, reader, 1.0)], view)
        (slow,) = place_all([sharpened(in_true_time(serve, 2.0), view, slowly, 0.5)], view, 0.5)
    assert [mark.pixel for mark in slow.contact_film_marks] == [mark.pixel for mark in life.contact_film_marks]
    assert len(life.contact_film_marks) >= 9
    assert slow.hit_after_s == pytest.approx(2 * (life.hit_after_s or 0.0), abs=1e-6)
    assert slow.hit_sd_s == pytest.approx(2 * (life.hit_sd_s or 0.0), rel=1e-3)
