"""What a coach chose for the next serves is there again: by practice and view, never in another practice."""

from __future__ import annotations

import runpy
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from serve_marker.desktop.session.roster_editor import RosterEditor
from serve_marker.logbook.records import new_id

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, SHIFT, seen_at = (coach_at_work[name] for name in ("CTRL", "SHIFT", "seen_at"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def choose_for_the_next_serves(coach):
    """The far end, its order, the third aim and the second type, each by key."""
    coach.key(Qt.Key.Key_E)
    coach.click(coach.turn.order)
    coach.type("7 4 12")
    for key in (Qt.Key.Key_A, Qt.Key.Key_A, Qt.Key.Key_Y):
        coach.key(key)


def chosen(coach):
    workspace = coach.workspace
    numbers = {key: player.number for key, player in workspace.players.items()}
    order = [numbers[key] for key in workspace.turns.order(workspace.turns.end)]
    return workspace.turns.end, order, workspace.aim, workspace.serve_type


def add_clip(coach, name, practice=None):
    """Another clip of the open practice, or of another one, without going there."""
    first = coach.workspace.clip_entry
    path = Path(first.path).with_name(name)
    shutil.copy(first.path, path)
    book = coach.workspace.book()
    if practice is not None:
        book.put(practice)
    entry = replace(first, id=new_id(), path=str(path), practice_id=practice.id if practice else first.practice_id)
    book.put(entry)
    return entry


def clip_from_the_gallery(coach):
    """Another clip of the practice, filmed from another place."""
    book = coach.workspace.book()
    view = replace(coach.workspace.view_state.stored, id=new_id(), name="Gallery")
    other = replace(add_clip(coach, "gallery.mp4"), view_id=view.id)
    book.put(view, other)
    return other


def go_to(coach, entry):
    coach.window.opening.show(entry)
    coach.wait(lambda: coach.workspace.clip_entry.id == entry.id and not coach.window.busy)


def test_choices_are_there_when_the_logbook_is_opened_anew(coach_at_mark):
    choose_for_the_next_serves(coach_at_mark)
    before = chosen(coach_at_mark)
    assert before == ("b", [7, 4, 12], "deep 6", "underhand")
    coach_at_mark.window.close()
    again = coach_at_work["Coach"](coach_at_mark.folder)
    again.window.open_at_start()
    again.wait(lambda: again.workspace.clip is not None and not again.window.busy)
    assert chosen(again) == before
    assert again.turn.aim.currentText() == "deep 6"
    again.leave()


def test_the_end_of_the_last_serve_gives_way_to_one_chosen_after_it(coach_at_mark):
    coach_at_mark.step_to(20)
    coach_at_mark.click_film(*seen_at(1.0, 7.0))
    coach_at_mark.key(Qt.Key.Key_E)
    other = add_clip(coach_at_mark, "second.mp4")
    first = coach_at_mark.workspace.clip_entry
    go_to(coach_at_mark, other)
    go_to(coach_at_mark, first)
    assert coach_at_mark.workspace.turns.end == "b"


def test_nothing_is_carried_into_another_practice(coach_at_mark):
    choose_for_the_next_serves(coach_at_mark)
    first, before = coach_at_mark.workspace.clip_entry, chosen(coach_at_mark)
    coach_at_mark.key(Qt.Key.Key_C)
    practice = replace(coach_at_mark.workspace.practice, id=new_id(), name="Thursday", order_a=(), order_b=())
    other = add_clip(coach_at_mark, "thursday.mp4", practice)
    go_to(coach_at_mark, other)
    assert chosen(coach_at_mark) == ("a", [], "", "")
    assert not coach_at_mark.workspace.on_ball
    coach_at_mark.key(Qt.Key.Key_A)
    go_to(coach_at_mark, first)
    assert chosen(coach_at_mark) == before
    go_to(coach_at_mark, other)
    assert coach_at_mark.workspace.aim == "deep 1"


def test_each_view_of_a_practice_has_its_own(coach_at_mark):
    choose_for_the_next_serves(coach_at_mark)
    first, before = coach_at_mark.workspace.clip_entry, chosen(coach_at_mark)
    view = replace(coach_at_mark.workspace.view_state.stored, id=new_id(), name="Gallery")
    coach_at_mark.workspace.book().put(view)
    other = add_clip(coach_at_mark, "gallery.mp4")
    coach_at_mark.workspace.book().put(replace(other, view_id=view.id))
    go_to(coach_at_mark, replace(other, view_id=view.id))
    assert chosen(coach_at_mark) == before, "within a practice what was chosen last goes on"
    coach_at_mark.key(Qt.Key.Key_A)
    coach_at_mark.click(coach_at_mark.turn.order)
    coach_at_mark.key(Qt.Key.Key_A, CTRL)
    coach_at_mark.type("4")
    there = chosen(coach_at_mark)
    go_to(coach_at_mark, first)
    assert chosen(coach_at_mark) == before
    go_to(coach_at_mark, other)
    assert chosen(coach_at_mark) == there


def test_an_order_undone_does_not_come_back(coach_at_mark):
    coach_at_mark.click(coach_at_mark.turn.order)
    coach_at_mark.type("7 4")
    coach_at_mark.click(coach_at_mark.turn.order)
    coach_at_mark.key(Qt.Key.Key_A, CTRL)
    coach_at_mark.type("4 7")
    coach_at_mark.key(Qt.Key.Key_Z, CTRL)
    entry = coach_at_mark.workspace.clip_entry
    go_to(coach_at_mark, add_clip(coach_at_mark, "second.mp4"))
    go_to(coach_at_mark, entry)
    assert chosen(coach_at_mark)[1] == [7, 4]


def test_a_player_who_left_the_roster_is_in_no_order(coach_at_mark):
    coach_at_mark.click(coach_at_mark.turn.order)
    coach_at_mark.type("7 4")
    seven = next(player for player in coach_at_mark.workspace.players.values() if player.number == 7)
    RosterEditor(coach_at_mark.workspace).put_players([], [seven])
    assert chosen(coach_at_mark)[1] == [4]
    entry = coach_at_mark.workspace.clip_entry
    go_to(coach_at_mark, add_clip(coach_at_mark, "second.mp4"))
    go_to(coach_at_mark, entry)
    assert chosen(coach_at_mark)[1] == [4]


def test_nothing_chosen_anew_in_one_view_stays_nothing(coach_at_mark):
    coach_at_mark.key(Qt.Key.Key_A)
    first = coach_at_mark.workspace.clip_entry
    other = clip_from_the_gallery(coach_at_mark)
    go_to(coach_at_mark, other)
    assert coach_at_mark.workspace.aim == "deep 1"
    coach_at_mark.key(Qt.Key.Key_A, SHIFT)
    assert coach_at_mark.workspace.aim == ""
    go_to(coach_at_mark, first)
    assert coach_at_mark.workspace.aim == "deep 1"
    go_to(coach_at_mark, other)
    assert coach_at_mark.workspace.aim == ""


def test_a_clip_that_is_only_looked_at_writes_nothing(coach_at_mark):
    coach_at_mark.key(Qt.Key.Key_A)
    practice = coach_at_mark.workspace.practice
    other = clip_from_the_gallery(coach_at_mark)
    go_to(coach_at_mark, other)
    kept = coach_at_mark.workspace.book().next_serves(practice.id)
    assert [(choice.view_id == other.view_id, choice.aim) for choice in kept if choice.aim] == [(False, "deep 1")]
