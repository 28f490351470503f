"""Clips go to another practice or out of the logbook, and undo acts on no clip that is not in sight."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from serve_marker.desktop.dialogs.clip_choice import ClipChoice
from serve_marker.desktop.dialogs.confirmation import Confirmation
from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark, filmed):
    """A coach with two serves in one clip, and another clip of the same practice."""
    for frame, x_m in ((10, 1.0), (40, -1.0)):
        coach_at_mark.step_to(frame)
        coach_at_mark.click_film(*seen_at(x_m, 7.0))
    second = coach_at_mark.folder / "wednesday.mp4"
    second.write_bytes(filmed.read_bytes() + b"\0")
    coach_at_mark.window.books.take(second)
    coach_at_mark.agree_to_practice()
    wait_for(coach_at_mark, "wednesday.mp4")
    return coach_at_mark


def wait_for(coach, name):
    coach.wait(lambda: shown(coach) == name and not coach.window.busy)


def shown(coach):
    return Path(coach.workspace.clip_entry.path).name if coach.workspace.clip_entry else None


def stored(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        return {Path(clip.path).name: clip for clip in book.clips()}, book.serves(), book.practices()


def choose(coach, name):
    """Open the list of clips and click one."""
    coach.key(Qt.Key.Key_G, CTRL)
    tree = coach.dialog(ClipChoice).tree
    (item,) = tree.findItems(name, Qt.MatchFlag.MatchExactly | Qt.MatchFlag.MatchRecursive)
    coach.click(tree.viewport(), tree.visualItemRect(item).center())
    return [item.text(column) for column in range(tree.columnCount())]


def test_the_list_of_clips_says_how_many_serves_each_holds_and_its_view(coach):
    assert choose(coach, "tuesday.mp4")[2:] == ["2", coach.workspace.stored_views().popitem()[1].name]
    coach.key(Qt.Key.Key_Escape)
    coach.face_window()
    assert choose(coach, "wednesday.mp4")[2:] == ["0", "none"]
    coach.key(Qt.Key.Key_Escape)
    coach.face_window()


def test_a_clip_moves_to_another_practice_and_back(coach):
    choose(coach, "wednesday.mp4")
    coach.press("Move…")
    question = coach.dialog(coach_at_work["PracticeOfClips"])
    coach.click(question.practice)
    coach.key(Qt.Key.Key_Home)
    coach.key(Qt.Key.Key_Return)
    coach.click(question.name)
    coach.key(Qt.Key.Key_A, CTRL)
    coach.type("Tidewater cup", enter=False)
    coach.press("Move")
    clips, _, practices = stored(coach)
    assert {practice.id: practice.name for practice in practices}[clips["wednesday.mp4"].practice_id] == "Tidewater cup"
    assert clips["tuesday.mp4"].practice_id != clips["wednesday.mp4"].practice_id
    assert coach.window.header.title.text().split("  /  ")[1] == "Tidewater cup"
    coach.key(Qt.Key.Key_Z, CTRL)
    clips, _, practices = stored(coach)
    assert clips["tuesday.mp4"].practice_id == clips["wednesday.mp4"].practice_id
    assert [practice.name for practice in practices] == ["Practice"]


def test_a_clip_with_serves_is_removed_after_one_question_and_undo_brings_all_back(coach, filmed):
    before = stored(coach)
    choose(coach, "tuesday.mp4")
    coach.press("Remove…")
    question = coach.dialog(Confirmation)
    assert question.words.text() == "Remove tuesday.mp4 and its 2 serves from the logbook? The film file stays."
    coach.press("Remove")
    clips, serves, _ = stored(coach)
    assert list(clips) == ["wednesday.mp4"]
    assert serves == []
    assert filmed.is_file()
    coach.key(Qt.Key.Key_Z, CTRL)
    wait_for(coach, "tuesday.mp4")
    assert stored(coach) == before
    assert len(coach.workspace.serves) == 2


def test_the_open_clip_is_removed_and_the_next_one_shown(coach):
    choose(coach, "wednesday.mp4")
    coach.press("Remove…")
    wait_for(coach, "tuesday.mp4")
    assert list(stored(coach)[0]) == ["tuesday.mp4"]


def test_a_removal_done_again_shows_the_next_clip_again(coach):
    choose(coach, "wednesday.mp4")
    coach.press("Remove…")
    wait_for(coach, "tuesday.mp4")
    coach.key(Qt.Key.Key_Z, CTRL)
    wait_for(coach, "wednesday.mp4")
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    wait_for(coach, "tuesday.mp4")
    assert list(stored(coach)[0]) == ["tuesday.mp4"]


def test_undo_in_study_goes_to_the_film_it_changes(coach):
    choose(coach, "tuesday.mp4")
    coach.press("Open")
    wait_for(coach, "tuesday.mp4")
    coach.click(coach.window.header.button("study"))
    assert coach.window.step == "study"
    coach.key(Qt.Key.Key_Z, CTRL)
    assert (coach.window.step, len(coach.workspace.serves)) == ("mark", 1)
    assert coach.said[-1].startswith("Undone: ")


def test_a_question_answered_with_cancel_removes_nothing(coach):
    before = stored(coach)
    choose(coach, "tuesday.mp4")
    coach.press("Remove…")
    coach.dialog(Confirmation)
    coach.press("Cancel")
    assert stored(coach) == before


def test_undo_goes_to_the_clip_first_then_undoes_and_says_so(coach):
    coach.key(Qt.Key.Key_Z, CTRL)
    wait_for(coach, "tuesday.mp4")
    assert len(stored(coach)[1]) == len(coach.workspace.serves) == 1
    assert coach.said[-1].startswith("Back to tuesday.mp4. Undone: ")
    choose(coach, "wednesday.mp4")
    coach.press("Open")
    wait_for(coach, "wednesday.mp4")
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    wait_for(coach, "tuesday.mp4")
    assert len(stored(coach)[1]) == 2
    assert coach.said[-1].startswith("Back to tuesday.mp4. Redone: ")
