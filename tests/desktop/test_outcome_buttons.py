"""Each ending of a serve has a button that does what its key does; the film has buttons beside the time bar."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from serve_marker.court.dimensions import COURTS
from serve_marker.desktop.session.view_editor import ViewEditor

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
ENDINGS = {
    "net": Qt.Key.Key_N,
    "received": Qt.Key.Key_R,
    "target": Qt.Key.Key_T,
    "out": Qt.Key.Key_O,
    "fault": Qt.Key.Key_F,
}

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    coach_at_mark.click(coach_at_mark.turn.order)
    coach_at_mark.type("7 4 12")
    return coach_at_mark


def ending_button(coach, outcome):
    return coach.window.page.mark_pane.outcomes.buttons[f"outcome_{outcome}"]


def film_button(coach, action_id):
    return coach.window.page.play_buttons.buttons[action_id]


def endings(coach):
    return [(serve.outcome, serve.landing.time_s) for serve in coach.stored_serves()]


def test_a_click_makes_the_serve_that_the_key_makes(coach):
    coach.step_to(20)
    for outcome, key in ENDINGS.items():
        coach.click(ending_button(coach, outcome))
        by_click, said = endings(coach), coach.said[-1]
        assert by_click == [(outcome, pytest.approx(20 / 30))]
        assert coach.picture.hasFocus(), "the keys stay with the picture"
        coach.key(Qt.Key.Key_Z, CTRL)
        coach.key(key)
        assert (endings(coach), coach.said[-1]) == (by_click, said)
        coach.key(Qt.Key.Key_Z, CTRL)


def test_a_click_changes_the_chosen_serve(coach):
    for frame in (10, 25):
        coach.step_to(frame)
        coach.click_film(*seen_at(1.5, 7.5))
    roles = [item.role for item in coach.picture._items]
    assert "landing" in roles
    assert "legend" not in roles, "nothing covers the film"
    for _ in ("the one just marked", "the one before"):
        coach.key(Qt.Key.Key_Left, CTRL)
    for outcome in ENDINGS:
        coach.click(ending_button(coach, outcome))
        assert [serve.outcome for serve in coach.stored_serves()] == [outcome, "floor"]


def test_each_button_says_its_word_and_its_key(coach):
    button = ending_button(coach, "net")
    assert (button.word, button.key) == ("Net", "N")
    assert "Into the net (N)" in button.toolTip()
    assert button.defaultAction() is coach.window.actions_by_id["outcome_net"]


def test_a_blocked_serve_has_a_button_on_the_court_where_it_counts(coach):
    button = ending_button(coach, "blocked")
    assert not button.isVisible()
    ViewEditor(coach.workspace).choose_court(COURTS["sitting"])
    coach.key(Qt.Key.Key_2, CTRL)
    assert button.isVisible()
    coach.click(button)
    assert [outcome for outcome, _ in endings(coach)] == ["blocked"]


def test_buttons_step_and_undo(coach):
    coach.step_to(20)
    coach.key(Qt.Key.Key_N)
    for action_id, frame in (("frame_on", 21), ("frame_back", 20), ("frame_back", 19)):
        coach.click(film_button(coach, action_id))
        assert coach.workspace.frame == frame
    coach.click(film_button(coach, "undo"))
    assert coach.stored_serves() == []
    assert coach.picture.hasFocus()
    bar, sound = coach.window.page.time_bar, coach.window.page.sound
    sound.show()
    coach.wait(lambda: sound.width() == bar.width())
    assert (sound.x(), sound.y()) == (bar.x(), bar.y() + bar.height()), "spikes stand under their times"


def test_buttons_play_and_change_the_speed(coach):
    buttons = coach.window.page.play_buttons
    assert buttons.speed.text() == "1 ×"
    coach.click(film_button(coach, "slower"))
    coach.click(film_button(coach, "slower"))
    assert buttons.speed.text() == "1/4 ×"
    coach.key(Qt.Key.Key_Up)
    assert buttons.speed.text() == "1/2 ×"
    coach.click(film_button(coach, "faster"))
    assert (buttons.speed.text(), coach.window.page.player.speed) == ("1 ×", 1.0)
    coach.click(film_button(coach, "play"))
    assert coach.window.page.player.playing
    assert film_button(coach, "play").sign == "pause"
    coach.click(film_button(coach, "play"))
    assert not coach.window.page.player.playing
    assert film_button(coach, "play").sign == "play"
