"""Points clicked twice against published pairs, and the coach's own click in a view."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from serve_marker.camera.fitting.repeatability import (
    MEDIAN_APART_SD,
    clicked_by,
    own_click,
    own_click_text,
    own_frames_text,
    technical_error,
    text_clicked_by,
)
from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.view import USUAL_FRAMES_OFF
from serve_marker.camera.view.viewfile import view_from_text, view_to_text
from serve_marker.court.dimensions import court_named, landmarks
from serve_marker.desktop.setup.click_exercise import exercise_points

COURT = court_named("indoor")
# J. M. Bland and D. G. Altman, Lancet 327:307 (1986): peak flow of 17 people, each measured twice with two meters.
WRIGHT = (
    (494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427),
    (490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421),
)
MINI = (
    (512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451),
    (525, 415, 508, 444, 500, 625, 460, 390, 642, 432, 420, 605, 227, 467, 268, 370, 443),
)


@pytest.mark.parametrize(
    ("pairs", "error", "printed"),
    [(WRIGHT, 15.306669, 43.2), (MINI, 19.910831, 56.4)],
)
def test_published_pairs(pairs, error, printed):
    """The paper prints 2 sqrt(mean d^2), from memory; the error is computed from its pairs."""
    assert technical_error(*pairs) == pytest.approx(error, abs=5e-7)
    assert 2 * np.sqrt(2) * technical_error(*pairs) == pytest.approx(printed, abs=0.1)


@pytest.mark.parametrize("seed", range(6))
def test_the_error_and_its_interval_are_scipys(seed):
    """Half the mean square of the differences about zero is a chi-square variable with 2 N degrees of freedom."""
    rng = np.random.default_rng(seed)
    first, second = rng.normal(0, rng.uniform(0.5, 2.0, 2), (2, int(rng.integers(5, 30)), 2))
    found, freedom = own_click(first, second), first.size
    square = np.square((first - second) / np.sqrt(2)).sum()
    low, high = np.sqrt(square / np.array(stats.chi2.interval(0.95, freedom)))[::-1]
    assert (found.sd_px, found.low_px, found.high_px) == pytest.approx((np.sqrt(square / freedom), low, high))


def test_a_slip_lies_more_than_eight_deviations_further_than_clicks_do():
    """Clicks of 1 px lie 1.665 px apart in half of all cases (Rayleigh, sqrt 2 px per axis): the border is 8 px."""
    assert pytest.approx(stats.rayleigh.median(scale=np.sqrt(2))) == MEDIAN_APART_SD
    first = np.zeros((9, 2))
    for away_px, slips in ((7.9, ()), (8.1, (8,))):
        second = np.column_stack([np.r_[np.full(8, MEDIAN_APART_SD), away_px], np.zeros(9)])
        assert own_click(first, second).slips == slips


def test_a_known_hand_is_found():
    rng = np.random.default_rng(3)
    true = rng.uniform(0, 1000, (4000, 2))
    first, second = true + rng.normal(0, 0.8, (2, *true.shape))
    found = own_click(first, second)
    assert found.sd_px == pytest.approx(0.8, rel=0.03)
    assert found.low_px < found.sd_px < found.high_px
    assert found.slips == ()


def test_ten_points_hold_their_hand_within_the_interval():
    rng = np.random.default_rng(4)
    held = []
    for _ in range(400):
        found = own_click(rng.normal(0, 1.0, (10, 2)), rng.normal(0, 1.0, (10, 2)))
        held.append(found.low_px <= 1.0 <= found.high_px)
    assert 0.92 <= np.mean(held) <= 0.98


def test_a_slip_is_named_and_left_out():
    rng = np.random.default_rng(5)
    first, second = rng.normal(0, 0.7, (2, 10, 2))
    second[6] += (40.0, 0.0)
    found = own_click(first, second)
    assert found.slips == (6,)
    assert found.sd_px < 1.5
    assert "1 slip left out" in found.words


def test_a_still_hand_has_no_error_of_nothing():
    points = np.arange(20.0).reshape(10, 2)
    assert own_click(points, points).sd_px == pytest.approx(0.1)


def test_shapes_are_named():
    with pytest.raises(ValueError, match=r"\(3, 2\)"):
        own_click(np.zeros((3, 2)), np.zeros((3, 2)))
    with pytest.raises(ValueError, match=r"n >= 1"):
        technical_error([], [])


def test_the_own_click_takes_the_place_of_the_default(camera_named):
    camera = camera_named("stand")
    marks = camera.marks(landmarks(COURT))
    view = fit_view(marks, COURT, camera.size, 2.24, own_click_sd_px=2.0).view
    usual = fit_view(marks, COURT, camera.size, 2.24).view
    assert view.click_sd_px == 2.0
    assert view.floor_error_m([(0.0, 5.0)])[0] > 1.8 * usual.floor_error_m([(0.0, 5.0)])[0]
    assert view_from_text(view_to_text(view)).click_sd_px == 2.0


def test_a_coarse_hand_measured_later_counts_once(camera_named):
    """Marks and landings of a hand of 3 px: of 100 ellipses 95 hold, as wide as with the hand known from the start."""
    camera, rng = camera_named("stand"), np.random.default_rng(8)
    exact, hand_px, size = camera.marks(landmarks(COURT)), 3.0, camera.size
    inside, wider = [], []
    for _ in range(20):
        marks = {name: tuple(rng.normal(pixel, hand_px)) for name, pixel in exact.items()}
        later = clicked_by(own_click_text(hand_px, size), fit_view(marks, COURT, size, 2.24).view)
        known = fit_view(marks, COURT, size, 2.24, own_click_sd_px=hand_px).view
        wider.append(later.floor_error_m([(0.0, 5.0)])[0] / known.floor_error_m([(0.0, 5.0)])[0])
        places_m = rng.uniform((-4.5, -4.0), (4.5, 9.0), (60, 2))
        seen_px = camera.project(np.column_stack([places_m, np.zeros(60)]))
        found_m, cov_m2 = later.locate(rng.normal(seen_px, hand_px))
        off_m = found_m - places_m
        inside.extend(np.einsum("ni,nij,nj->n", off_m, np.linalg.inv(cov_m2), off_m) <= stats.chi2.ppf(0.95, 2))
    assert np.median(wider) == pytest.approx(1.0, abs=0.1)
    assert 0.92 <= np.mean(inside) <= 0.975


def test_what_the_marks_showed_of_the_hand_stays_whole(camera_named):
    """A hand of 1 px that missed by 2.4 px more showed 2.6 px; measured finer or coarser, that is what it showed."""
    camera = camera_named("stand")
    view = replace(fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view, misfit_sd_px=2.4)
    for own_px, misfit_px in ((0.7, np.sqrt(2.6**2 - 0.49)), (1.0, 2.4), (2.4, 1.0), (3.0, 0.0)):
        clicked = clicked_by(own_click_text(own_px, camera.size), view)
        assert (clicked.click_sd_px, clicked.misfit_sd_px) == pytest.approx((own_px, misfit_px))
    assert clicked_by(own_click_text(0.7, camera.size), replace(view, misfit_sd_px=0.0)).misfit_sd_px == 0.0


def test_a_views_text_keeps_its_picture_and_a_damaged_one_stays(camera_named):
    camera = camera_named("stand")
    text = view_to_text(fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view)
    own = own_click_text(2.0, camera.size)
    with_picture = json.dumps(json.loads(text) | {"reference": "no picture"})
    assert json.loads(text_clicked_by(own, with_picture))["reference"] == "no picture"
    assert "reference" not in json.loads(text_clicked_by(own, text))
    first_version = json.dumps({k: v for k, v in json.loads(text).items() if k != "lens"} | {"version": 1})
    for readable in (text, with_picture, first_version):
        assert view_from_text(text_clicked_by(own, readable)).click_sd_px == 2.0
    for damaged in ("", "[]", json.dumps(json.loads(text) | {"version": 9})):
        assert text_clicked_by(own, damaged) == damaged


def test_the_exercise_has_ten_points_in_the_picture(camera_named):
    camera = camera_named("stand")
    view = fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view
    points = exercise_points(view)
    assert len(points) == 10
    for name, pixel in points:
        np.testing.assert_allclose(pixel, camera.project([landmarks(COURT)[name]])[0], atol=0.01)


def test_a_click_on_the_floor_grows_with_distance(camera_named):
    """Depth error per pixel is Z^2 / (f H) for a level camera: 12 m away, 2 m high, f 1300 px."""
    camera = camera_named("low tripod")
    view = fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view
    place_px = view.project([(1.0, -3.0)])
    (fine,), (coarse,) = (view.locate(place_px, sd_px)[1] for sd_px in (0.5, 1.5))
    click_m = np.sqrt(np.linalg.eigvalsh(coarse - fine)[1])
    assert click_m == pytest.approx(np.sqrt(1.5**2 - 0.5**2) * 12**2 / (1300 * 2), rel=0.08)


def test_deviation_and_frames_are_kept_beside_each_other(camera_named):
    camera = camera_named("stand")
    view = fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24).view
    both = own_frames_text(0, own_click_text(2.0, camera.size))
    for text in (both, own_click_text(2.0, camera.size, own_frames_text(0))):
        clicked = clicked_by(text, view)
        assert (clicked.click_sd_px, clicked.click_frames_off) == (2.0, 0)
    only_frames = clicked_by(own_frames_text(0), view)
    assert (only_frames.own_click_sd_px, only_frames.click_frames_off) == (None, 0)
    assert view_from_text(text_clicked_by(both, view_to_text(view))).click_frames_off == 0
    older = {key: part for key, part in json.loads(view_to_text(view)).items() if key != "click_frames_off"}
    assert view_from_text(json.dumps(older)).click_frames_off == USUAL_FRAMES_OFF
