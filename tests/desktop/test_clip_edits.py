"""Clips are moved and removed whole, come back whole, and are left alone where another window was there meanwhile."""

from __future__ import annotations

from dataclasses import replace

import pytest

from serve_marker.desktop.session.clip_edits import MoveClips, RemoveClips, whole_clip
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, Gym, Mark, Practice, Serve, StoredView
from serve_marker.logbook.store import Logbook

TUESDAY = Practice(id="tuesday", date="2026-11-03", name="Tuesday")
CUP = Practice(id="cup", date="2026-11-08", name="Cup")
STAND = StoredView(id="stand", gym_id="hall", name="Stand", made_on="2026-11-03", document="{}")
CLIP = ClipEntry(
    id="c",
    practice_id="tuesday",
    path="c.mp4",
    size_bytes=1,
    fingerprint="0",
    later_views=((2.0, "stand"), (4.0, None)),
)
SERVE = Serve(id="s", clip_id="c", outcome="net", landing=Mark(1.0), ball_marks=(Mark(0.9, (3.0, 4.0)),))


@pytest.fixture
def logbook(tmp_path):
    with Logbook.create(tmp_path / "team.logbook") as made:
        made.put(Gym(id="hall", name="Hall"), STAND, TUESDAY, CLIP, SERVE)
        made.put_view_draft("c", 0.0, "first")
        made.put_view_draft("c", 4.0, "third")
        made.put_checked_view("c", "stand")
        yield made


def test_a_removed_clip_comes_back_with_all_that_was_known_of_it(logbook):
    before = whole_clip(logbook, CLIP)
    edit = RemoveClips("removed", [before])
    edit.write(logbook, forward=True)
    assert (logbook.clips(), logbook.serves(), logbook.view_draft("c", 4.0)) == ([], [], "")
    edit.write(logbook, forward=False)

    assert whole_clip(logbook, logbook.clips()[0]) == before
    assert before.drafts == ((0.0, "first"), (4.0, "third"))
    assert before.checked_view_id == "stand"


def test_a_clip_that_another_window_marked_meanwhile_is_not_removed(logbook):
    edit = RemoveClips("removed", [whole_clip(logbook, CLIP)])
    logbook.put(replace(SERVE, id="t"))
    with pytest.raises(UserError, match="Another window"):
        edit.write(logbook, forward=True)

    assert len(logbook.serves()) == 2


def test_a_new_practice_comes_and_goes_with_the_move(logbook):
    edit = MoveClips("move", [CLIP], CUP)
    edit.write(logbook, forward=True)
    assert [clip.practice_id for clip in logbook.clips()] == ["cup"]
    edit.write(logbook, forward=False)

    assert (logbook.clips(), logbook.practices()) == ([CLIP], [TUESDAY])


def test_a_practice_that_holds_other_clips_by_now_stays(logbook):
    edit = MoveClips("move", [CLIP], CUP)
    edit.write(logbook, forward=True)
    logbook.put(replace(CLIP, id="d", practice_id="cup", later_views=()))
    edit.write(logbook, forward=False)

    assert logbook.practices() == [TUESDAY, CUP]


def test_a_clip_moved_by_another_window_meanwhile_stays_there(logbook):
    edit = MoveClips("move", [CLIP], CUP)
    logbook.put(CUP, replace(CLIP, practice_id="cup"))
    with pytest.raises(UserError, match="Another window"):
        edit.write(logbook, forward=True)
