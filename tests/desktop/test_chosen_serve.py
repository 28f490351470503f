"""With a serve chosen, keys, boxes and map change that serve; without one they set what comes next."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
FRAMES = (10, 25, 40)

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_of_three):
    """A coach who marked three serves, at no aim, by Ines, Marit and Noor: next is Ines."""
    for frame in FRAMES:
        coach_of_three.step_to(frame)
        coach_of_three.click_film(*seen_at(1.5, 7.5))
    return coach_of_three


def choose(coach, place):
    """Click the chip of a serve."""
    chips = coach.window.page.chips
    serve_id = coach.workspace.serves[place].id
    coach.click(chips.viewport(), chips.chip_rect(serve_id).center().toPoint())
    coach.window.page.focus_picture()


def shown(coach):
    """What the panel says: whose card, its name, and who is next below it."""
    turn = coach.turn
    return turn.whose.text(), turn.now.text(), turn.next.text() if turn.next.isVisible() else ""


def type_aim(coach, text):
    coach.click(coach.turn.aim.lineEdit())
    coach.key(Qt.Key.Key_A, CTRL)
    coach.type(text)


def pick_on_map(coach):
    half_court = coach.window.page.mark_pane.half_court
    coach.click(half_court, half_court._drawing.place(7.5, 7.5).toPoint())


CHANGES = {
    "A": (lambda coach: coach.key(Qt.Key.Key_A), "aim", "deep 1"),
    "Shift+A": (lambda coach: coach.key(Qt.Key.Key_A, SHIFT), "aim", "zone 6"),
    "aim box": (lambda coach: type_aim(coach, "seam 5-6"), "aim", "seam 5-6"),
    "map": (pick_on_map, "aim", "deep 5"),
    "Y": (lambda coach: coach.key(Qt.Key.Key_Y), "serve_type", "underhand"),
}


def choose_two(coach):
    """Click the chip of the first serve, and with Shift that of the second."""
    choose(coach, 0)
    chips = coach.window.page.chips
    second = chips.chip_rect(coach.workspace.serves[1].id).center().toPoint()
    coach.click(chips.viewport(), second, SHIFT)
    coach.window.page.focus_picture()


@pytest.mark.parametrize("way", CHANGES)
def test_two_chosen_serves_change_together_in_one_step(coach, way):
    change, part, value = CHANGES[way]
    choose_two(coach)
    assert shown(coach) == ("2 chosen serves", "7 Ines, 4 Marit", "7 Ines")
    change(coach)
    assert [getattr(serve, part) for serve in coach.workspace.serves] == [value, value, ""]
    assert getattr(coach.workspace, part) == "", "the next serves are left alone"
    assert coach.said[-1] == "2 serves changed."
    assert shown(coach)[0] == "2 chosen serves"
    coach.key(Qt.Key.Key_Z, CTRL)
    assert [getattr(serve, part) for serve in coach.workspace.serves] == [""] * 3


def test_two_chosen_serves_stay_chosen_where_only_one_of_them_changes(coach):
    choose(coach, 1)
    coach.key(Qt.Key.Key_A)
    choose_two(coach)
    coach.key(Qt.Key.Key_A)
    assert [serve.aim for serve in coach.workspace.serves] == ["deep 1", "deep 1", ""]
    coach.key(Qt.Key.Key_Y)
    assert [serve.serve_type for serve in coach.workspace.serves] == ["underhand", "underhand", ""]
    assert coach.workspace.serve_type == ""


def test_the_ending_and_the_server_of_two_chosen_serves(coach):
    choose_two(coach)
    coach.key(Qt.Key.Key_N)
    assert [serve.outcome for serve in coach.workspace.serves] == ["net", "net", "floor"]
    coach.key(Qt.Key.Key_S)
    coach.type("12")
    names = [coach.workspace.players[serve.player_id].name for serve in coach.workspace.serves]
    assert names == ["Noor", "Noor", "Noor"]


def test_two_chosen_serves_are_left_behind_too(coach):
    choose_two(coach)
    coach.step_to(149)
    assert coach.workspace.chosen_serves == []


@pytest.mark.parametrize("way", CHANGES)
def test_aim_and_type_of_the_chosen_serve(coach, way):
    change, column, value = CHANGES[way]
    before = coach.stored_serves()
    choose(coach, 1)
    change(coach)
    after = coach.stored_serves()
    assert getattr(after[1], column) == value
    assert [after[0], after[2]] == [before[0], before[2]]
    assert getattr(coach.workspace, column) == ""
    assert coach.said[-1].startswith("4 Marit")
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.stored_serves() == before


@pytest.mark.parametrize("way", CHANGES)
def test_aim_and_type_of_the_next_serves(coach, way):
    change, column, value = CHANGES[way]
    before = coach.stored_serves()
    change(coach)
    assert getattr(coach.workspace, column) == value
    assert coach.stored_serves() == before
    assert coach.said[-1].startswith("The next serves")


@pytest.mark.parametrize("by_key", [True, False])
def test_the_server_of_the_chosen_serve(coach, by_key):
    choose(coach, 1)
    if by_key:
        coach.key(Qt.Key.Key_S)
    coach.type("12")
    assert [serve.player_id for serve in coach.stored_serves()] == ["ines", "noor", "noor"]
    assert coach.workspace.turns.now() == "ines"
    assert shown(coach) == ("chosen serve", "12 Noor", "7 Ines")


@pytest.mark.parametrize(
    ("key", "outcome"),
    [(Qt.Key.Key_N, "net"), (Qt.Key.Key_R, "received"), (Qt.Key.Key_O, "out"), (Qt.Key.Key_F, "fault")],
)
def test_the_outcome_of_the_chosen_serve(coach, key, outcome):
    choose(coach, 1)
    coach.key(key)
    assert [serve.outcome for serve in coach.stored_serves()] == ["floor", outcome, "floor"]
    assert coach.workspace.turns.now() == "ines"
    assert coach.said[-1].startswith("4 Marit")


def test_a_chosen_serve_under_way_ends_on_the_frame_shown(coach):
    coach.step_to(60)
    coach.key(Qt.Key.Key_H)
    choose(coach, 3)
    coach.step_to(80)
    coach.key(Qt.Key.Key_N)
    ended = coach.stored_serves()[3]
    assert (ended.outcome, ended.landing.time_s) == ("net", pytest.approx(80 / 30))
    assert coach.workspace.turns.now() == "marit"


def test_a_chosen_serve_was_received_at_the_cross_hair(coach):
    choose(coach, 1)
    QTest.mouseMove(coach.picture, coach.picture.film_to_widget(*seen_at(0.5, 6.5)).toPoint())
    coach.key(Qt.Key.Key_R, SHIFT)
    assert [serve.outcome for serve in coach.stored_serves()] == ["floor", "received", "floor"]


def test_the_panel_says_whose_it_is(coach):
    assert shown(coach) == ("next", "7 Ines", "")
    choose(coach, 1)
    assert shown(coach) == ("chosen serve", "4 Marit", "7 Ines")
    assert coach.turn.then.text().startswith("deep 6")
    coach.key(Qt.Key.Key_A)
    assert coach.turn.aim.currentText() == "deep 1"
    coach.key(Qt.Key.Key_Escape)
    assert shown(coach) == ("next", "7 Ines", "")
    assert coach.turn.aim.currentText() == "no aim"
    assert coach.said[-1] == "Keys and boxes set the next serve again."
    coach.key(Qt.Key.Key_A)
    assert coach.stored_serves()[1].aim == coach.workspace.aim == "deep 1"
    choose(coach, 0)
    coach.press("Done")
    assert shown(coach)[0] == "next"


def test_a_serve_just_marked_or_undone_is_not_a_chosen_one(coach):
    choose(coach, 0)
    coach.step_to(60)
    coach.click_film(*seen_at(1.5, 7.5))
    assert shown(coach)[:2] == ("next", "4 Marit")
    coach.key(Qt.Key.Key_Z, CTRL)
    assert shown(coach)[:2] == ("next", "7 Ines")
    coach.key(Qt.Key.Key_N)
    assert [serve.outcome for serve in coach.stored_serves()] == ["floor", "floor", "floor", "net"]


def test_a_serve_left_behind_on_the_film_is_no_longer_chosen(coach):
    choose(coach, 0)
    coach.step_to(FRAMES[0] + 110)
    assert shown(coach)[0] == "chosen serve"
    coach.step_to(FRAMES[0] + 130)
    assert shown(coach)[0] == "next"
    coach.key(Qt.Key.Key_N)
    assert len(coach.stored_serves()) == 4


def test_escape_in_a_box_leaves_the_chosen_serve(coach):
    choose(coach, 0)
    coach.key(Qt.Key.Key_S)
    coach.key(Qt.Key.Key_Escape)
    assert shown(coach)[0] == "chosen serve"


def test_picture_and_map_show_the_aim_of_the_chosen_serve(coach):
    choose(coach, 1)
    coach.key(Qt.Key.Key_A)
    assert coach.window.page.judgements.aim().text == "deep 1"
    coach.key(Qt.Key.Key_Escape)
    assert coach.window.page.judgements.aim() is None


def test_each_key_is_answered_by_what_is_so(coach):
    coach.step_to(60)
    coach.key(Qt.Key.Key_H)
    coach.step_to(75)
    coach.key(Qt.Key.Key_R)
    assert coach.said[-1] == "7 Ines, received"
    coach.key(Qt.Key.Key_2, Qt.KeyboardModifier.AltModifier)
    assert coach.said[-1] == "Pass of 7 Ines rated 2."
    coach.type("12")
    assert coach.said[-1] == "12 Noor serves next."
    coach.key(Qt.Key.Key_Backspace)
    assert coach.said[-1] == "1 serve deleted."


def test_a_contact_is_that_of_the_chosen_serve(coach):
    choose(coach, 1)
    coach.step_to(FRAMES[1] - 3)
    coach.key(Qt.Key.Key_H)
    serves = coach.stored_serves()
    assert len(serves) == len(FRAMES)
    assert [serve.contact is not None for serve in serves] == [False, True, False]
    assert coach.said[-1] == "Contact marked for the serve of 4 Marit."
    coach.step_to(FRAMES[1] - 4)
    coach.key(Qt.Key.Key_H)
    moved = coach.stored_serves()[1]
    assert moved.contact.time_s < serves[1].contact.time_s
    coach.key(Qt.Key.Key_Z, CTRL)
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.stored_serves()[1].contact is None


def test_a_landing_marked_first_takes_the_contact_marked_before_it_and_the_next_one_is_another_serves(coach):
    coach.step_to(FRAMES[2] - 3)
    coach.key(Qt.Key.Key_H)
    serves = coach.stored_serves()
    assert [serve.contact is not None for serve in serves] == [False, False, True]
    coach.step_to(FRAMES[2] + 5)
    coach.key(Qt.Key.Key_H)
    assert len(coach.stored_serves()) == len(FRAMES) + 1


def test_a_chosen_serve_that_was_deleted_is_chosen_again_when_it_comes_back(coach):
    choose(coach, 1)
    coach.key(Qt.Key.Key_Backspace)
    coach.key(Qt.Key.Key_Z, CTRL)
    assert shown(coach)[:2] == ("chosen serve", "4 Marit")
    coach.key(Qt.Key.Key_O)
    assert [serve.outcome for serve in coach.stored_serves()] == ["floor", "out", "floor"]


def test_a_serve_just_marked_has_a_ring_and_is_not_shown_as_chosen(coach):
    chips, serves = coach.window.page.chips, coach.workspace.serves
    assert (chips.current, chips.selection()) == (serves[2].id, [])
    choose(coach, 1)
    assert (chips.current, chips.selection()) == (serves[1].id, [serves[1].id])


def test_a_contact_moved_keeps_its_place_on_the_floor(coach):
    choose(coach, 1)
    coach.step_to(FRAMES[1] - 6)
    coach.click_film(*seen_at(2.0, -9.3), CTRL)
    placed = coach.stored_serves()[1].contact
    assert placed.pixel is not None
    coach.step_to(FRAMES[1] - 5)
    coach.key(Qt.Key.Key_H)
    moved = coach.stored_serves()[1].contact
    assert moved.time_s > placed.time_s
    assert moved.pixel == placed.pixel


def test_a_contact_is_that_of_the_chosen_serve_also_while_another_is_under_way(coach):
    """The first contact is that of the serve just marked, the second one of a serve under way."""
    for frame in (FRAMES[0] + 2, FRAMES[0] + 12):
        coach.step_to(frame)
        coach.key(Qt.Key.Key_H)
    under_way = next(serve for serve in coach.stored_serves() if serve.landing is None)
    chosen = next(serve for serve in coach.workspace.serves if serve.landing and serve.landing.time_s * 30 > 24)
    coach.workspace.select([chosen.id])
    coach.step_to(FRAMES[0] + 8)
    coach.key(Qt.Key.Key_H)
    after = {serve.id: serve for serve in coach.stored_serves()}
    assert after[under_way.id] == under_way
    assert after[chosen.id].contact.time_s == pytest.approx((FRAMES[0] + 8) / 30)
