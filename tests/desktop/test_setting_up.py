"""Setting up a view through the window, by mouse and keys only."""

from __future__ import annotations

import re
import runpy
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt

from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.court.dimensions import COURTS, landmarks
from serve_marker.flight.trajectory import BALL_RADIUS_M
from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
ALT = Qt.KeyboardModifier.AltModifier

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_setup):
    return coach_at_setup


def kept_view(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        (entry,) = book.clips()
        stored = next((view for view in book.views() if view.id == entry.view_id), None)
        return view_from_text(stored.document) if stored else None


def corners(coach):
    for place_m in ((-4.5, 9.0), (4.5, 9.0), (-4.5, -9.0), (4.5, -9.0)):
        coach.click_film(*seen_at(*place_m), SHIFT)


def test_the_court_is_asked_for_once_in_a_gym(coach, filmed, tmp_path):
    """A court of another size looks alike: the coach says which it is; the gym's next clip begins with it."""
    pane = coach.window.page.setup_pane
    assert not pane.court_is.isVisible()
    corners(coach)
    assert pane.quality.text().startswith("Is the court Indoor 18 × 9 m, clicked on the lines' outer edges? Press Yes")
    pane.court.activated.emit(list(COURTS).index("beach"))
    assert pane.quality.text().startswith("Is the court Beach 16 × 8 m, clicked")
    coach.click(pane.court_is)
    assert not pane.court_is.isVisible()
    assert "Is the court" not in pane.quality.text()
    assert "the court's size" not in pane.quality.text()
    coach.key(Qt.Key.Key_Z, CTRL)
    assert pane.court_is.isVisible()
    coach.click(pane.court_is)
    second = tmp_path / "second.mp4"
    second.write_bytes(filmed.read_bytes() + b"\0")
    coach.window.opening.add(second)
    coach.agree_to_practice()
    coach.wait(lambda: coach.workspace.clip is not None and coach.workspace.clip.path == second)
    assert coach.workspace.court == COURTS["beach"]


def test_a_line_chosen_on_the_small_court_is_traced_point_by_point(coach):
    corners(coach)
    alone = kept_view(coach)
    pane = coach.window.page.setup_pane
    coach.click(pane.court_map, pane.court_map.place_of("end-b").toPoint())
    assert pane.next_words.text() == "Trace the far end line: 0 of 3 points"
    drawn = coach.picture._items
    for x_m in (-3.0, -1.0, 1.0, 3.0):
        coach.click_film(*seen_at(x_m, 9.0))
    traced = kept_view(coach)
    assert [len(points) for points in traced.traces.values()] == [4]
    assert np.allclose(traced.traces["end-b"][0], seen_at(-3.0, 9.0), atol=1.0)
    assert traced.expected_error_m()["end_b"] < alone.expected_error_m()["end_b"]
    assert coach.picture._items != drawn
    assert pane.court_map.state_of("end-b") == "next"
    coach.key(Qt.Key.Key_L)
    assert pane.court_map.state_of("end-b") == "placed"
    assert pane.next_words.text() == "Set up; to be surer, click: near attack line at left sideline"
    for left in (3, 2, 1):
        coach.key(Qt.Key.Key_Z, CTRL)
        assert len(kept_view(coach).traces["end-b"]) == left
    coach.key(Qt.Key.Key_Z, CTRL)
    assert kept_view(coach).traces == {}
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    assert len(kept_view(coach).traces["end-b"]) == 1


def test_a_stretch_begun_by_mistake_ends_with_start_over(coach):
    corners(coach)
    first_id = coach.workspace.view_id
    coach.step_to(30)
    coach.key(Qt.Key.Key_M, CTRL | SHIFT)
    assert coach.workspace.view is None
    coach.key(Qt.Key.Key_Backspace, CTRL | SHIFT)
    assert (coach.workspace.view_id, coach.workspace.view_state.clip.later_views) == (first_id, ())
    coach.key(Qt.Key.Key_Z, CTRL)
    assert (coach.workspace.view, len(coach.workspace.view_state.clip.later_views)) == (None, 1)
    coach.step_to(20)
    assert coach.workspace.view_id == first_id


def test_the_line_under_the_cross_hair_is_traced_by_key_alone(coach):
    corners(coach)
    at = coach.picture.film_to_widget(*seen_at(-4.5, 2.0)).toPoint()
    coach_at_work["QTest"].mouseMove(coach.picture, at)
    coach.key(Qt.Key.Key_L)
    assert coach.window.page.setup_pane.tracing == "left"
    coach.key(Qt.Key.Key_Return)
    coach.key(Qt.Key.Key_Down, ALT)
    coach.key(Qt.Key.Key_Return)
    assert len(kept_view(coach).traces["left"]) == 2
    coach.key(Qt.Key.Key_D)
    assert len(kept_view(coach).traces["left"]) == 1


def test_traces_short_of_a_view_are_kept(coach, filmed):
    pane = coach.window.page.setup_pane
    coach.click(pane.court_map, pane.court_map.place_of("left").toPoint())
    for y_m in (-2.0, 2.0, 6.0):
        coach.click_film(*seen_at(-4.5, y_m))
    coach.window.books.open_logbook_at(coach.folder / "team.logbook")
    coach.wait(lambda: coach.workspace.clip is not None)
    assert len(dict(coach.workspace.view_state.traces)["left"]) == 3


def test_two_sentences_say_how_good_and_what_would_help(coach):
    corners(coach)
    pane = coach.window.page.setup_pane
    coach.click(pane.court_is)
    coach.click_film(*seen_at(-4.5, -3.0), SHIFT)
    coach.wait(lambda: not pane.advice.busy)
    best = pane.advice.found[0]
    words = pane.quality.text()
    assert words.startswith("A click is good to ")
    assert f": {100 * best.now_m:.0f} cm at the " in words
    assert f"becomes {100 * best.then_m:.0f} cm." in words
    assert best.then_m < best.now_m


def test_a_mark_put_wrong_is_named_as_the_coach_reads_it(coach):
    for name, place_m in landmarks(COURTS["indoor"]).items():
        x_px, y_px = seen_at(*place_m)
        coach.click_film(x_px, y_px + (12.0 if name == "attack-a/left" else 0.0), SHIFT)
    words = coach.window.page.setup_pane.quality.text()
    assert "The mark near attack line at left sideline lies 12 px off. Click it again." in words
    assert "attack-a" not in words


def test_nudges_of_one_mark_in_a_row_are_one_step_back(coach):
    corners(coach)
    before = kept_view(coach).marks
    coach.click_film(*before["end-a/right"])
    depth = coach.workspace.history.stack.count()
    for _ in range(5):
        coach.key(Qt.Key.Key_Right, ALT)
    nudged = kept_view(coach).marks
    assert nudged["end-a/right"][0] == pytest.approx(before["end-a/right"][0] + 5 / coach.picture.scales()[0])
    assert coach.workspace.history.stack.count() == depth + 1
    coach.key(Qt.Key.Key_Z, CTRL)
    assert kept_view(coach).marks == before
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    assert kept_view(coach).marks == nudged


def off(pixel, by=(3.0, -2.0)):
    return pixel[0] + by[0], pixel[1] + by[1]


def test_clicks_near_a_crossing_move_to_it_and_undo_gets_them_back(coach):
    truths = {
        name: seen_at(*place_m)
        for name, place_m in (
            ("end-b/left", (-4.5, 9.0)),
            ("end-b/right", (4.5, 9.0)),
            ("end-a/left", (-4.5, -9.0)),
            ("end-a/right", (4.5, -9.0)),
        )
    }
    for truth in truths.values():
        coach.click_film(*off(truth))
    clicked = kept_view(coach).marks
    snapping = coach.window.page.snapping
    words = coach.window.page.setup_pane.quality.text
    coach.wait(lambda: "Looking for the crossings" in words() or not snapping.busy)
    coach.key(Qt.Key.Key_2, CTRL)
    assert snapping.busy
    assert "still wait" in coach.said[-1]
    coach.key(Qt.Key.Key_1, CTRL)
    coach.wait(lambda: not snapping.busy)
    assert "Looking for the crossings" not in words()
    snapped = kept_view(coach).marks
    away_px = {name: np.hypot(*np.subtract(snapped[name], truths[name])) for name in truths}
    assert max(away_px.values()) < 0.8
    assert any(item.role == "cursor" for item in coach.picture._items)
    assert coach.said[-1].startswith("4 landmarks moved to their crossings")
    coach.key(Qt.Key.Key_Z, CTRL)
    assert kept_view(coach).marks == clicked


CORNERS_M = ((-4.5, 9.0), (4.5, 9.0), (-4.5, -9.0), (4.5, -9.0))


def snapped_corners(coach):
    """Clicks near the four corners, each another way off, moved to their crossings."""
    for place_m, by in zip(CORNERS_M, ((0.8, -0.6), (-0.5, 0.9), (0.7, 0.4), (-0.9, -0.3)), strict=True):
        coach.click_film(*off(seen_at(*place_m), by))
    coach.wait(lambda: not coach.window.page.snapping.busy)


def stated_cm(coach):
    """What Set up says of the far end line, in centimetres."""
    words = coach.window.page.setup_pane.quality.text()
    ((length, unit),) = re.findall(r"A click is good to ([\d.]+)\s(c?m) at the far end line", words)
    return float(length) * (1 if unit == "cm" else 100)


def test_corners_moved_to_their_crossings_state_less_than_four_shift_clicks(coach):
    corners(coach)
    by_hand_cm = stated_cm(coach)
    assert kept_view(coach).clicked == {}
    coach.key(Qt.Key.Key_Backspace, CTRL | SHIFT)
    snapped_corners(coach)
    assert stated_cm(coach) < 0.6 * by_hand_cm
    assert "coarse hand" not in coach.window.page.setup_pane.quality.text()


def test_a_landmark_moved_by_hand_forgets_its_crossing(coach):
    """Undo brings it back; what was clicked is in the file, and there when the logbook is opened again."""
    snapped_corners(coach)
    names = {"end-b/left", "end-b/right", "end-a/left", "end-a/right"}
    snapped = kept_view(coach)
    assert set(snapped.clicked) == names
    for name, place_m in zip(snapped.marks, CORNERS_M, strict=True):
        clicked, marked = snapped.clicked[name], snapped.marks[name]
        assert 0.3 < np.hypot(*np.subtract(clicked, seen_at(*place_m))) < 2.5
        assert clicked != marked
    coach.picture.dragged_mark.emit("end-b/left", *seen_at(-4.4, 8.9))
    assert set(kept_view(coach).clicked) == names - {"end-b/left"}
    coach.key(Qt.Key.Key_Z, CTRL)
    assert kept_view(coach).clicked == snapped.clicked
    coach.key(Qt.Key.Key_Z, CTRL)
    as_clicked = kept_view(coach)
    assert as_clicked.marks == as_clicked.clicked == snapped.clicked
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    coach.window.books.open_logbook_at(coach.folder / "team.logbook")
    coach.wait(lambda: coach.workspace.clip is not None and coach.workspace.view is not None)
    assert dict(coach.workspace.view_state.clicked) == snapped.clicked
    assert coach.workspace.view.expected_error_m() == snapped.expected_error_m()


def test_clicks_short_of_a_view_are_kept_beside_the_marks(coach):
    for place_m in CORNERS_M[:2]:
        coach.click_film(*off(seen_at(*place_m)))
    coach.click_film(*seen_at(*CORNERS_M[2]), SHIFT)
    coach.window.books.open_logbook_at(coach.folder / "team.logbook")
    coach.wait(lambda: coach.workspace.clip is not None)
    assert set(dict(coach.workspace.view_state.clicked)) == {"end-b/left", "end-b/right"}


def test_shift_click_stays_where_it_is(coach):
    corners(coach)
    snapping = coach.window.page.snapping
    coach.click_film(*off(seen_at(-4.5, -3.0)), SHIFT)
    assert not snapping.busy
    mark = kept_view(coach).marks["attack-a/left"]
    assert mark == pytest.approx(off(seen_at(-4.5, -3.0)), abs=1.0)


def test_net_tops_are_no_landmarks_on_the_floor(coach):
    pane = coach.window.page.setup_pane
    coach.click_film(*seen_at(*landmarks(COURTS["indoor"])["end-b/left"]), SHIFT)
    asked = "3 more landmarks on the floor: then the court is drawn. K skips."
    assert pane.quality.text() == asked
    coach.click(pane.court_map, pane.court_map.place_of("net-top/left").toPoint())
    coach.click_film(*seen_at(-4.5, 0.0, 2.24), SHIFT)
    assert pane.court_map.state_of("net-top/left") == "placed"
    assert pane.quality.text() == asked


def test_net_tops_chosen_on_the_small_court_tell_of_a_wrong_height(coach):
    corners(coach)
    pane = coach.window.page.setup_pane
    for side, x_m in (("left", -4.5), ("right", 4.5)):
        coach.click(pane.court_map, pane.court_map.place_of(f"net-top/{side}").toPoint())
        assert pane.next_words.text() == f"Click: top of the net at {side} sideline"
        coach.click_film(*seen_at(x_m, 0.0, 2.43))
    assert "2.24 m was chosen" in pane.quality.text()
    assert "2.43 m high (men)" in pane.quality.text()
    pane.net.setCurrentIndex(1)
    pane.net.activated.emit(1)
    assert "was chosen" not in pane.quality.text()
    assert kept_view(coach).net_height_m == 2.43


def test_the_error_on_the_floor_is_drawn_and_taken_away_by_key(coach):
    corners(coach)
    coach.key(Qt.Key.Key_X)
    labels = [item.text for item in coach.picture._items if hasattr(item, "text")]
    error_m = kept_view(coach).expected_error_m()
    assert f"far end line: {100 * error_m['end_b']:.0f} cm" in labels
    assert f"near end line: {100 * error_m['end_a']:.0f} cm" in labels
    legend = next(item for item in coach.picture._items if item.role == "legend")
    assert legend.entries[0] == ("", "19 of 20 clicks are nearer than")
    coach.key(Qt.Key.Key_X)
    assert all(item.role != "legend" for item in coach.picture._items)


def test_ten_points_clicked_twice_become_the_coachs_own_click_error(coach):
    coach.make_view()
    before = kept_view(coach)
    page = coach.window.page
    coach.key(Qt.Key.Key_I)
    assert page.setup_pane.next_words.text() == "Exercise 1 of 20, click: far end line at left sideline"
    assert page.picture._marks == {}
    targets = [seen_at(*place_m[:2]) for place_m in landmarks(COURTS["indoor"]).values()]
    for way in (1.5, -1.5):
        for target in targets:
            coach.click_film(*off(target, (way, 0.0)))
    view = kept_view(coach)
    assert view.marks == before.marks
    assert view.own_click_sd_px == pytest.approx(3.0 / np.sqrt(2) / np.sqrt(2), abs=0.3)
    assert view.expected_error_m()["end_b"] > before.expected_error_m()["end_b"]
    assert coach.said[-1].endswith("Every landing counts with that from now on, in all stored views.")
    coach.key(Qt.Key.Key_Z, CTRL)
    assert kept_view(coach).own_click_sd_px is None
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    coach.key(Qt.Key.Key_D)
    assert kept_view(coach).own_click_sd_px == pytest.approx(view.own_click_sd_px)


def test_a_landing_on_the_balls_centre_has_its_radius_taken_out(coach):
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    coach.key(Qt.Key.Key_C)
    assert any(getattr(item, "text", "").startswith("Click the ball's centre") for item in coach.picture._items)
    coach.step_to(10)
    coach.click_film(*seen_at(1.0, 7.0, BALL_RADIUS_M))
    coach.key(Qt.Key.Key_C)
    coach.step_to(40)
    coach.click_film(*seen_at(1.0, 7.0, BALL_RADIUS_M))
    with Logbook.open(coach.folder / "team.logbook") as book:
        on_ball, on_floor = book.serves()
    assert (on_ball.landing.on_ball, on_floor.landing.on_ball) == (True, False)
    assert on_ball.landing_point.y_m == pytest.approx(6.85, abs=0.15)  # moved by what the shutter hides, 0.1-0.2 m
    assert on_floor.landing_point.y_m > on_ball.landing_point.y_m + 0.2


def test_a_net_that_agrees_is_said(coach):
    corners(coach)
    pane = coach.window.page.setup_pane
    for side, x_m in (("left", -4.5), ("right", 4.5)):
        coach.click(pane.court_map, pane.court_map.place_of(f"net-top/{side}").toPoint())
        coach.click_film(*seen_at(x_m, 0.0, 2.24))
    coach.click_film(*seen_at(-4.5, -3.0), SHIFT)
    assert "The marked net is 2.2" in pane.quality.text()
    assert "m high, as chosen." in pane.quality.text()
