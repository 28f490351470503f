"""The review of found serves by real keys: looped, entered, corrected, rejected, left for later, missed."""

from __future__ import annotations

import runpy
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt

from serve_marker.desktop.dialogs.serving_end import ServingEndDialog
from serve_marker.desktop.session import serve_finder
from serve_marker.logbook.store import Logbook
from serve_marker.report.overlay_items import Polyline
from tests.desktop.found_serves import SERVER_M, TOSS_UNSEEN, Search, found_serve

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
FIRST_M, SECOND_M = (2.0, 6.5), (-3.0, 7.5)
LEFT_PX = 1.5

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def three_serves(clip, view):
    return [
        found_serve(clip, view, 0.4, FIRST_M),
        found_serve(clip, view, 1.7, SECOND_M, doubts=(TOSS_UNSEEN,)),
        found_serve(clip, view, 3.2, (0.5, 0.0), outcome="net"),
    ]


@pytest.fixture
def coach(coach_of_three, monkeypatch):
    """A coach before whom the first of three found serves plays."""
    coach = coach_of_three
    search = Search(three_serves)
    search.let_go(4)
    monkeypatch.setattr(serve_finder, "spot", search)
    coach.wait(lambda: not coach.window.busy)
    coach.key(Qt.Key.Key_F, CTRL)
    coach.dialog(ServingEndDialog)
    coach.key(Qt.Key.Key_Return)
    coach.face_window()
    coach.wait(lambda: review_of(coach).shown is not None and not coach.window.page.finder.busy)
    return coach


def review_of(coach):
    return coach.window.page.review


def bar(coach):
    return coach.window.page.review_bar.words.text()


def proposals(coach):
    """The proposals as the file holds them."""
    with Logbook.open(coach.folder / "team.logbook") as book:
        return book.proposals(coach.workspace.clip_entry.id)


def answers(coach):
    return [one.answer for one in proposals(coach)]


def enter_all(coach):
    while review_of(coach).shown is not None:
        coach.key(Qt.Key.Key_K)


def test_a_found_serve_plays_at_half_speed_from_before_the_hit_to_after_the_landing_again_and_again(coach):
    player, seen = coach.window.page.player, list[int]()
    coach.workspace.frame_changed.connect(seen.append)
    assert player.speed == 0.5
    coach.wait(lambda: len(seen) > 2 and seen[-1] < max(seen))
    times_s = coach.workspace.clip.times_s[seen]
    assert times_s.min() >= 0.4 - 0.3 - 1 / 30
    assert 1.4 < times_s.max() <= 1.4 + 0.4 + 1 / 30


def test_its_flight_is_drawn_and_its_landing_ringed(coach):
    flight, ring = (item for item in review_of(coach).items() if isinstance(item, Polyline) and item.role == "flight")
    assert flight.points_px[0] == pytest.approx(seen_at(*SERVER_M, 2.6), abs=LEFT_PX)
    assert ring.closed
    assert np.mean(ring.points_px, axis=0) == pytest.approx(seen_at(*FIRST_M), abs=LEFT_PX)
    coach.key(Qt.Key.Key_Escape)
    assert review_of(coach).items() == ()


def test_how_sure_it_is_is_said_in_words(coach):
    assert bar(coach) == "Sure. 2 more."
    coach.key(Qt.Key.Key_K)
    assert bar(coach) == "Look twice: the toss is not seen. 1 more."
    coach.key(Qt.Key.Key_K)
    assert bar(coach) == "Sure. The last one."


def test_one_key_enters_it_for_whoever_serves_at_the_aim_chosen(coach):
    coach.key(Qt.Key.Key_A)
    enter_all(coach)
    first, second, third = coach.stored_serves()
    assert [serve.player_id for serve in (first, second, third)] == ["ines", "marit", "noor"]
    assert {serve.aim for serve in (first, second, third)} == {coach.workspace.aim} != {""}
    assert (first.landing_point.x_m, first.landing_point.y_m) == pytest.approx(FIRST_M, abs=0.2)
    assert (first.contact_point.x_m, first.contact_point.y_m) == pytest.approx(SERVER_M, abs=0.2)
    assert first.landing.time_s - first.contact.time_s == pytest.approx(1.0, abs=1 / 30)
    assert (third.outcome, third.landing.pixel) == ("net", None)
    assert answers(coach) == ["accepted"] * 3


def test_entering_is_a_step_of_undo_and_is_then_asked_again(coach):
    coach.key(Qt.Key.Key_K)
    coach.key(Qt.Key.Key_K)
    coach.key(Qt.Key.Key_Z, CTRL)
    assert answers(coach) == ["accepted", "", ""]
    assert [serve.player_id for serve in coach.stored_serves()] == ["ines"]
    assert review_of(coach).shown.serve.contact.time_s == pytest.approx(1.7, abs=1 / 30)
    assert coach.workspace.turns.now() == "marit"
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    assert answers(coach) == ["accepted", "accepted", ""]
    assert len(coach.stored_serves()) == 2


def test_arrows_and_a_click_correct_it_and_both_marks_are_kept(coach):
    coach.key(Qt.Key.Key_Left)
    coach.step_to(43)
    coach.click_film(*seen_at(1.0, 8.0))
    (serve,) = coach.stored_serves()
    assert (serve.landing_point.x_m, serve.landing_point.y_m) == pytest.approx((1.0, 8.0), abs=0.4)
    assert serve.landing.time_s == pytest.approx(43 / 30)
    found = proposals(coach)[0]
    assert found.answer == "corrected"
    assert (found.id, found.serve.contact) == (serve.id, serve.contact)
    assert found.serve.landing != serve.landing
    assert review_of(coach).shown.id == proposals(coach)[1].id
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.stored_serves() == []
    assert review_of(coach).shown.id == found.id


def test_a_click_while_it_plays_is_where_it_landed_at_the_moment_proposed(coach):
    coach.wait(lambda: coach.workspace.frame > 12)
    coach.click_film(*seen_at(1.0, 8.0))
    (serve,) = coach.stored_serves()
    assert (serve.landing_point.x_m, serve.landing_point.y_m) == pytest.approx((1.0, 8.0), abs=0.4)
    assert serve.landing.time_s == proposals(coach)[0].serve.landing.time_s


def test_the_first_arrow_stops_at_the_landing(coach):
    coach.key(Qt.Key.Key_Right)
    landing_frame = round(1.4 * 30)
    assert (coach.workspace.frame, coach.window.page.player.playing) == (landing_frame, False)
    coach.key(Qt.Key.Key_Right)
    assert coach.workspace.frame == landing_frame + 1


def test_a_key_for_how_it_ended_corrects_it(coach):
    coach.key(Qt.Key.Key_R)
    (serve,) = coach.stored_serves()
    assert (serve.outcome, serve.landing.pixel, serve.player_id) == ("received", None, "ines")
    assert answers(coach) == ["corrected", "", ""]
    coach.key(Qt.Key.Key_K)
    coach.key(Qt.Key.Key_N)
    assert answers(coach) == ["corrected", "accepted", "corrected"]


def test_one_key_rejects_it_and_undo_brings_it_back(coach):
    coach.key(Qt.Key.Key_X)
    assert coach.stored_serves() == []
    assert answers(coach) == ["rejected", "", ""]
    assert coach.workspace.turns.now() == "ines"
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.said[-1] == "Undone: Proposal rejected."
    assert answers(coach) == ["", "", ""]
    assert review_of(coach).shown.id == proposals(coach)[0].id


def test_what_is_left_for_later_comes_back_with_the_next_review(coach):
    coach.key(Qt.Key.Key_D)
    coach.key(Qt.Key.Key_K)
    coach.key(Qt.Key.Key_K)
    assert coach.said[-1].endswith("a serve. 1 left for later.")
    assert answers(coach) == ["", "accepted", "accepted"]
    coach.key(Qt.Key.Key_F, CTRL)
    assert review_of(coach).shown.id == proposals(coach)[0].id


def test_all_left_for_later_still_waits(coach):
    for _ in range(3):
        coach.key(Qt.Key.Key_D)
    assert coach.said[-1] == "3 found serves wait. Ctrl+F shows them."
    assert answers(coach) == ["", "", ""]


def test_a_missed_serve_is_marked_by_hand_and_the_review_goes_on(coach):
    coach.key(Qt.Key.Key_K)
    coach.key(Qt.Key.Key_I)
    assert review_of(coach).shown is None
    assert not coach.window.page.player.playing
    assert coach.window.page.player.speed == 1.0
    coach.step_to(24)
    coach.key(Qt.Key.Key_H)
    coach.step_to(30)
    coach.click_film(*seen_at(-1.0, 4.0))
    assert [serve.player_id for serve in coach.stored_serves()] == ["marit", "ines"]
    coach.key(Qt.Key.Key_F, CTRL)
    assert review_of(coach).shown.id == proposals(coach)[1].id


def test_a_hit_marked_after_the_review_is_not_that_of_the_serve_entered_last(coach):
    enter_all(coach)
    last = coach.stored_serves()[-1]
    coach.step_to(75)
    coach.click_film(*seen_at(*SERVER_M), CTRL)
    assert last in coach.stored_serves()
    assert len(coach.stored_serves()) == 4


def test_a_found_serve_that_was_marked_by_hand_is_not_asked_about(coach):
    coach.key(Qt.Key.Key_Escape)
    coach.step_to(42)
    coach.click_film(*seen_at(*FIRST_M))
    coach.key(Qt.Key.Key_F, CTRL)
    assert review_of(coach).shown.id == proposals(coach)[1].id


def test_a_hit_marked_by_hand_leaves_the_review(coach):
    coach.key(Qt.Key.Key_H)
    assert review_of(coach).shown is None
    assert answers(coach) == ["", "", ""]


def test_a_click_on_a_frame_of_another_moment_is_refused(coach):
    coach.key(Qt.Key.Key_Left)
    coach.step_to(3)
    coach.click_film(*seen_at(1.0, 8.0))
    assert coach.said[-1] == "The found serve is not in the air here. I marks a missed one by hand."
    assert coach.stored_serves() == []
    assert review_of(coach).shown.id == proposals(coach)[0].id


def test_a_click_where_no_serve_lands_is_asked_about_first(coach):
    coach.key(Qt.Key.Key_Left)
    coach.step_to(43)
    coach.click_film(*seen_at(0.0, 30.0))
    assert coach.stored_serves() == []
    coach.key(Qt.Key.Key_Y, CTRL)
    assert answers(coach) == ["corrected", "", ""]


def test_a_chosen_serve_has_the_keys(coach):
    coach.key(Qt.Key.Key_K)
    coach.key(Qt.Key.Key_Left, CTRL)
    assert review_of(coach).shown is None
    coach.key(Qt.Key.Key_N)
    assert [serve.outcome for serve in coach.stored_serves()] == ["net"]


def test_the_end_says_serves_actions_and_seconds(coach):
    coach.key(Qt.Key.Key_X)
    coach.key(Qt.Key.Key_Left)
    coach.key(Qt.Key.Key_K)
    coach.key(Qt.Key.Key_K)
    assert coach.said[-1].startswith("2 serves, 4 actions, ")
    assert coach.said[-1].endswith(" a serve.")
    assert coach.window.page.review_bar.isHidden()
    assert coach.window.page.player.speed == 1.0


def test_the_keys_of_the_review_rest_outside_it(coach):
    enter_all(coach)
    for action_id in ("accept_proposal", "reject_proposal", "later_proposal", "missed_serve"):
        assert not coach.window.actions_by_id[action_id].isEnabled()
    coach.key(Qt.Key.Key_1, CTRL)
    assert coach.window.page.review_bar.isHidden()
