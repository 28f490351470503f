"""A serve is made only where the coach meant one."""

from __future__ import annotations

import runpy
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from serve_marker.court.dimensions import COURTS
from serve_marker.desktop.session.unlikely_landing import question_about
from serve_marker.logbook.records import FloorPoint

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
ALT = Qt.KeyboardModifier.AltModifier
A_LITTLE = QPoint(5, 0)

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    coach_at_mark.click(coach_at_mark.turn.order)
    coach_at_mark.type("7 4 12")
    return coach_at_mark


def servers(coach):
    numbers = {player.id: player.number for player in coach.workspace.players.values()}
    return [numbers[serve.player_id] for serve in coach.stored_serves()]


def next_number(coach):
    return coach.workspace.players[coach.workspace.turns.now()].number


def click_beside(coach, *place_m):
    """Click five pixels of the screen beside a place on the floor."""
    at = coach.picture.film_to_widget(*seen_at(*place_m)).toPoint() + A_LITTLE
    coach.click(coach.picture, at)
    return coach.picture.widget_to_film(at.toPointF())


def test_an_aim_chosen_by_keyboard_marks_no_landing(coach):
    coach.step_to(20)
    QTest.mouseMove(coach.picture, coach.picture.film_to_widget(*seen_at(1.0, 7.0)).toPoint())
    coach.turn.aim.setFocus(Qt.FocusReason.TabFocusReason)
    coach.key(Qt.Key.Key_Down)
    coach.key(Qt.Key.Key_Return)
    assert coach.picture.hasFocus() or coach.window.page.stage.isAncestorOf(coach.app.focusWidget())
    coach.key(Qt.Key.Key_Return)
    coach.key(Qt.Key.Key_Enter)
    assert coach.stored_serves() == []
    assert next_number(coach) == 7
    assert coach.said[-1].startswith("Move the cross-hair first")


@pytest.mark.parametrize("modifiers", [coach_at_work["NO_KEY"], CTRL, SHIFT, ALT])
def test_enter_on_a_frame_where_the_cross_hair_was_not_moved_marks_nothing(coach, modifiers):
    coach.step_to(10)
    coach.click_film(*seen_at(1.0, 7.0))
    before = coach.stored_serves()
    coach.step_to(30)
    coach.key(Qt.Key.Key_Return, modifiers)
    assert coach.stored_serves() == before
    coach.key(Qt.Key.Key_Up, ALT)
    coach.key(Qt.Key.Key_Return)
    assert servers(coach) == [7, 4]


def test_a_pointer_that_left_the_picture_marks_nothing_by_enter(coach):
    QTest.mouseMove(coach.picture, coach.picture.film_to_widget(*seen_at(1.0, 7.0)).toPoint())
    QTest.mouseMove(coach.turn, coach.turn.rect().center())
    coach.wait(lambda: not coach.picture.cross_hair_moved)
    coach.key(Qt.Key.Key_Return)
    assert coach.stored_serves() == []


def test_a_second_click_beside_a_landing_moves_it(coach):
    coach.step_to(20)
    coach.click_film(*seen_at(1.0, 7.0))
    (first,) = coach.stored_serves()
    place_px = click_beside(coach, 1.0, 7.0)
    (moved,) = coach.stored_serves()
    assert moved.id == first.id
    assert moved.landing.pixel == pytest.approx(place_px)
    assert next_number(coach) == 4
    assert coach.said[-1].startswith("Number 7, deep 6")
    assert coach.said[-1].endswith("Moved; U makes it a second serve.")
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.stored_serves() == [first]
    assert next_number(coach) == 4


def test_one_key_makes_it_a_second_serve_after_all(coach):
    coach.step_to(20)
    coach.click_film(*seen_at(1.0, 7.0))
    before = coach.stored_serves()
    place_px = click_beside(coach, 1.0, 7.0)
    moved = coach.stored_serves()
    coach.key(Qt.Key.Key_U)
    first, second = coach.stored_serves()
    assert [first] == before
    assert second.landing.pixel == pytest.approx(place_px)
    assert servers(coach) == [7, 4]
    assert next_number(coach) == 12
    assert coach.workspace.selection == (second.id,)
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.stored_serves() == moved
    assert next_number(coach) == 4


def test_there_is_no_second_serve_where_no_landing_was_moved(coach):
    coach.key(Qt.Key.Key_U)
    assert coach.said[-1] == "No landing was moved just now; click the second landing first."
    click_beside(coach, 1.0, 7.0)
    click_beside(coach, 1.0, 6.0)
    coach.step_to(30)
    coach.click_film(*seen_at(1.0, 7.0))
    coach.key(Qt.Key.Key_U)
    assert len(coach.stored_serves()) == 2


@pytest.mark.parametrize(("frames_on", "serves"), [(-8, 1), (8, 1), (9, 1), (10, 2)])
def test_a_landing_within_the_bounce_of_another_is_that_one(coach, frames_on, serves):
    coach.step_to(20)
    coach.click_film(*seen_at(1.0, 7.0))
    coach.step_to(20 + frames_on)
    coach.click_film(*seen_at(-2.0, 8.0))
    assert len(coach.stored_serves()) == serves
    assert coach.stored_serves()[-1].landing.time_s == pytest.approx((20 + frames_on) / 30)


def test_both_halves_and_a_marked_hit_make_serves_of_their_own(coach):
    coach.step_to(20)
    coach.click_film(*seen_at(1.0, 7.0))
    coach.click_film(*seen_at(1.0, -7.0))
    assert len(coach.stored_serves()) == 2
    coach.step_to(14)
    coach.key(Qt.Key.Key_H)
    assert len(coach.stored_serves()) == 2
    coach.step_to(15)
    coach.key(Qt.Key.Key_E)
    coach.key(Qt.Key.Key_H)
    coach.step_to(22)
    coach.click_film(*seen_at(-2.0, 7.0))
    assert len(coach.stored_serves()) == 3


def test_the_same_landing_once_more_changes_nothing(coach):
    coach.click_film(*seen_at(1.0, 7.0))
    before = coach.stored_serves()
    coach.click_film(*seen_at(1.0, 7.0))
    assert coach.stored_serves() == before
    assert coach.workspace.history.stack.undoText().startswith("Number 7")
    assert coach.said[-1] == "This landing is marked already."


def test_a_landing_no_serve_can_reach_is_asked_about(coach):
    question = coach.window.page.question
    coach.step_to(20)
    coach.click_film(*seen_at(0.0, 33.5))
    assert coach.stored_serves() == []
    assert question.isVisible()
    assert question.words.text().endswith("\xa0m outside the court. Is it a landing?")
    coach.press("No")
    assert not question.isVisible()
    assert coach.stored_serves() == []
    coach.click_film(*seen_at(0.0, 33.5))
    coach.press("Yes, enter it")
    (serve,) = coach.stored_serves()
    assert serve.landing_point.y_m == pytest.approx(33.5, abs=1.5)
    assert not question.isVisible()
    assert next_number(coach) == 4


def test_the_question_is_answered_by_key_and_goes_with_the_frame(coach):
    question = coach.window.page.question
    coach.click_film(*seen_at(0.0, 33.5))
    coach.key(Qt.Key.Key_Y, CTRL | SHIFT)
    assert (question.isVisible(), coach.stored_serves()) == (False, [])
    coach.click_film(*seen_at(0.0, 33.5))
    coach.key(Qt.Key.Key_Right)
    assert (question.isVisible(), coach.stored_serves()) == (False, [])
    coach.click_film(*seen_at(0.0, 33.5))
    coach.click_film(*seen_at(1.0, 7.0))
    assert (question.isVisible(), len(coach.stored_serves())) == (False, 1)
    coach.step_to(30)
    coach.click_film(*seen_at(0.0, 33.5))
    coach.key(Qt.Key.Key_Y, CTRL)
    assert (question.isVisible(), len(coach.stored_serves())) == (False, 2)


def test_a_landing_moved_out_of_reach_is_asked_about_too(coach):
    coach.click_film(*seen_at(1.0, 7.0))
    before = coach.stored_serves()
    QTest.mouseMove(coach.picture, coach.picture.film_to_widget(*seen_at(0.0, 33.5)).toPoint())
    coach.key(Qt.Key.Key_M)
    assert coach.window.page.question.isVisible()
    assert coach.stored_serves() == before


@pytest.mark.parametrize(
    ("place_m", "asked"),
    [
        ((0.0, 15.4), ""),
        ((9.4, -3.0), ""),
        ((0.0, 15.6), "This is 6.6\xa0m outside the court. Is it a landing?"),
        ((-9.6, 3.0), "This is 5.1\xa0m outside the court. Is it a landing?"),
        (None, "This is not on the floor. Is it a landing?"),
    ],
)
def test_what_is_asked_about_a_landing(place_m, asked):
    """FIVB 1.1: the free zone of world competitions is 5 m wide at the sidelines, 6.5 m at the end lines."""
    point = None if place_m is None else FloorPoint(*place_m, *np.array([0.01, 0.0, 0.01]))
    assert question_about(point, COURTS["indoor"]) == asked


def test_a_click_within_the_bounce_of_a_key_places_that_serve(coach):
    coach.step_to(20)
    coach.key(Qt.Key.Key_R)
    (by_key,) = coach.stored_serves()
    coach.step_to(24)
    coach.click_film(*seen_at(1.0, 7.0))
    (placed,) = coach.stored_serves()
    assert (placed.id, placed.outcome, placed.landing.time_s) == (by_key.id, "received", pytest.approx(24 / 30))
    assert placed.landing_point.y_m == pytest.approx(7.0, abs=0.5)
    assert next_number(coach) == 4
    assert coach.said[-1].endswith("Placed; U makes it a second serve.")
    coach.key(Qt.Key.Key_U)
    first, second = coach.stored_serves()
    assert (first, second.outcome, second.landing) == (by_key, "floor", placed.landing)
    assert (servers(coach), next_number(coach)) == ([7, 4], 12)


@pytest.mark.parametrize(
    ("key", "outcome"), [(Qt.Key.Key_T, "target"), (Qt.Key.Key_O, "floor"), (Qt.Key.Key_N, "floor")]
)
def test_what_a_serve_placed_after_its_key_is(coach, key, outcome):
    coach.step_to(20)
    coach.key(key)
    coach.click_film(*seen_at(1.0, 7.0))
    assert [(serve.outcome, serve.landing.pixel is None) for serve in coach.stored_serves()] == [(outcome, False)]
    coach.step_to(30)
    coach.key(key)
    coach.step_to(40)
    coach.click_film(*seen_at(1.0, 7.0))
    assert len(coach.stored_serves()) == 3, "a third of a second on it is another serve"


def test_a_key_on_a_landing_says_how_that_serve_ended(coach):
    coach.step_to(20)
    coach.click_film(*seen_at(1.0, 7.0))
    (landed,) = coach.stored_serves()
    coach.key(Qt.Key.Key_N)
    (ended,) = coach.stored_serves()
    assert (ended.id, ended.outcome, next_number(coach)) == (landed.id, "net", 4)
    assert coach.said[-1] == "Number 7, into the net. Changed; U makes it a second serve."
    coach.key(Qt.Key.Key_N)
    assert (coach.stored_serves(), coach.said[-1]) == ([ended], "This serve is marked so already.")
    coach.key(Qt.Key.Key_U)
    first, second = coach.stored_serves()
    assert (first, second.outcome, second.landing.pixel) == (landed, "net", None)
    assert (servers(coach), next_number(coach)) == ([7, 4], 12)
    coach.key(Qt.Key.Key_Z, CTRL)
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.stored_serves() == [landed]
