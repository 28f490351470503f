"""A change is in the logbook and on the undo stack, or in neither."""

from __future__ import annotations

import runpy
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from serve_marker.court.dimensions import COURTS
from serve_marker.desktop.session.view_editor import ViewEditor
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, Practice, new_id
from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_setup):
    return coach_at_setup


@pytest.fixture
def full_disk(monkeypatch):
    def refuse(*_):
        raise UserError("The disk is full; free some space.")

    def fill() -> None:
        monkeypatch.setattr(Logbook, "change_serves", refuse)
        monkeypatch.setattr(Logbook, "put", refuse)

    return fill


def stored(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        return book.serves(), book.views(), book.clips()


def test_a_refused_mark_is_said_and_changes_nothing(coach, full_disk, monkeypatch):
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    coach.click_film(*seen_at(1.0, 7.0))
    before, depth = stored(coach), coach.workspace.history.stack.count()
    full_disk()
    coach.click_film(*seen_at(2.0, 7.0))
    assert coach.said[-1] == "The disk is full; free some space."
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.said[-1] == "The disk is full; free some space."
    monkeypatch.undo()
    assert (stored(coach), coach.workspace.history.stack.count()) == (before, depth)
    assert coach.workspace.serves == before[0]
    coach.key(Qt.Key.Key_Z, CTRL)
    assert stored(coach)[0] == []


def test_the_fourth_landmark_makes_the_view_and_undo_takes_it_away(coach):
    for name, place_m in (("l", (-4.5, 9.0)), ("r", (4.5, 9.0)), ("n", (-4.5, -9.0)), ("m", (4.5, -9.0))):
        assert coach.workspace.view is None, name
        coach.click_film(*seen_at(*place_m), SHIFT)
    (view,) = stored(coach)[1]
    assert stored(coach)[2][0].view_id == view.id
    coach.key(Qt.Key.Key_Z, CTRL)
    assert stored(coach)[1] == []
    assert stored(coach)[2][0].view_id is None
    assert len(coach.workspace.view_state.marks) == 3
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    assert stored(coach)[1] == [view]


def test_landmarks_short_of_four_are_kept_in_the_logbook(coach, filmed):
    coach.click_film(*seen_at(-4.5, 9.0), SHIFT)
    coach.click_film(*seen_at(4.5, 9.0), SHIFT)
    marks = coach.workspace.view_state.marks
    entry = coach.workspace.clip_entry
    coach.window.books.open_logbook_at(coach.folder / "team.logbook")
    coach.wait(lambda: coach.workspace.clip is not None)
    assert coach.workspace.clip_entry == entry
    assert coach.workspace.view_state.marks == marks


def test_a_view_other_clips_use_is_copied_before_it_is_changed(coach):
    coach.make_view()
    book, entry = coach.workspace.book(), coach.workspace.clip_entry
    practice = Practice(id=new_id(), date="2026-10-01", name="Earlier")
    other = ClipEntry(
        id=new_id(), practice_id=practice.id, path="/gone.mp4", size_bytes=9, fingerprint="f", view_id=entry.view_id
    )
    book.put(practice, other)
    court_map = coach.window.page.setup_pane.court_map
    coach.click(court_map, court_map.place_of("end-b/left").toPoint())
    coach.key(Qt.Key.Key_Escape)
    coach.click_film(seen_at(-4.5, 9.0)[0] - 14, seen_at(-4.5, 9.0)[1], SHIFT)
    views_of = {clip.id: clip.view_id for clip in stored(coach)[2]}
    assert views_of[other.id] == entry.view_id
    assert views_of[entry.id] != entry.view_id
    coach.key(Qt.Key.Key_Z, CTRL)
    assert {clip.view_id for clip in stored(coach)[2]} == {entry.view_id}
    assert len(stored(coach)[1]) == 1


def test_undo_of_a_view_keeps_what_another_window_did_to_its_serves(coach):
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    coach.click_film(*seen_at(1.0, 7.0))
    net_height_m = coach.workspace.view.net_height_m
    ViewEditor(coach.workspace).choose_net_height(net_height_m + 0.1)
    (serve,) = stored(coach)[0]
    theirs = replace(serve, note="theirs")
    added = replace(serve, id=new_id(), landing=replace(serve.landing, pixel=(300.0, 200.0)))
    with Logbook.open(coach.folder / "team.logbook") as other:
        other.put(theirs, added)
    coach.key(Qt.Key.Key_Z, CTRL)

    serves = {serve.id: serve for serve in stored(coach)[0]}
    assert serves[serve.id].note == "theirs"
    assert serves[added.id].view_id == serve.view_id
    assert serves[added.id].landing_point != serve.landing_point
    assert coach.workspace.view.net_height_m == net_height_m


def test_undo_of_a_view_another_clip_uses_by_now_is_refused_whole(coach):
    for place_m in ((-4.5, 9.0), (4.5, 9.0), (-4.5, -9.0), (4.5, -9.0)):
        coach.click_film(*seen_at(*place_m), SHIFT)
    workspace = coach.workspace
    entry = workspace.clip_entry
    other = replace(entry, id=new_id(), path="/gone.mp4", fingerprint="f")
    workspace.book().put(other)
    before, state, depth = stored(coach), workspace.view_state, workspace.history.stack.index()
    coach.key(Qt.Key.Key_Z, CTRL)

    assert coach.said[-1].startswith("Another clip uses the view")
    assert (stored(coach), workspace.view_state, workspace.history.stack.index()) == (before, state, depth)
    workspace.book().remove(other)
    coach.key(Qt.Key.Key_Z, CTRL)
    assert stored(coach)[1] == []


def test_picking_the_same_court_again_keeps_the_net_and_promises_no_landing(coach):
    coach.make_view()
    workspace, making = coach.workspace, ViewEditor(coach.workspace)
    making.choose_net_height(2.35)
    depth = workspace.history.stack.count()
    making.choose_court(COURTS["indoor"])

    assert (workspace.view.net_height_m, workspace.history.stack.count()) == (2.35, depth)
    words = coach.window.page.setup_pane.quality.text()
    assert "A click is good to " in words
    assert "The time between two frames adds to that." in words
