"""Clicks near landmarks move to the true edges of painted lines, and not to those of other sports."""

from __future__ import annotations

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.picture.line_fit import fit_lines
from serve_marker.camera.picture.line_strips import line_support, strip_response
from serve_marker.camera.picture.snap import snap, snap_all
from serve_marker.court.dimensions import court_named, landmarks
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader

COURT = court_named("indoor")
OFF_PX, WRONG_PX = 6.0, 2.5
SAMPLES = 3
WOOD, WHITE = (190.0, 148.0, 102.0), (240.0, 240.0, 236.0)


def court_paint(x, y):
    """The rules' lines: 5 cm wide inside 9 x 18 m, attack lines' rear edges 3 m from the centre line's axis."""
    across, away = np.abs(x), np.abs(y)
    level = (away > 8.95) | ((away > 2.95) & (away < 3.0)) | (away < 0.025)
    return (across < 4.5) & (away < 9) & (level | (across > 4.45))


def painted(camera, other_lines=None, colour=WHITE):
    """A picture (H, W, 3) of a floor whose every edge is known: 9 samples a pixel, and a little noise."""
    corners = np.array([(-4.5, -3, 0), (4.5, -3, 0), (4.5, 9, 0), (-4.5, 9, 0)])
    H = cv2.getPerspectiveTransform(corners[:, :2].astype(np.float32), camera.project(corners).astype(np.float32))
    width, height = camera.size
    u, v = np.meshgrid(
        (np.arange(width * SAMPLES) + 0.5) / SAMPLES - 0.5, (np.arange(height * SAMPLES) + 0.5) / SAMPLES - 0.5
    )
    q = np.linalg.inv(H) @ np.stack([u.ravel(), v.ravel(), np.ones(u.size)])
    before = q[2] * np.sign((np.linalg.inv(H) @ [width / 2, height - 1, 1])[2]) > 0
    x, y = np.where(before, q[:2] / q[2], 99.0)
    ground = before & (np.abs(x) < 12) & (np.abs(y) < 18)
    other = ground & other_lines(x, y) if other_lines else np.zeros_like(ground)
    shown = np.select([court_paint(x, y)[:, None], other[:, None], ground[:, None]], [WHITE, colour, WOOD], 150.0)
    picture = shown.reshape(height, SAMPLES, width, SAMPLES, 3).mean(axis=(1, 3))
    return np.clip(np.round(picture + np.random.default_rng(5).normal(0, 2, picture.shape)), 0, 255).astype(np.uint8)


def true_pixels(camera):
    return camera.marks(landmarks(COURT))


def clicked(true, rng):
    """Every pixel up to 6 px off, evenly over the disc."""
    away, angle = OFF_PX * np.sqrt(rng.random(len(true))), 2 * np.pi * rng.random(len(true))
    moved = np.array(list(true.values())) + np.column_stack([away * np.cos(angle), away * np.sin(angle)])
    return dict(zip(true, map(tuple, moved.tolist()), strict=True))


def rough_view(clicks):
    return fit_view(clicks, COURT, (1280, 720), 2.24).view


def off_px(snapped, true):
    found = [(one.after_px, true[name]) for name, one in snapped.items() if one is not None]
    return np.array([np.hypot(*np.subtract(after, right)) for after, right in found])


@pytest.fixture(scope="module")
def camera(camera_named):
    return replace(camera_named("corner"), place_m=(3.0, -16.0, 4.0))


@pytest.fixture(scope="module")
def plain(camera):
    return painted(camera)


def other_sport(x, y):
    """White lines 5 cm wide that run 12 cm outside and 35 cm inside of the court's and cross near its corners."""
    upright = (np.abs(np.abs(x) - 4.645) < 0.025) | (np.abs(np.abs(x) - 4.1) < 0.025)
    level = (np.abs(np.abs(y) - 9.3) < 0.025) | (np.abs(np.abs(y) - 3.4) < 0.025)
    return upright | level


@pytest.fixture(scope="module")
def crowded(camera):
    return painted(camera, other_sport)


@pytest.mark.parametrize("floor", ["plain", "crowded"])
def test_clicks_move_to_the_outer_edges(floor, camera, request):
    """Centres of the 5 cm lines lie 1 to 3 px from their outer edges here."""
    picture = request.getfixturevalue(floor)
    true, rng = true_pixels(camera), np.random.default_rng(2)
    found, clicks_made = [], 0
    for _ in range(2):
        clicks = clicked(true, rng)
        found.append(off_px(snap_all(picture, clicks, rough_view(clicks)), true))
        clicks_made += len(clicks)
    off = np.concatenate(found)
    assert len(off) >= 0.8 * clicks_made
    assert np.median(off) < 0.3
    assert (off > WRONG_PX).mean() < 0.02


def test_lines_of_another_colour_do_not_draw_clicks(camera):
    picture = painted(camera, other_sport, (205.0, 60.0, 50.0))
    true = true_pixels(camera)
    clicks = clicked(true, np.random.default_rng(4))
    off = off_px(snap_all(picture, clicks, rough_view(clicks)), true)
    assert len(off) >= 0.8 * len(true)
    assert off.max() < WRONG_PX


@pytest.mark.parametrize("name", ["autumn-gallery", "winter-stand"])
def test_clicks_on_the_sample_clips(name, sample_clips):
    truth = json.loads((sample_clips / f"{name}.truth.json").read_text())
    true = {mark: (x, y) for mark, (x, y) in truth["landmarks_px"].items() if mark in landmarks(COURT)}
    rng, found, clicks_made = np.random.default_rng(3), [], 0
    with FrameReader(open_clip(sample_clips / f"{name}.mp4")) as reader:
        for frame in (60,):
            clicks = clicked(true, rng)
            snapped = snap_all(reader.frame(frame), clicks, rough_view(clicks))
            found.append(off_px(snapped, true))
            clicks_made += len(clicks)
    off = np.concatenate(found)
    assert len(off) >= 0.8 * clicks_made
    assert np.median(off) < 0.7
    assert (off > WRONG_PX).sum() <= 0.02 * clicks_made


def test_without_a_view_a_clear_corner_is_found(plain, camera):
    true = true_pixels(camera)
    corner = true["end-a/right"]
    found = snap(plain, (corner[0] + 3.0, corner[1] - 2.0), "end-a/right")
    assert found is not None
    assert found.before_px == (corner[0] + 3.0, corner[1] - 2.0)
    assert np.hypot(*np.subtract(found.after_px, corner)) < 0.7
    assert 0 < found.confidence <= 1


def test_a_click_too_far_away_stays(plain, camera):
    true = true_pixels(camera)
    x, y = true["attack-a/right"]
    assert snap(plain, (x + 14.0, y), "attack-a/right", rough_view(true)) is None


def test_bare_floor_draws_no_click(camera):
    true = true_pixels(camera)
    bare = np.random.default_rng(1).normal(140, 3, (720, 1280, 3)).astype(np.uint8)
    assert set(snap_all(bare, true, rough_view(true)).values()) == {None}
    assert snap(bare, true["end-a/left"], "end-a/left") is None


def test_the_net_has_no_lines_to_snap_to(plain, camera):
    assert snap(plain, (600.0, 200.0), "net-top/left", rough_view(true_pixels(camera))) is None
    assert snap(plain, (600.0, 200.0), "antenna-top/right") is None


def test_all_lines_together_say_where_each_landmark_is(plain, camera):
    true = true_pixels(camera)
    lines = fit_lines(plain, rough_view(clicked(true, np.random.default_rng(6))))
    floor = np.array([landmarks(COURT)[name][:2] for name in true])
    off = np.hypot(*(lines.project(floor) - np.array(list(true.values()))).T)
    assert np.median(off) < 0.2
    assert (off < 4 * lines.sd_px(floor) + 0.1).all()
    assert lines.agreeing > 0.8


def test_a_strip_stands_out_and_an_edge_between_two_floors_does_not():
    rows = np.arange(60)[:, None] * np.ones((60, 60))
    middle = np.column_stack([np.arange(15.0, 45.0), np.full(30, 30.0)])
    strip = np.where(np.abs(rows - 30) <= 1, 220, 120).astype(np.uint8)
    edge = np.where(rows > 30, 220, 120).astype(np.uint8)
    found = strip_response(strip, middle, np.full(30, 3.0))
    assert np.abs(found).argmax(axis=1) == pytest.approx(18)  # 9 px either way in steps of half a pixel
    assert found.max() == pytest.approx(100, rel=0.1)
    assert np.abs(strip_response(edge, middle, np.full(30, 3.0))).max() < 5


def test_lines_support_their_own_view_and_no_other(plain, camera):
    grey = plain[..., 1]
    right = rough_view(true_pixels(camera))
    turned = rough_view(true_pixels(replace(camera, look_at_m=(0.5, -0.6, 0.0))))
    assert line_support(grey, right).share > 0.9
    assert line_support(grey, turned).share < 0.35
