"""Pace and net clearance of the rendered clips' serves, marked through their views as a coach would."""

from __future__ import annotations

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.court.dimensions import court_named, landmarks
from serve_marker.logbook.records import ClipEntry, FloorPoint, Mark, Player, Serve
from serve_marker.logbook.serve_arrays import columns_of
from serve_marker.marking.landing import GUESSED_FLOOR_SD_M, place_all
from serve_marker.study.flight_columns import (
    contact_heights_m,
    flight_columns,
    pace_columns,
    through_net_mask,
    time_scales,
    timed,
)

KINDS = {
    "float_standing": "float",
    "jump_float": "jump float",
    "topspin_standing": "topspin",
    "jump_topspin": "jump topspin",
}
COURT = court_named("indoor")
ROUNDS = 30


@pytest.fixture(scope="module")
def scenes(true_clips):
    return [scene(truth) for truth in true_clips]


def scene(truth):
    """The view without lens bend, the serves whose landing it saw, and how the view sees points of the court frame."""
    segment = truth["segments"][0]
    camera = segment["camera"]
    turn = -1 if camera["position"][1] > 0 else 1
    matrix = np.array([[camera["fx"], 0, camera["cx"]], [0, camera["fy"], camera["cy"]], [0, 0, 1.0]])

    def seen(points_m):
        world = np.array(points_m, dtype=float) * (turn, turn, 1)
        return cv2.projectPoints(world, np.array(camera["rvec"]), np.array(camera["tvec"]), matrix, None)[0].reshape(
            -1, 2
        )

    size = tuple(truth["display_size"])
    places = landmarks(COURT)
    pixels = zip(places, seen(list(places.values())).tolist(), strict=True)
    marks = {name: (x, y) for name, (x, y) in pixels if 2 < x < size[0] - 2 and 2 < y < size[1] - 2}
    view = fit_view(marks, COURT, size, truth["net_height"]).view
    serves = [
        serve
        for serve in truth["serves"]
        if serve["outcome"] == "floor" and serve["landing_in_frame"] and serve["landing_frame"] < segment["frames"][1]
    ]
    return view, serves, seen, turn, np.array(truth["frame_times"])


def marked(told, rng, frames_off, exact_times=False):
    """The serves as marked: on the frame nearest each event or one beside it, the landing where the ball's underside is
    then, coming down or bounced; clicks and judged floor points off."""
    view, serves, seen, turn, times = told

    def mark(moment_s, spot_m, arrival=(0.0, 0.0, 0.0)):
        if exact_times:
            return Mark(moment_s, tuple(seen([(*spot_m, 0.0)])[0]), 1e-6, 1e-6)
        frame = int(np.abs(times - moment_s).argmin()) + int(rng.integers(-frames_off, frames_off + 1))
        gaps_s = times[frame] - times[frame - 1], times[frame + 1] - times[frame]
        after_s = times[frame] - moment_s
        kept = 0.7 if after_s > 0 else 1.0
        level_m, rise_m = (
            kept * after_s * np.array(arrival[:2]),
            kept * abs(after_s * arrival[2]) - 9.81 / 2 * after_s**2,
        )
        pixel = seen([(*(spot_m + level_m), max(rise_m, 0.0))])[0] + rng.normal(0, view.click_sd_px, 2)
        return Mark(times[frame], tuple(pixel), *gaps_s)

    made = []
    for number, serve in enumerate(serves):
        judged = 0.0 if exact_times else rng.normal(0, GUESSED_FLOOR_SD_M, 2)
        contact = mark(serve["contact_time"], turn * np.array(serve["contact_pos"][:2]) + judged)
        way_m = turn * (np.array(serve["landing_xy"]) - serve["contact_pos"][:2])
        flight_s = serve["landing_time"] - serve["contact_time"]
        down_mps = serve["contact_pos"][2] / flight_s + 9.81 / 2 * flight_s
        landing = mark(serve["landing_time"], turn * np.array(serve["landing_xy"]), np.r_[way_m / flight_s, down_mps])
        kind = KINDS[serve["type"]]
        made.append(
            Serve(id="s", clip_id="c", player_id=f"p{number}", serve_type=kind, contact=contact, landing=landing)
        )
    placed = place_all(made, view)
    return seen_through(placed, view)


def seen_through(placed, view):
    return timed(columns_of(placed), [(view, np.arange(len(placed)))], {})


def pace_of(serves):
    return np.array([serve["avg_horizontal_speed_contact_to_landing"] for serve in serves])


def test_pace_with_the_true_times_within_a_hundredth(scenes):
    rng = np.random.default_rng(0)
    found = np.concatenate([pace_columns(marked(told, rng, 0, exact_times=True))["pace_mps"] for told in scenes])
    assert found == pytest.approx(np.concatenate([pace_of(told[1]) for told in scenes]), rel=0.01)


@pytest.mark.parametrize("frames_off", [0, 1])
def test_the_interval_of_pace_holds_and_is_no_wider_than_needed(scenes, frames_off):
    """Needed: the width that holds 95 of 100, of intervals of the same shape."""
    rng = np.random.default_rng(5)
    shares = []
    for _ in range(ROUNDS):
        for told in scenes:
            paces = pace_columns(marked(told, rng, frames_off), frames_off)
            off = np.abs(np.log(paces["pace_mps"] / pace_of(told[1])))
            shares.append(off / np.log(paces["pace_high_mps"] / paces["pace_mps"]))
    all_shares = np.concatenate(shares)
    assert np.mean(all_shares <= 1) >= 0.91  # measured 0.92 and 0.96
    assert 1 / np.quantile(all_shares, 0.95) <= 1.3  # measured 0.88 and 1.04


@pytest.mark.parametrize("reach_off_m", [0.15, None])
def test_the_interval_of_net_clearance_holds_and_is_no_wider_than_needed(scenes, reach_off_m):
    """Reach known to 0.15 m or not at all, frames nearest to the truth. One deviation stated is one that happens."""
    rng = np.random.default_rng(6)
    shares, half_widths_m = [], []
    for _ in range(12):
        for told in scenes:
            view, serves, *_ = told
            names = np.array([f"p{k}" for k in range(len(serves))], dtype=object)
            of, players = replace(marked(told, rng, 0), player_ids=names), {}
            for name, serve in zip(names, serves, strict=True):
                if reach_off_m:
                    reach_m = serve["contact_pos"][2] + rng.uniform(-reach_off_m, reach_off_m)
                    players[name] = Player(id=name, name="Noor", standing_reach_m=reach_m, jump_reach_m=reach_m)
            found = flight_columns(of, players, np.full(len(serves), view.net_height_m))
            half_m = (found["net_clearance_high_m"] - found["net_clearance_low_m"]) / 2
            true_m = np.array([serve["net_clearance_center_m"] for serve in serves])
            shares.append((found["net_clearance_m"] - true_m) / half_m)
            half_widths_m.append(half_m)
    share, usual_half_m = np.concatenate(shares), np.median(np.concatenate(half_widths_m))
    assert np.mean(np.abs(share) <= 1) >= 0.93  # measured 0.975 and 1.00 of 23 serves twelve times over
    assert 0.65 <= 1.96 * np.sqrt(np.mean(share**2)) <= 1.05  # measured 0.96 and 0.95, on the own clips alone 0.70
    assert usual_half_m < (0.17 if reach_off_m else 0.25)  # measured 0.15 and 0.22 m


@pytest.mark.parametrize("late_frames", [0, 18])
def test_a_contact_marked_too_late_makes_a_flight_through_the_net(scenes, late_frames):
    """All serves of the clips came over; 18 frames of a film of 60 a second are 0.3 s of a flight of about 1.1 s."""
    rng = np.random.default_rng(3)
    through, gaps_m = [], []
    for told in scenes:
        view = told[0]
        of = marked(told, rng, 0)
        of = replace(of, between_s=of.between_s - late_frames / 60)
        found = flight_columns(of, {}, np.full(len(of.between_s), view.net_height_m))
        through.append(through_net_mask(found))
        gaps_m.append(found["high_before_m"])
    asked = np.concatenate(through)
    assert np.isnan(np.concatenate(gaps_m)[asked]).all()
    assert asked.mean() >= 0.3 if late_frames else not asked.any()  # measured 0.40


def test_received_balls_are_carried_on_to_where_they_would_have_landed(shared_clips):
    """Two receptions marked on the ball at their true height; the landing is an estimate with its error."""
    truth = json.loads((shared_clips / "portrait-30.truth.json").read_text(encoding="utf-8"))
    view, _, seen, turn, times = scene(truth)
    received = [serve for serve in truth["serves"] if serve["outcome"] == "received"]

    def mark(moment_s, place_m, on_ball):
        frame = int(np.abs(times - moment_s).argmin())
        gaps_s = times[frame] - times[frame - 1], times[frame + 1] - times[frame]
        place_m = (*(turn * np.array(place_m[:2])), place_m[2])
        return Mark(moment_s, tuple(seen([place_m])[0]), *gaps_s, on_ball)

    marked = [
        Serve(
            id="s",
            clip_id="c",
            serve_type=KINDS[serve["type"]],
            outcome="received",
            contact=mark(serve["contact_time"], (*serve["contact_pos"][:2], 0.0), on_ball=False),
            landing=mark(serve["reception_time"], serve["reception_pos"], on_ball=True),
            landing_height_m=serve["reception_pos"][2],
        )
        for serve in received
    ]
    placed = place_all(marked, view)
    assert len(placed) == 2
    for serve, told in zip(placed, received, strict=True):
        expected = turn * np.array(told["virtual_landing"]["landing_xy"])
        off_m = np.hypot(serve.landing_point.x_m - expected[0], serve.landing_point.y_m - expected[1])
        assert off_m < max(0.3, serve.landing_point.error_m)
    paces = pace_columns(seen_through(placed, view))
    assert np.isfinite(paces["pace_mps"]).all()
    assert np.isfinite(flight_columns(seen_through(placed, view), {}, [2.24, 2.24])["net_clearance_m"]).all()


def test_a_ball_at_the_net_has_no_flight_and_a_target_no_height():
    player = {"p": Player(id="p", name="Noor", jump_reach_m=2.75)}
    who, kinds = (
        np.array(["p", "p", "q"], dtype=object),
        np.array(["jump topspin", "float", "jump float"], dtype=object),
    )
    assert contact_heights_m(who, kinds, player)[0].tolist() == [2.75, 2.4, 2.7]


def test_slow_motion_is_told_from_the_gaps_between_frames():
    """240 frames a second shown at 30: eight times slower than life."""
    clip = ClipEntry(id="c", practice_id="p", path="f", size_bytes=1, fingerprint="f", filmed_at_fps=240.0)
    serve = Serve(
        id="s", clip_id="c", contact=Mark(1.0, (0, 0), 1 / 30, 1 / 30), landing=Mark(9.0, (0, 0), 1 / 30, 0.1)
    )
    assert time_scales([clip], columns_of([serve])) == {"c": pytest.approx(1 / 8)}
    assert time_scales([replace(clip, filmed_at_fps=None)], columns_of([serve])) == {}


def test_a_flight_is_timed_by_the_moments_that_marks_around_its_ends_tell():
    """Hand-worked: 16 m in 1.00 s by the frames; hit 0.01 s after its frame, touched 0.01 s before: 16 m in 0.98 s.

    Only a moment that nothing tells may be a frame off: three thirtieths of a second wide, sqrt(1/12) of that each.
    """
    gap_s, still = 1 / 30, {"cov_xx_m2": 1e-12, "cov_xy_m2": 0.0, "cov_yy_m2": 1e-12}
    clicked = Serve(
        id="clicked",
        clip_id="c",
        contact=Mark(1.0, (0.0, 0.0), gap_s, gap_s),
        landing=Mark(2.0, (0.0, 0.0), gap_s, gap_s),
        contact_point=FloorPoint(0.0, -9.0, **still),
        landing_point=FloorPoint(0.0, 7.0, **still),
    )
    hit = replace(clicked, id="told", hit_after_s=0.01, hit_sd_s=0.002)
    told = replace(hit, touch_after_s=-0.01, touch_sd_s=0.002)
    of = timed(columns_of([clicked, told]), [], {})
    found = pace_columns(of, frames_off=1.0)
    assert found["pace_mps"].tolist() == pytest.approx([16.0, 16 / 0.98])
    assert found["flight_s"].tolist() == pytest.approx([1.0, 0.98])
    readout_s = 0.2 * 0.02
    sds_s = [np.hypot(0.1 / 6**0.5, readout_s), np.hypot(0.002 * 2**0.5, 0.2 * 12**0.5 * 0.002)]
    widths = np.log(found["pace_high_mps"] / found["pace_mps"]) / 1.96
    assert widths.tolist() == pytest.approx([sds_s[0] / 1.0, sds_s[1] / 0.98], rel=1e-3)


def test_a_contact_clicked_late_may_be_below_a_ball_that_flew_on_where_the_hit_itself_is_told(scenes):
    """Placed to 0.5 m along; click and eye alone leave 0.3 m, right only where time is off by the same delay."""
    view = scenes[0][0]
    gap_s, far = 1 / 30, {"cov_xx_m2": 1e-9, "cov_xy_m2": 0.0}
    x_px, y_px = view.project(np.array([[0.0, -8.9]]))[0].tolist()
    clicked = Serve(
        id="s",
        clip_id="c",
        contact=Mark(1.0, (x_px, y_px), gap_s, gap_s),
        landing=Mark(2.0, None, gap_s, gap_s),
        contact_point=FloorPoint(0.0, -8.9, **far, cov_yy_m2=0.25),
        landing_point=FloorPoint(0.0, 7.1, **far, cov_yy_m2=1e-9),
    )
    told = replace(clicked, hit_after_s=-0.03, hit_sd_s=1e-6)
    found = pace_columns(timed(columns_of([clicked, told]), [(view, np.arange(2))], {}))
    along = np.log(found["pace_high_mps"] / found["pace_mps"]) / 1.96
    assert along[1] > 0.5 / 16
    assert along[0] < np.hypot(0.45 / 16, gap_s / 6**0.5)


def test_a_touch_told_keeps_its_own_error(scenes):
    """Placed to 0.5 m along by the marks around it; a click on that pixel alone would leave centimetres."""
    view, gap_s = scenes[0][0], 1 / 30
    x_px, y_px = view.project(np.array([[0.0, 7.1]]))[0].tolist()
    clicked = Serve(
        id="s",
        clip_id="c",
        contact=Mark(1.0, None, gap_s, gap_s),
        landing=Mark(2.0, (x_px, y_px), gap_s, gap_s),
        contact_point=FloorPoint(0.0, -8.9, 1e-9, 0.0, 1e-9),
        landing_point=FloorPoint(0.0, 7.1, 1e-9, 0.0, 0.25),
    )
    told = replace(clicked, touch_after_s=0.0, touch_sd_s=1e-6)
    found = pace_columns(timed(columns_of([clicked, told]), [(view, np.arange(2))], {}))
    along = np.log(found["pace_high_mps"] / found["pace_mps"]) / 1.96
    assert along[1] > 0.5 / 16 > along[0] - gap_s / 6**0.5


def test_a_received_ball_was_clicked_where_it_was_in_that_frame(scenes):
    ball = Mark(2.0, (600.0, 400.0), 1 / 30, 1 / 30, on_ball=True)
    serve = Serve(id="s", clip_id="c", outcome="received", contact=Mark(1.0), landing=ball, landing_height_m=0.8)
    of = timed(columns_of([serve]), [(scenes[0][0], np.arange(1))], {})
    assert of.frames_off(1.0).tolist() == [[1.0], [0.0]]
