"""Clicks to floor points and words: the shutter's share simulated, the ball's tracks, and the rendered clips."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.court.areas import AREAS, area_names, area_polygon, default_scheme
from serve_marker.court.dimensions import COURTS, court_named, from_half, landmarks
from serve_marker.logbook.records import FloorPoint, Mark, Serve
from serve_marker.logbook.serve_arrays import columns_of
from serve_marker.marking.judging import halves_of, judge, judge_all
from serve_marker.marking.landing import in_true_time, place, place_all, served_to
from serve_marker.study.flight_columns import pace_columns, timed

COURT = court_named("indoor")
SCHEME = default_scheme(COURT)
PLACES = landmarks(COURT)
CHI2_95 = 5.991465
SIZE = (1920, 1080)
FOCAL_PX = 1300.0
CAMERA_M = np.array([1.0, -15.0, 2.0])
"""A camera 2 m high, six metres behind the near end line."""


def project(points_m):
    forward = np.array([-1.0, 14.0, -1.7])
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, (0, 0, 1.0))
    right /= np.linalg.norm(right)
    seen = (np.asarray(points_m) - CAMERA_M) @ np.column_stack([right, np.cross(forward, right), forward])
    return FOCAL_PX * seen[:, :2] / seen[:, 2:] + (np.array(SIZE) - 1) / 2


def noisy_view(rng, sd_px=1.0):
    pixels = project(list(PLACES.values()))
    marks = {name: tuple(rng.normal(pixel, sd_px)) for name, pixel in zip(PLACES, pixels, strict=True)}
    inside = {n: p for n, p in marks.items() if 0 < p[0] < SIZE[0] - 1 and 0 < p[1] < SIZE[1] - 1}
    return fit_view(inside, COURT, SIZE, 2.24).view


def underside(touch_m, velocity, since_s, kept):
    """The ball's underside ``since_s`` after its touch: a short parabola down, and one up with shares ``kept``."""
    level, up = (velocity[:2], velocity[2]) if since_s <= 0 else (kept[0] * velocity[:2], -kept[1] * velocity[2])
    return [*(touch_m + level * since_s), up * since_s - 4.905 * since_s**2]


def simulated(rng, fps, with_contact, around=()):
    """One serve to end a clicked on the frame nearest its touch, with the truth."""
    touch_m = rng.uniform((-4.5, -9.2), (4.5, -1.5))
    contact_m = np.array([rng.uniform(-4, 4), 9.3 + rng.uniform(0, 0.8)])
    way = touch_m - contact_m
    flight_s = rng.uniform(0.8, 1.4)
    velocity = np.array([*(way / flight_s * rng.uniform(0.75, 0.95)), 0])
    velocity[2] = -(rng.uniform(2.2, 3.0) / flight_s + 4.905 * flight_s) * rng.uniform(0.88, 1.0)
    kept = (rng.uniform(0.6, 0.85), rng.uniform(0.62, 0.8))
    gap_s = 1 / fps
    late_s = rng.uniform(-gap_s / 2, gap_s / 2)

    def mark(frames_away):
        since_s = late_s + frames_away * gap_s
        pixel = rng.normal(project([underside(touch_m, velocity, since_s, kept)])[0], 1.0)
        return Mark(5 + since_s, tuple(pixel.tolist()), gap_s, gap_s)

    contact = None
    if with_contact:
        pixel = rng.normal(project([[*contact_m, 0]])[0], 1.0)
        contact = Mark(5 - flight_s + rng.uniform(-gap_s / 2, gap_s / 2), tuple(pixel.tolist()), gap_s, gap_s)
    serve = Serve(id="s", clip_id="c", served_to="a", landing=mark(0), contact=contact)
    return replace(serve, ball_marks=tuple(mark(k) for k in around)), touch_m


def held_and_error(rng, fps, with_contact, around=(), views=20, serves=20):
    held, errors = [], []
    for _ in range(views):
        drawn = [simulated(rng, fps, with_contact, around) for _ in range(serves)]
        for serve, (_, truth) in zip(place_all([s for s, _ in drawn], noisy_view(rng)), drawn, strict=True):
            point = serve.landing_point
            away = np.array([point.x_m, point.y_m]) - truth
            cov = [[point.cov_xx_m2, point.cov_xy_m2], [point.cov_xy_m2, point.cov_yy_m2]]
            held.append(away @ np.linalg.solve(cov, away) < CHI2_95)
            errors.append(np.hypot(*away))
    return float(np.mean(held)), float(np.percentile(errors, 90))


@pytest.mark.parametrize(("before_s", "after_s"), [(1 / 30, 1 / 30), (1 / 15, 1 / 30)])
def test_the_hit_runs_on_between_frames(before_s, after_s):
    """A hit before its frame's moment by t, even over half the gap a, is seen 13 m/s * t further on: (13 a)^2 / 3.

    That is the mean square over [0, a]; the hit falls there with the chance a / (a + b), b being half the gap after.
    """
    view = noisy_view(np.random.default_rng(1))
    pixel = tuple(project([(0.0, 9.5, 0.0)])[0].tolist())

    def cov_yy_m2(before_s, after_s):
        serve = Serve(id="s", clip_id="c", contact=Mark(1.0, pixel, before_s, after_s))
        return place(serve, view).contact_point.cov_yy_m2

    a_s, b_s = before_s / 2, after_s / 2
    run_on_m2 = a_s / (a_s + b_s) * (13.0 * a_s) ** 2 / 3
    assert cov_yy_m2(before_s, after_s) - cov_yy_m2(1e-9, 1e-9) == pytest.approx(run_on_m2, rel=1e-6)


@pytest.mark.parametrize("with_contact", [False, True])
@pytest.mark.parametrize("fps", [30, 60, 120])
def test_ellipse_holds_the_touch_between_frames(fps, with_contact):
    held, _ = held_and_error(np.random.default_rng(fps), fps, with_contact)
    assert held >= 0.93


def test_marks_of_the_ball_sharpen_the_touch():
    """From about 0.4 m (90 % of errors) to 0.11-0.15 m, camera 2 m high, 30 pictures a second."""
    _, plain_p90_m = held_and_error(np.random.default_rng(1), 30, True)
    held, sharp_p90_m = held_and_error(np.random.default_rng(1), 30, True, (-2, -1, 1, 2), views=10)
    assert plain_p90_m > 0.3
    assert sharp_p90_m < 0.15
    assert held >= 0.93


@pytest.mark.parametrize("around", [(-1,), (1,), (-1, 1), (-2, -1), (1, 2)])
def test_any_mark_of_the_ball_helps_and_stays_honest(around):
    rng = np.random.default_rng(4)
    held, _ = held_and_error(rng, 30, False, around, views=10)
    assert held >= 0.92
    serve, _ = simulated(rng, 30, False, around)
    view = noisy_view(rng)
    assert place(serve, view).landing_point.error_m <= place(replace(serve, ball_marks=()), view).landing_point.error_m


def test_a_touch_in_the_gap_of_a_dropped_frame_beside_the_click_is_found():
    """Clicked a frame early: the next frame is nearest to the touch, 1.9 frames on, as the one after it is lost."""
    gap_s, after_s = 1 / 30, 1.9 / 30
    touch_m, velocity, kept = np.array([1.0, -6.0]), np.array([0.5, -13.0, -7.5]), (0.7, 0.7)

    def mark(frames_away, gap_after=1):
        pixel = project([underside(touch_m, velocity, frames_away * gap_s - after_s, kept)])[0]
        return Mark(5 + frames_away * gap_s, tuple(pixel.tolist()), gap_s, gap_after * gap_s)

    around = (mark(-2), mark(-1), mark(1, gap_after=2), mark(3), mark(4))
    serve = Serve(id="s", clip_id="c", served_to="a", landing=mark(0), ball_marks=around)
    placed = place(serve, noisy_view(np.random.default_rng(1)))
    assert placed.touch_after_s == pytest.approx(after_s, abs=gap_s / 4)
    assert np.hypot(placed.landing_point.x_m - 1.0, placed.landing_point.y_m + 6.0) < 0.1


def test_in_slow_motion_the_moment_of_a_touch_is_told_on_the_clips_own_clock():
    rng = np.random.default_rng(3)
    serve, view = simulated(rng, 60, with_contact=True, around=(-2, -1, 1, 2))[0], noisy_view(rng)
    placed = place(serve, view), place_all([in_true_time(serve, 4.0)], view, 0.25)[0]
    moments = [(one.touch_after_s or np.nan, one.touch_sd_s or np.nan) for one in placed]
    assert moments[1] == pytest.approx([4 * moment for moment in moments[0]])


@pytest.mark.parametrize("outcome", ["received", "target"])
def test_a_ball_that_met_no_floor_has_no_touch(outcome):
    rng = np.random.default_rng(3)
    view = noisy_view(rng)
    serve, _ = simulated(rng, 60, with_contact=True, around=(-2, -1, 1, 2))
    assert place(serve, view).touch_after_s is not None
    stopped = replace(serve, outcome=outcome)
    assert place(stopped, view) == replace(place(replace(stopped, ball_marks=()), view), ball_marks=serve.ball_marks)


def test_ball_marks_that_no_flight_explains_are_left_out():
    rng = np.random.default_rng(8)
    serve, _ = simulated(rng, 30, False, (-1, 1))
    view = noisy_view(rng)
    lost = replace(serve, ball_marks=tuple(replace(mark, pixel=(30.0, 1000.0)) for mark in serve.ball_marks))
    assert place(lost, view).landing_point == place(replace(serve, ball_marks=()), view).landing_point


def test_a_ball_clicked_as_seen_lies_nearer_in_the_mean():
    """Seen before or after its touch it lies too far from a low camera by 0.3 m; moved, by less than 5 cm."""
    rng = np.random.default_rng(6)
    off_m, raw_m = [], []
    for _ in range(8):
        view = noisy_view(rng)
        for serve, truth in [simulated(rng, 30, False) for _ in range(30)]:
            clicked_m = view.locate([serve.landing.pixel])[0][0]
            point = place(serve, view).landing_point
            out = truth - np.array(view.camera_position_m[:2])
            out /= np.hypot(*out)
            off_m.append(out @ (np.array([point.x_m, point.y_m]) - truth))
            raw_m.append(out @ (clicked_m - truth))
    assert np.mean(raw_m) > 0.2
    assert abs(np.mean(off_m)) < 0.05


def test_a_landing_whose_moment_is_known_is_not_moved():
    view = noisy_view(np.random.default_rng(2))
    pixel = tuple(project([[1.0, -6.0, 0.0]])[0].tolist())
    serve = place(Serve(id="s", clip_id="c", landing=Mark(1.0, pixel, 1e-9, 1e-9)), view)
    xy_m, _ = view.locate([pixel])
    assert (serve.landing_point.x_m, serve.landing_point.y_m) == pytest.approx(tuple(xy_m[0]), abs=1e-6)


def test_a_faster_clip_leaves_a_smaller_error():
    view = noisy_view(np.random.default_rng(2))
    pixel = tuple(project([[1.0, -6.0, 0.0]])[0].tolist())
    errors = [
        place(Serve(id="s", clip_id="c", landing=Mark(1.0, pixel, 1 / fps, 1 / fps)), view).landing_point.error_m
        for fps in (30, 60, 120, 240)
    ]
    assert sorted(errors, reverse=True) == errors
    assert place(Serve(id="s", clip_id="c", landing=Mark(1.0, pixel)), view).landing_point.error_m == errors[0]


def test_nothing_seen_gives_no_point():
    view = noisy_view(np.random.default_rng(2))
    for landing in (None, Mark(1.0), Mark(1.0, (900.0, -500.0), 1 / 30, 1 / 30)):
        placed = place(Serve(id="s", clip_id="c", outcome="net", landing=landing), view)
        assert placed.landing_point is None
        assert placed.contact_point is None


def point(x_m, y_m, sd_m=0.02):
    return FloorPoint(float(x_m), float(y_m), sd_m**2, 0.0, sd_m**2)


@pytest.mark.parametrize(
    ("serve", "end"),
    [
        (Serve(id="s", clip_id="c", served_to="a", landing_point=point(0, 5)), "a"),
        (Serve(id="s", clip_id="c", contact_point=point(0, 9.5)), "a"),
        (Serve(id="s", clip_id="c", contact_point=point(0, -9.5)), "b"),
        (Serve(id="s", clip_id="c", landing_point=point(0, 5)), "b"),
        (Serve(id="s", clip_id="c", landing_point=point(0, -5)), "a"),
        (Serve(id="s", clip_id="c"), None),
    ],
)
def test_served_to(serve, end):
    assert served_to(serve) == end
    assert halves_of(columns_of([serve])).tolist() == [end or ""]


@pytest.mark.parametrize("end", ["a", "b"])
@pytest.mark.parametrize("name", COURTS)
def test_each_area_is_judged_at_both_ends(name, end):
    court = court_named(name)
    scheme = default_scheme(court)
    for area in area_names(name):
        centre = area_polygon(area, court, scheme).centroid
        x_m, y_m = from_half([(centre.x, centre.y)], end, court)[0]
        told = judge(Serve(id="s", clip_id="c", served_to=end, aim=area, landing_point=point(x_m, y_m)), court, scheme)
        assert (told.half, told.area, told.area_sure, told.aim_hit, told.verdict) == (end, area, True, True, "in")


def test_judged_words_and_margins():
    """Hand-worked: 0.3 m beyond the end line is 0.235 m beyond with the contact disc of 0.065 m."""
    told = judge(Serve(id="s", clip_id="c", landing_point=point(-1.0, 9.3), aim="zone 6"), COURT, SCHEME)
    assert (told.verdict, told.missed, told.area, told.zone, told.depth_band) == ("out", "long", "deep 6", "6", "deep")
    assert (told.half_x_m, told.half_y_m) == (3.5, 9.3)
    assert told.line_margin_m == pytest.approx(-0.235)
    assert told.area_margin_m == pytest.approx(0.5)
    assert told.seam == "seam 6-1"
    assert told.aim_hit is False


@pytest.mark.parametrize(
    ("outcome", "landing", "hit", "verdict"),
    [
        ("floor", point(-3, 8), True, "in"),
        ("received", None, None, ""),
        ("received", point(-3, 8), True, ""),
        ("received", point(-3, 9.6), False, ""),
        ("target", None, True, ""),
        ("net", None, False, ""),
        ("net", point(-3, 1), False, ""),
        ("out", None, False, ""),
        ("fault", None, False, ""),
    ],
)
def test_outcomes(outcome, landing, hit, verdict):
    serve = Serve(id="s", clip_id="c", served_to="b", outcome=outcome, aim="deep 1", landing_point=landing)
    told = judge(serve, COURT, SCHEME)
    assert (told.aim_hit, told.verdict) == (hit, verdict)


def test_no_aim_or_one_that_does_not_fit_the_court():
    landing = point(-3, 5)
    for aim in ("", "2,8,0.5"):
        told = judge(Serve(id="s", clip_id="c", aim=aim, landing_point=landing), court_named("youth-12"), SCHEME)
        assert told.aim_hit is None


def test_many_are_judged_as_one_by_one():
    rng = np.random.default_rng(6)
    serves = [
        Serve(id=str(i), clip_id="c", landing_point=point(x_m, y_m, 0.05), aim=AREAS[i % 9] if i % 3 else "")
        for i, (x_m, y_m) in enumerate(rng.uniform((-5, -10), (5, 10), (40, 2)))
    ]
    columns = judge_all(serves, COURT, SCHEME)
    for i, serve in enumerate(serves):
        one = judge(serve, COURT, SCHEME)
        for name in ("half", "area", "zone", "seam", "verdict", "missed", "aim_hit", "line_margin_m"):
            assert getattr(one, name) == columns[name][i]
    assert all(len(column) == 0 for column in judge_all([], COURT, SCHEME).values())


def rendered(truth, bent, moment_known=True):
    """A rendered clip's view and its floor serves marked on the frames its truth names, at the touch's own pixel.

    That pixel shows the ball only at the touch's own moment, which has no gaps beside it.
    """
    segment = truth["segments"][0]
    camera = segment["camera"]
    turn = -1 if camera["position"][1] > 0 else 1
    matrix = np.array([[camera["fx"], 0, camera["cx"]], [0, camera["fy"], camera["cy"]], [0, 0, 1.0]])
    bend = np.array(camera["dist"]) * bent

    def seen(points_m):
        world = np.array(points_m, dtype=float) * (turn, turn, 1)
        pose = np.array(camera["rvec"]), np.array(camera["tvec"])
        return cv2.projectPoints(world, *pose, matrix, bend)[0].reshape(-1, 2)

    width, height = truth["display_size"]
    shown = {
        mark: (x, y)
        for mark, (x, y) in zip(PLACES, seen(list(PLACES.values())).tolist(), strict=True)
        if 2 < x < width - 2 and 2 < y < height - 2
    }
    view = fit_view(shown, COURT, (width, height), truth["net_height"]).view
    serves = [
        serve
        for serve in truth["serves"]
        if serve["outcome"] == "floor" and serve["landing_in_frame"] and serve["landing_frame"] < segment["frames"][1]
    ]
    times = truth["frame_times"]

    def mark(frame, spot, known=False):
        pixel = seen([[turn * spot[0], turn * spot[1], 0]])[0].tolist()
        gaps_s = (times[frame] - times[frame - 1], times[frame + 1] - times[frame])
        return Mark(times[frame], tuple(pixel), *((1e-9, 1e-9) if known else gaps_s))

    marked = [
        Serve(
            id=str(serve["index"]),
            clip_id=truth["clip"],
            contact=mark(serve["contact_frame"], serve["contact_pos"][:2]),
            landing=mark(serve["landing_frame"], serve["landing_xy"], moment_known),
        )
        for serve in serves
    ]
    places_m = turn * np.array([serve["landing_xy"] for serve in serves])
    return view, serves, place_all(marked, view), places_m


def errors_m(placed, places_m):
    return np.hypot(*(np.array([(s.landing_point.x_m, s.landing_point.y_m) for s in placed]) - places_m).T)


def test_rendered_clips_without_lens_bend_within_a_centimetre(true_clip):
    _, serves, placed, places_m = rendered(true_clip, bent=0)
    assert len(serves) >= 4
    assert errors_m(placed, places_m).max() < 0.01


def test_rendered_clips_with_the_lens_left_in(true_clip):
    _, _, placed, places_m = rendered(true_clip, bent=1)
    assert np.median(errors_m(placed, places_m)) < 0.12


def area_by_thirds(x_m, y_m):
    column = 0 if x_m < 3 else 1 if x_m < 6 else 2
    row = "short" if y_m < 3 else "deep" if y_m >= 6 else "between"
    return f"{row} {({'short': '234', 'deep': '165'}.get(row) or ('1-2', '6-3', '5-4'))[column]}"


@pytest.mark.parametrize("bent", [0, 1])
def test_rendered_clips_are_never_called_wrongly(true_clip, bent):
    """A ball is called in from 0.065 m beyond the line on, as its disc still touches it."""
    _, serves, placed, _ = rendered(true_clip, bent)
    told = judge_all(placed, COURT, SCHEME)
    for i, serve in enumerate(serves):
        margin_m = serve["margin_to_outer_edge_m"]
        assert told["verdict"][i] in ("too close", "in" if margin_m > -0.065 else "out")
        if serve["in_out"] == "in":
            assert told["area"][i] == area_by_thirds(4.5 - serve["landing_xy"][0], -serve["landing_xy"][1])


@pytest.mark.parametrize("bent", [0, 1])
def test_pace_on_the_rendered_clips(true_clips, bent):
    errors, held = [], []
    for truth in true_clips:
        view, serves, placed, _ = rendered(truth, bent, moment_known=False)
        paces = pace_columns(timed(columns_of(placed), [(view, np.arange(len(placed)))], {}))
        rows = zip(
            *(paces[name].tolist() for name in ("pace_mps", "pace_low_mps", "pace_high_mps")), serves, strict=True
        )
        for speed, low, high, serve in rows:
            true = serve["avg_horizontal_speed_contact_to_landing"]
            errors.append(abs(speed / true - 1))
            held.append(low <= true <= high)
    assert np.median(errors) <= 0.015
    assert np.percentile(errors, 95) <= 0.045  # the touch's own pixel, moved as if it were the ball's
    assert np.mean(held) >= 0.90
