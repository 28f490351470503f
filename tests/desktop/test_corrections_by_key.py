"""What a coach at the keyboard corrects right after a mark: the hit, whose it was, a doubtful landing."""

from __future__ import annotations

import runpy
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from serve_marker.court.dimensions import COURTS, landmarks
from serve_marker.desktop.dialogs.roster import RosterDialog
from serve_marker.desktop.film.player_list import PlayerList
from serve_marker.desktop.film.serve_table import COLUMNS
from serve_marker.desktop.session.edits import Touched
from serve_marker.report.overlay_items import Label

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
SERVE_FRAMES = (20, 50)

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_of_three):
    return coach_of_three


def serve(coach, hit, landing):
    """Mark a hit and a landing by their frames."""
    coach.step_to(hit)
    coach.key(Qt.Key.Key_H)
    coach.step_to(landing)
    coach.click_film(*seen_at(1.0, 7.0))


def hits(coach):
    """The frames of the hits marked."""
    marked = [serve.contact for serve in coach.stored_serves() if serve.contact is not None]
    return sorted(coach.workspace.clip.frame_at(contact.time_s) for contact in marked)


def test_a_hit_marked_again_beside_one_of_a_landed_serve_is_that_one(coach):
    serve(coach, *SERVE_FRAMES)
    coach.step_to(SERVE_FRAMES[0] - 1)
    coach.key(Qt.Key.Key_H)
    assert hits(coach) == [19]
    assert coach.said[-1] == "Contact moved for the serve of 7 Ines."
    coach.key(Qt.Key.Key_Z, CTRL)
    assert hits(coach) == [20]
    coach.step_to(SERVE_FRAMES[0] + 10)
    coach.key(Qt.Key.Key_H)
    assert hits(coach) == [20, 30], "a third of a second away another server may hit"


@pytest.mark.parametrize("earlier", [1, 13, 29])
def test_a_hit_marked_again_before_that_of_a_serve_under_way_is_that_one(coach, earlier):
    coach.step_to(40)
    coach.key(Qt.Key.Key_H)
    coach.step_to(40 - earlier)
    coach.key(Qt.Key.Key_H)
    assert hits(coach) == [40 - earlier]
    coach.step_to(70)
    coach.click_film(*seen_at(1.0, 7.0))
    assert [one.player_id for one in coach.stored_serves()] == ["ines"]


def test_the_serve_just_marked_is_the_first_one_back(coach):
    for hit, landing in ((10, 30), (60, 80)):
        serve(coach, hit, landing)
    coach.key(Qt.Key.Key_Left, CTRL)
    assert coach.workspace.chosen == coach.workspace.serves[1]
    coach.key(Qt.Key.Key_G)
    coach.wait(lambda: coach.app.activePopupWidget() is not None)
    listed = coach.app.activePopupWidget()
    assert isinstance(listed, PlayerList)
    assert listed.players.accessibleName() == "Give the serve of 4 Marit to"
    coach.type("12")
    assert [one.player_id for one in coach.stored_serves()] == ["ines", "noor"]
    coach.key(Qt.Key.Key_Left, CTRL)
    assert coach.workspace.chosen == coach.workspace.serves[0]


def test_undo_before_the_answer_takes_only_the_doubtful_landing_back(coach):
    serve(coach, *SERVE_FRAMES)
    before, question = coach.stored_serves(), coach.window.page.question
    coach.step_to(100)
    coach.click_film(*seen_at(0.0, 33.5))
    assert question.isVisible()
    coach.key(Qt.Key.Key_Z, CTRL)
    assert (question.isVisible(), coach.stored_serves(), coach.said[-1]) == (False, before, "Not entered.")
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.stored_serves() != before


def test_what_is_told_of_a_landing_goes_with_the_film(coach):
    def told():
        return [item.text for item in coach.picture._items if isinstance(item, Label) and "Ines" in item.text]

    serve(coach, *SERVE_FRAMES)
    assert len(told()) == 1
    coach.step_to(SERVE_FRAMES[1] + 31)
    assert told() == []
    coach.key(Qt.Key.Key_Left, CTRL)
    assert len(told()) == 1


def test_escape_puts_the_magnifier_away_until_the_cross_hair_moves(coach):
    magnifier = coach.window.page.magnifier
    coach.window.page.focus_picture()
    coach.key(Qt.Key.Key_Up, CTRL | SHIFT)
    coach.wait(magnifier.isVisible)
    coach.key(Qt.Key.Key_Escape)
    assert not magnifier.isVisible()
    coach.step_to(5)
    assert not magnifier.isVisible()
    coach.key(Qt.Key.Key_Up, CTRL | SHIFT)
    coach.wait(magnifier.isVisible)


def test_the_server_of_a_serve_under_way_is_said_to_be_its(coach):
    coach.step_to(20)
    coach.key(Qt.Key.Key_H)
    coach.type("4")
    assert coach.said[-1] == "4 Marit hit the serve under way."
    assert [one.player_id for one in coach.stored_serves()] == ["marit"]


def test_aim_and_type_changed_while_a_serve_is_under_way_are_its(coach):
    coach.step_to(20)
    coach.key(Qt.Key.Key_H)
    coach.key(Qt.Key.Key_A, Qt.KeyboardModifier.AltModifier)
    coach.type("zone 5")
    coach.window.page.focus_picture()
    coach.key(Qt.Key.Key_Y)
    serve_type = coach.workspace.serve_type
    coach.step_to(50)
    coach.click_film(*seen_at(1.0, 7.0))
    assert serve_type
    assert [(one.aim, one.serve_type) for one in coach.stored_serves()] == [("zone 5", serve_type)]


def test_a_serve_too_many_deleted_gives_its_turn_back(coach):
    for hit, landing in ((10, 30), (60, 80)):
        serve(coach, hit, landing)
    assert coach.workspace.turns.now() == "noor"
    coach.key(Qt.Key.Key_Left, CTRL)
    coach.key(Qt.Key.Key_Backspace)
    assert coach.workspace.turns.now() == "marit"
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.workspace.turns.now() == "noor"
    coach.key(Qt.Key.Key_Left, CTRL)
    coach.wait(lambda: coach.workspace.chosen == coach.workspace.serves[0])
    coach.key(Qt.Key.Key_Backspace)
    assert coach.workspace.turns.now() == "noor", "an older serve took another's turn"


def test_the_serve_marked_last_gives_its_turn_back_wherever_it_lies_on_the_film(coach):
    for frame in (20, 100, 60):
        coach.step_to(frame)
        coach.click_film(*seen_at(1.0, 7.0))
    assert coach.workspace.turns.now() == "ines"
    coach.key(Qt.Key.Key_Left, CTRL)
    coach.key(Qt.Key.Key_Delete)
    assert [coach.workspace.clip.frame_at(one.moment_s) for one in coach.stored_serves()] == [20, 100]
    assert coach.workspace.turns.now() == "noor"


def test_the_list_tells_how_fast_a_serve_was(coach):
    coach.step_to(20)
    coach.click_film(*seen_at(1.0, -9.2), CTRL)
    coach.step_to(50)
    coach.click_film(*seen_at(1.0, 7.0))
    model = coach.window.page.list._model
    shown = model.data(model.index(0, list(COLUMNS).index("pace")))
    assert float(shown) == pytest.approx(3.6 * 16.2, rel=0.05), "16.2 m in a second"
    stored = coach.workspace.view_state.stored
    (serve,) = coach.workspace.serves
    coach.workspace.book().put(replace(stored, id="moved"), replace(serve, view_id="moved"))
    coach.workspace.show(Touched(views=True))
    assert model.data(model.index(0, list(COLUMNS).index("pace"))) == shown, "a serve seen through another view"


def test_escape_goes_to_the_picture_and_once_more_closes_the_list(coach):
    serve(coach, *SERVE_FRAMES)
    coach.key(Qt.Key.Key_L, CTRL)
    coach.key(Qt.Key.Key_Escape)
    assert coach.picture.hasFocus()
    assert coach.window.page.list.isVisible(), "to be seen while keys step through the film"
    coach.key(Qt.Key.Key_Escape)
    assert not coach.window.page.list.isVisible()


def test_enter_presses_a_button_that_has_the_focus(coach):
    serve(coach, *SERVE_FRAMES)
    coach.key(Qt.Key.Key_4, CTRL)
    pane = coach.window._stack.currentWidget()
    coach.wait(lambda: not pane.busy)
    coach.press("Table as CSV")
    pane.make_button.setFocus()
    coach.key(Qt.Key.Key_Return)
    coach.wait(lambda: pane.result.text().endswith(".csv written."))


def test_the_order_goes_on_from_the_player_the_last_serve_was_given_to(coach):
    serve(coach, *SERVE_FRAMES)
    assert coach.workspace.turns.now() == "marit"
    coach.key(Qt.Key.Key_Left, CTRL)
    coach.key(Qt.Key.Key_G)
    coach.wait(lambda: coach.app.activePopupWidget() is not None)
    coach.type("12")
    assert [one.player_id for one in coach.stored_serves()] == ["noor"]
    assert coach.workspace.turns.now() == "ines"
    coach.key(Qt.Key.Key_Delete)
    assert (coach.stored_serves(), coach.workspace.turns.now()) == ([], "noor")


def test_undo_of_another_change_leaves_the_server_named_since_alone(coach):
    serve(coach, *SERVE_FRAMES)
    coach.key(Qt.Key.Key_Left, CTRL)
    coach.key(Qt.Key.Key_Y)
    coach.key(Qt.Key.Key_Escape)
    coach.key(Qt.Key.Key_S)
    coach.type("12")
    assert coach.workspace.turns.now() == "noor"
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.stored_serves()[0].serve_type == ""
    assert coach.workspace.turns.now() == "noor"


def test_an_older_serve_given_to_another_leaves_the_order_alone(coach):
    for frame in (10, 40, 70, 100):
        coach.step_to(frame)
        coach.click_film(*seen_at(1.0, 7.0))
    assert coach.workspace.turns.now() == "marit"
    coach.step_to(10)
    coach.key(Qt.Key.Key_Left, CTRL)
    assert coach.workspace.chosen == coach.workspace.serves[0]
    coach.key(Qt.Key.Key_S)
    coach.type("12")
    assert coach.workspace.turns.now() == "marit"


def test_a_new_hit_is_not_shown_with_the_place_of_the_serve_before(coach):
    serve(coach, *SERVE_FRAMES)
    half = coach.window.page.mark_pane.half_court
    assert half._live is not None
    coach.step_to(SERVE_FRAMES[1] + 31)
    coach.key(Qt.Key.Key_H)
    assert half._live is None


def test_the_ball_in_the_air_does_not_push_the_floor_under_a_hit_away(coach):
    coach.step_to(20)
    coach.click_film(*seen_at(1.0, -9.2), CTRL)
    (before,) = coach.stored_serves()
    QTest.mouseMove(coach.picture, coach.picture.film_to_widget(*seen_at(1.0, -9.2, 2.6)).toPoint())
    coach.key(Qt.Key.Key_Return, Qt.KeyboardModifier.AltModifier)
    assert coach.said[-1].startswith("The floor under this hit stays marked")
    assert coach.stored_serves() == [before]


def test_order_and_aim_are_typed_without_the_mouse(coach):
    coach.window.page.focus_picture()
    coach.key(Qt.Key.Key_S, SHIFT)
    coach.type("12 7")
    assert [coach.workspace.turns.now()] == ["noor"]
    coach.key(Qt.Key.Key_A, Qt.KeyboardModifier.AltModifier)
    coach.type("zone 5")
    assert coach.workspace.aim == "zone 5"
    coach.step_to(20)
    coach.click_film(*seen_at(1.0, 7.0))
    assert [(one.player_id, one.aim) for one in coach.stored_serves()] == [("noor", "zone 5")]


def test_players_are_kept_from_within_the_table(coach):
    coach.key(Qt.Key.Key_P, CTRL)
    coach.dialog(RosterDialog)
    coach.type("9", enter=False)
    coach.key(Qt.Key.Key_Tab)
    coach.type("Priya", enter=False)
    coach.key(Qt.Key.Key_Return, CTRL)
    coach.wait(lambda: coach.app.activeModalWidget() is None)
    assert "Priya" in [player.name for player in coach.workspace.players.values()]


def test_the_court_is_answered_by_the_key_of_yes(coach_at_setup):
    making, pane = coach_at_setup.window.page._making, coach_at_setup.window.page.setup_pane
    coach_at_setup.wait(lambda: making.seen() is not None)
    making.move({name: seen_at(*place_m) for name, place_m in landmarks(COURTS["indoor"]).items()})
    assert pane.court_is.isVisible()
    coach_at_setup.key(Qt.Key.Key_Y, CTRL)
    assert not pane.court_is.isVisible()
    assert making.court_told
