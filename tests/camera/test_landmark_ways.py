"""Landmarks moved to crossings: their ways tell the hand, and a view of them is surer than one of clicks."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from serve_marker.camera.fitting.error_reduction import with_mark
from serve_marker.camera.fitting.hand import Hand
from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.landmark_ways import CROSSING_SD_PX, SNAP_PX, UNFOUND_SHARE, WRONG_SHARE, Ways
from serve_marker.camera.view.view import longer_half_axis_m
from serve_marker.court.dimensions import court_named, landmarks, net_landmarks

COURT = court_named("indoor")
PLACES = landmarks(COURT)
CORNERS = ("end-b/left", "end-b/right", "end-a/left", "end-a/right")
NET_M = 2.24


def hand_of(ways):
    return Hand(0.0, 0.0, 1.0, ways=ways)


def test_a_way_is_as_likely_as_worked_by_hand():
    """A way of 3, 4 px and a hand of 2 px; one landmark found nothing. The normal density is scipy's."""
    sd_px = math.sqrt(2.0**2 + CROSSING_SD_PX**2)
    right = stats.multivariate_normal([0, 0], sd_px**2 * np.eye(2)).pdf([3, 4])
    wrong = 1 / (math.pi * SNAP_PX**2)
    beyond = stats.chi2.sf(SNAP_PX**2 / 2.0**2, 2)
    stays = beyond + UNFOUND_SHARE * (1 - beyond)
    told = math.log((1 - WRONG_SHARE) * right + WRONG_SHARE * wrong) + math.log(stays)
    assert Ways((5.0,), 1).log_chance(np.array([2.0])) == pytest.approx([told], rel=1e-12)


def test_landmarks_that_found_nothing_tell_nothing_where_none_moved():
    """A picture without lines to be seen says nothing of the hand."""
    assert hand_of(Ways((), 4)).over_click == hand_of(Ways()).over_click


@given(st.lists(st.floats(0.5, 5.0), min_size=3, max_size=10), st.floats(0.1, 0.7))
def test_shorter_ways_make_a_finer_hand(ways_px, share):
    shorter = hand_of(Ways(tuple(share * way for way in ways_px)))
    assert shorter.over_click <= hand_of(Ways(tuple(ways_px))).over_click + 1e-6


@given(st.integers(2, 10))
def test_ways_of_nothing_at_all_count_as_well(count):
    """A coach whose clicks were so good that nothing moved has told of her hand."""
    fine = [hand_of(Ways((0.0,) * n)).over_click for n in (count, count + 1)]
    assert fine[1] <= fine[0] < hand_of(Ways()).over_click


def test_one_wrong_crossing_makes_no_coarse_hand():
    """Of five ways like those of a hand of 1 px and one of 7 px the last went to other lines."""
    ways_px = (1.2, 0.8, 1.5, 1.9, 0.6)
    astray = hand_of(Ways((*ways_px, 7.0)))
    assert astray.over_click < 1.3 * hand_of(Ways(ways_px)).over_click
    *good_px, wrong_px = astray.crossing_sd_px()
    assert max(good_px) < 1.0
    assert wrong_px > 3.0


@pytest.mark.parametrize("truth_px", [1.0, 1.5, 2.5, 5.0])
@pytest.mark.parametrize("count", [4, 6, 8])
def test_later_clicks_are_held_and_not_too_wide(count, truth_px):
    """Normal clicks of a true hand, of which those move that lie within reach (simulated)."""
    rng = np.random.default_rng(3)
    counted_px = []
    for _ in range(400):
        ways_px = np.hypot(*rng.normal(0, math.hypot(truth_px, 0.25), (2, count)))
        near = (ways_px < SNAP_PX) & (rng.random(count) < 0.95)
        counted_px.append(hand_of(Ways(tuple(ways_px[near]), int((~near).sum()))).over_click)
    over = np.array(counted_px) / truth_px
    held = stats.chi2.cdf(stats.chi2.ppf(0.95, 2) * over**2, 2)
    assert held.mean() >= 0.93
    assert np.median(over) < 1.6


def marks_of(camera, names, rng, hand_px):
    """Where landmarks are truly shown, and the same as clicked."""
    true = {name: pixel for name, pixel in camera.marks(PLACES).items() if name in names}
    return true, {name: tuple(map(float, rng.normal(pixel, hand_px))) for name, pixel in true.items()}


def test_four_crossings_state_less_than_four_clicks(camera_named):
    camera = camera_named("stand")
    true, clicked = marks_of(camera, CORNERS, np.random.default_rng(1), 1.0)
    clicks = fit_view(clicked, COURT, camera.size, NET_M)
    crossings = fit_view(true, COURT, camera.size, NET_M, clicked=clicked)
    assert crossings.view.expected_error_m()["end_b"] < 0.5 * clicks.view.expected_error_m()["end_b"]
    assert "errors are told large" in clicks.warnings[0]
    assert not any("errors are told large" in one for one in crossings.warnings)


def test_a_coarse_hand_does_not_widen_what_the_program_finds_itself(camera_named):
    """Crossings 3 px from their clicks: a click counts with the hand, a ball's centre with what crossings leave.

    With no crossing the hand and a bent picture cannot be told apart, and both count.
    """
    camera = camera_named("stand")
    true, clicked = marks_of(camera, list(PLACES), np.random.default_rng(1), 3.0)
    crossings = fit_view(true, COURT, camera.size, NET_M, clicked=clicked).view
    assert crossings.misfit_sd_px > 1.5
    assert crossings.without_hand().misfit_sd_px == pytest.approx(CROSSING_SD_PX, abs=0.02)
    (_, by_hand), (_, by_itself) = (
        one.locate([camera.project([[0.0, 0.0, 0.0]])[0]], 0.5) for one in (crossings, crossings.without_hand())
    )
    assert longer_half_axis_m(by_itself)[0] < 0.6 * longer_half_axis_m(by_hand)[0]
    clicks = fit_view(clicked, COURT, camera.size, NET_M).view
    assert clicks.without_hand().misfit_sd_px == clicks.misfit_sd_px


def test_a_wrong_crossing_that_fits_nowhere_counts_as_it_was_clicked(camera_named):
    """Its way of 3 px is nothing unusual for this hand, but the other nine put the landmark elsewhere."""
    camera = camera_named("stand")
    true, clicked = marks_of(camera, PLACES, np.random.default_rng(2), 2.5)
    x_px, y_px = true["centre/left"]
    clicked |= {"centre/left": (x_px + 2.0, y_px - 1.0)}
    astray = true | {"centre/left": (x_px + 5.0, y_px - 1.0)}
    right = fit_view(true, COURT, camera.size, NET_M, clicked=clicked)
    fit = fit_view(astray, COURT, camera.size, NET_M, clicked=clicked)
    assert (len(right.hand.ways.moved_px), len(fit.hand.ways.moved_px)) == (len(true), len(true) - 1)
    assert fit.residuals_px["centre/left"] == pytest.approx(5.0, abs=1.0)
    floor = np.array(list(PLACES.values()))[:, :2]
    away_m = np.hypot(*(fit.view.locate(right.view.project(floor))[0] - floor).T)
    assert away_m.max() < 0.03


def test_a_slip_among_crossings_is_named(camera_named):
    """The landmark clicked 20 px off found no crossing; the crossings stay where they are."""
    camera = camera_named("stand")
    true, clicked = marks_of(camera, PLACES, np.random.default_rng(4), 1.0)
    x_px, y_px = true["end-b/right"]
    slip = {"end-b/right": (x_px + 20.0, y_px)}
    fit = fit_view(true | slip, COURT, camera.size, NET_M, clicked=clicked | slip)
    assert fit.warnings[0].startswith("The mark end-b/right lies 20 px off.")
    assert fit.warnings[1] == "The mark end-b/right moved to no crossing. Look at it twice."


def test_one_more_landmark_promises_what_its_crossing_brings(camera_named):
    camera = camera_named("stand")
    ratios = []
    for seed in range(12):
        true, clicked = marks_of(camera, PLACES, np.random.default_rng(seed), 1.5)
        four, four_clicked = ({name: kind[name] for name in CORNERS} for kind in (true, clicked))
        view = fit_view(four, COURT, camera.size, NET_M, clicked=four_clicked).view
        promised = with_mark(view, "centre/left")
        more, more_clicked = ({name: kind[name] for name in (*CORNERS, "centre/left")} for kind in (true, clicked))
        really = fit_view(more, COURT, camera.size, NET_M, clicked=more_clicked).view
        ratios.append(really.expected_error_m()["end_b"] / promised.expected_error_m()["end_b"])
    assert np.median(ratios) == pytest.approx(1, abs=0.33)


def test_a_coarse_hand_marks_the_net_as_coarsely_as_it_clicked(camera_named):
    """Crossings leave no residuals, but their ways tell that marks of the net, which do not move, are 5 px off."""
    camera = camera_named("stand")
    tops = net_landmarks(COURT, NET_M)
    for seed in range(20):
        rng = np.random.default_rng(seed)
        true, clicked = marks_of(camera, PLACES, rng, 4.0)
        net = {name: tuple(map(float, rng.normal(pixel, 4.0))) for name, pixel in camera.marks(tops).items()}
        fit = fit_view(true | net, COURT, camera.size, NET_M, clicked=clicked)
        assert fit.net is not None
        assert not fit.net.at_odds
