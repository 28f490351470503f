"""Find serves: asked once, in the background, kept as they come; and where it cannot be or is left halfway."""

from __future__ import annotations

import runpy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt

from serve_marker.desktop.dialogs.serving_end import ServingEndDialog
from serve_marker.desktop.mark.proposal_words import NOTHING_FOUND
from serve_marker.desktop.session import serve_finder
from serve_marker.desktop.session.serve_finder import NO_PLACE, NO_VIEW, progress_file
from serve_marker.errors import UserError
from serve_marker.logbook.store import Logbook
from serve_marker.spotting.confidence import Doubt
from tests.desktop.found_serves import TOSS_UNSEEN, Search, found_serve

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
LANDINGS_M = ((2.0, 6.5), (-3.0, 7.5), (0.5, 4.0))
CONTACTS_S = (0.4, 1.7, 3.2)

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def three_serves(clip, view):
    (first, second, third), landings_m = CONTACTS_S, LANDINGS_M
    return [
        found_serve(clip, view, first, landings_m[0]),
        found_serve(clip, view, second, landings_m[1], doubts=(TOSS_UNSEEN,)),
        found_serve(clip, view, 2.45, (0.0, -5.0), served_to="a"),
        found_serve(clip, view, third, landings_m[2]),
    ]


@pytest.fixture
def search(monkeypatch):
    """What stands in for the search of the film."""
    made = Search(three_serves)
    monkeypatch.setattr(serve_finder, "spot", made)
    return made


@pytest.fixture
def coach(coach_of_three):
    coach_of_three.wait(lambda: not coach_of_three.window.busy)
    return coach_of_three


def page_of(coach):
    return coach.window.page


def find(coach, end=Qt.Key.Key_Return):
    """Ctrl+F, and the end offered or the one after it."""
    coach.key(Qt.Key.Key_F, CTRL)
    coach.dialog(ServingEndDialog)
    if end != Qt.Key.Key_Return:
        coach.key(end)
    coach.key(Qt.Key.Key_Return)
    coach.face_window()


def kept(coach):
    """The proposals as the file holds them."""
    with Logbook.open(coach.folder / "team.logbook") as book:
        return book.proposals(coach.workspace.clip_entry.id)


def bar(coach):
    """What the bar over the picture says, "" while it is away."""
    shown = page_of(coach).review_bar
    return "" if shown.isHidden() else shown.words.text()


def test_serves_appear_as_they_are_found_and_are_in_the_file_at_once(coach, search):
    find(coach)
    assert bar(coach).startswith("Finding serves")
    for count in (1, 2):
        search.let_go()
        coach.wait(lambda count=count: len(page_of(coach).review.waiting()) == count)
        assert len(kept(coach)) == count
    assert coach.stored_serves() == []
    search.let_go(3)
    coach.wait(lambda: not page_of(coach).finder.busy)
    assert [round(one.serve.contact.time_s, 1) for one in kept(coach)] == list(CONTACTS_S)


def test_the_end_is_asked_once_and_what_flies_the_other_way_is_left_out(coach, search):
    search.let_go(5)
    find(coach)
    coach.wait(lambda: not page_of(coach).finder.busy)
    assert {one.serve.served_to for one in kept(coach)} == {"b"}
    coach.key(Qt.Key.Key_Escape)
    coach.key(Qt.Key.Key_F, CTRL)
    assert page_of(coach).review.shown is not None
    assert search.runs == 1


def test_both_ends_let_both_ways_in(coach, search):
    search.let_go(5)
    coach.key(Qt.Key.Key_F, CTRL)
    coach.dialog(ServingEndDialog)
    coach.press("Both ends")
    coach.wait(lambda: not page_of(coach).finder.busy)
    assert [one.serve.served_to for one in kept(coach)] == ["b", "b", "a", "b"]


def test_stepping_and_marking_go_on_meanwhile(coach, search):
    find(coach)
    coach.step_to(20)
    coach.click_film(*seen_at(-2.0, 5.0))
    assert len(coach.workspace.serves) == 1
    search.let_go()
    coach.wait(lambda: "1 to look at" in bar(coach))
    assert coach.workspace.frame == 20, "nothing moves under the hand"
    assert page_of(coach).review.shown is None
    coach.click(page_of(coach).review_bar.buttons["find_serves"])
    assert page_of(coach).review.shown is not None


def test_cancel_in_the_middle_keeps_what_was_found_and_goes_on_later(coach, search):
    find(coach)
    search.let_go()
    coach.wait(lambda: page_of(coach).review.shown is not None)
    coach.key(Qt.Key.Key_F, CTRL | SHIFT)
    assert not page_of(coach).finder.busy
    assert len(kept(coach)) == 1
    coach.key(Qt.Key.Key_K)
    assert len(coach.stored_serves()) == 1
    coach.key(Qt.Key.Key_F, CTRL)
    search.let_go(5)
    coach.wait(lambda: not page_of(coach).finder.busy)
    assert len(kept(coach)) == 3, "what was answered is not found again"
    assert search.runs == 2


def test_a_window_closed_in_the_middle_loses_nothing(coach, search, tmp_path):
    find(coach)
    search.let_go(2)
    coach.wait(lambda: page_of(coach).review.shown is not None and len(kept(coach)) == 2)
    coach.key(Qt.Key.Key_K)
    coach.window.close()

    again = coach_at_work["Coach"](tmp_path)
    again.window.books.open_logbook_at(tmp_path / "team.logbook")
    again.wait(lambda: again.workspace.clip is not None and not again.window.busy)
    assert len(again.workspace.serves) == 1
    assert "1 found serve waits. Ctrl+F shows it." in again.said
    search.let_go(5)
    again.key(Qt.Key.Key_F, CTRL)
    assert page_of(again).review.shown is not None
    again.wait(lambda: not page_of(again).finder.busy)
    assert len(kept(again)) == 3
    assert search.gone_on_from == ["", "1 found"]
    assert not progress_file(again.workspace.clip_entry.id).exists()
    again.leave()


def test_a_search_that_can_keep_nothing_begins_anew(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    assert progress_file("clip") is None


def test_a_clip_without_serves_says_so_and_may_be_asked_again(coach, monkeypatch):
    empty = Search(lambda _clip, _view: [])
    monkeypatch.setattr(serve_finder, "spot", empty)
    empty.let_go()
    find(coach)
    coach.wait(lambda: coach.said[-1] == NOTHING_FOUND)
    assert bar(coach) == ""
    empty.let_go()
    find(coach, Qt.Key.Key_Right)
    coach.wait(lambda: empty.runs == 2 and not page_of(coach).finder.busy)


def test_of_two_at_one_time_the_surer_one_waits_and_what_is_too_unsure_does_not(coach, monkeypatch):
    hardly, half = Doubt("it is a throw", 5.0), Doubt("the flight does not fit well", 2.0)

    def doubtful(clip, view):
        return [
            found_serve(clip, view, 0.4, LANDINGS_M[0], doubts=(half,)),
            found_serve(clip, view, 0.5, LANDINGS_M[1]),
            found_serve(clip, view, 0.55, LANDINGS_M[2], doubts=(half,)),
            found_serve(clip, view, 3.0, LANDINGS_M[2], doubts=(hardly,)),
        ]

    search = Search(doubtful)
    monkeypatch.setattr(serve_finder, "spot", search)
    find(coach)
    search.let_go()
    coach.wait(lambda: page_of(coach).review.shown is not None)
    search.let_go(4)
    coach.wait(lambda: not page_of(coach).finder.busy)
    (only,) = kept(coach)
    assert (only.confidence, only.serve.contact.time_s) == (0.98, pytest.approx(0.5))
    coach.wait(lambda: page_of(coach).review.shown == only)


def test_without_a_view_nothing_is_offered(coach_at_setup):
    coach = coach_at_setup
    assert not coach.window.actions_by_id["find_serves"].isEnabled()
    with pytest.raises(UserError, match=NO_VIEW):
        page_of(coach).finder.begin("a")


def test_a_view_that_does_not_know_its_place_offers_nothing(coach):
    coach.workspace.view = replace(coach.workspace.view, camera_position_m=None)
    coach.workspace.view_changed.emit()
    assert not coach.window.actions_by_id["find_serves"].isEnabled()
    with pytest.raises(UserError, match=NO_PLACE):
        page_of(coach).finder.begin("a")


def test_what_is_seen_after_the_camera_moved_waits_for_a_view(coach, monkeypatch):
    def moved(clip, view):
        aside = replace(view, homography=view.homography + np.array([[0, 0, 5.0], [0, 0, 0], [0, 0, 0]]))
        serves = three_serves(clip, view)
        return [serves[0], replace(serves[1], view=aside), replace(serves[3], view=aside)]

    search = Search(moved)
    monkeypatch.setattr(serve_finder, "spot", search)
    search.let_go(4)
    find(coach)
    coach.wait(lambda: not page_of(coach).finder.busy)
    assert len(kept(coach)) == 1
    words = "The camera moved at 0:01.7. Set up the view from there, then find serves again."
    coach.wait(lambda: words in coach.said)


def test_a_view_that_does_not_hold_is_said(coach, monkeypatch):
    def refuse(*_, **__):
        raise UserError("The camera moves all through tuesday.mp4, so no view holds; film with a tripod.")

    monkeypatch.setattr(serve_finder, "spot", refuse)
    find(coach)
    coach.wait(lambda: coach.said[-1].startswith("The camera moves all through"))
    assert bar(coach) == ""


def test_another_clip_ends_the_search(coach, search, filmed):
    find(coach)
    second = coach.folder / "thursday.mp4"
    second.write_bytes(filmed.read_bytes() + b"\0" * 64)
    coach.window.books.take(second)
    coach.agree_to_practice()
    coach.wait(lambda: coach.workspace.clip is not None and coach.workspace.clip.path == second)
    assert not page_of(coach).finder.busy
    assert bar(coach) == ""


def test_the_bar_stands_inside_the_picture_at_every_width(coach, search):
    search.let_go()
    find(coach)
    coach.wait(lambda: page_of(coach).review.shown is not None)
    for size in ((1024, 640), (1280, 720), (2560, 1440)):
        coach.window.resize(*size)
        coach.wait(lambda size=size: coach.window.width() == size[0])
        shown, stage = page_of(coach).review_bar, page_of(coach).stage
        buttons = [button for button in shown.buttons.values() if button.isVisible()]
        coach.wait(lambda buttons=buttons: all(one.width() >= one.sizeHint().width() for one in buttons))
        assert len(buttons) == 4
        assert stage.rect().contains(shown.geometry())
        assert all(shown.rect().contains(one.mapTo(shown, QPoint(0, 0))) for one in buttons)
