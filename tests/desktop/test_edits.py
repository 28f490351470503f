"""Edits are plain objects: written forward and back, refused whole, and tested here without any window."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from serve_marker.camera.fitting.repeatability import OWN_CLICK, own_click_text
from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.viewfile import view_to_text
from serve_marker.court.dimensions import COURTS, landmarks
from serve_marker.desktop.session.edits import ChangeCaptureRate, ChangeRecords, ChangeServes, Touched
from serve_marker.desktop.session.serving_order import ServingOrder
from serve_marker.desktop.session.view_edits import ChangeOwnClick, ChangeView, ViewState, court_text, view_state_at
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, Gym, Mark, Player, Practice, Serve, StoredFormation, StoredView
from serve_marker.logbook.store import Logbook

INDOOR = COURTS["indoor"]
SIZE = (640, 360)
INES = Player(id="ines", name="Ines")
TUESDAY = Practice(id="tuesday", date="2026-11-03", name="Tuesday", order_a=("ines",))
CLIP = ClipEntry(id="clip", practice_id="tuesday", path="clip.mp4", size_bytes=1, fingerprint="0", view_id="stand")
NET = Serve(id="net", clip_id="clip", player_id="ines", served_to="b", outcome="net", landing=Mark(1.0))
SHOWN_FPS = 30.0


def time_scale(filmed_at_fps):
    return SHOWN_FPS / filmed_at_fps if filmed_at_fps else 1.0


def seen_from_above(shift_px=0.0):
    """Return where the landmarks of the floor are in a picture of 20 px per metre, straight from above [px]."""
    return {
        name: (320.0 + shift_px + 20 * place_m[1], 180.0 + 20 * place_m[0])
        for name, place_m in landmarks(INDOOR).items()
    }


def stored_view(view_id, marks):
    document = view_to_text(fit_view(marks, INDOOR, SIZE, 2.43).view)
    return StoredView(id=view_id, gym_id="hall", name=view_id.title(), made_on="2026-11-03", document=document)


STAND = stored_view("stand", seen_from_above())
ELSEWHERE = stored_view("elsewhere", seen_from_above(shift_px=20.0))
LANDED_AT = Mark(2.0, (460.0, 180.0), 0.04, 0.04)
LANDED = Serve(id="landed", clip_id="clip", view_id="stand", served_to="b", landing=LANDED_AT)


@pytest.fixture
def logbook(tmp_path):
    with Logbook.create(tmp_path / "team.logbook") as made:
        made.put(INES, Gym(id="hall", name="Hall"), STAND, TUESDAY, CLIP, LANDED)
        yield made


def state_of(stored, clip=CLIP):
    marks = tuple(seen_from_above(20.0 if stored == ELSEWHERE else 0.0).items())
    return ViewState(marks, INDOOR, 2.43, replace(clip, view_id=stored.id), stored, Gym(id="hall", name="Hall"))


def place_m(logbook, serve_id="landed"):
    point = logbook.serves(serve_id=serve_id)[0].landing_point
    return point and (point.x_m, point.y_m)


def contents(logbook):
    return logbook.serves(), logbook.views(), logbook.clips(), logbook.practices(), logbook.get_setting(OWN_CLICK)


def test_an_older_logbook_opens_with_marks_that_count_as_clicks(logbook):
    """Neither its views nor what was marked short of a view say where landmarks were clicked."""
    document = json.loads(STAND.document)
    assert (document["version"], "clicked" in document) == (2, False)
    marks = seen_from_above()
    draft = {"court": INDOOR.to_dict(), "net_height_m": 2.43, "marks": dict(list(marks.items())[:2]), "traces": {}}
    logbook.put(replace(CLIP, later_views=((5.0, None),)))
    logbook.put_view_draft("clip", 5.0, json.dumps(draft))
    (entry,) = logbook.clips()
    view, state = view_state_at(logbook, entry, 0.0)
    assert (dict(state.marks), state.clicked, view.clicked) == (marks, (), {})
    none, short = view_state_at(logbook, entry, 6.0)
    assert (none, len(short.marks), short.clicked) == (None, 2, ())


def test_edits_need_neither_qt_nor_the_workspace():
    code = (
        "import sys, serve_marker.desktop.session.edits, serve_marker.desktop.session.view_edits;"
        "print(*(name for name in sys.modules if 'PySide6' in name or name.endswith('session.workspace')))"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.split() == []


def test_serves_go_back_with_the_turn_of_that_side(logbook):
    turns = (ServingOrder(("ines",)), ServingOrder(("ines",)).after("a", "ines"))
    edit = ChangeServes("Net", [(None, NET), (LANDED, replace(LANDED, note="long"))], turns)
    edit.write(logbook, forward=True)
    assert {serve.note for serve in logbook.serves()} == {"", "long"}
    assert edit.touches(forward=True) == Touched(("net", "landed"), turns[1], clip_ids=("clip",))

    edit.write(logbook, forward=False)
    assert logbook.serves() == [LANDED]
    assert edit.touches(forward=False) == Touched(("net", "landed"), turns[0], clip_ids=("clip",))


def test_records_another_window_changed_are_refused_whole(logbook):
    edit = ChangeRecords("Names", [(TUESDAY, replace(TUESDAY, name="Mine"))], {"scheme": ("", "mine")})
    with Logbook.open(logbook.path) as other:
        other.put(replace(TUESDAY, name="Theirs"))
    with pytest.raises(UserError, match="Another window changed"):
        edit.write(logbook, forward=True)

    assert (logbook.practices()[0].name, logbook.get_setting("scheme")) == ("Theirs", "")
    assert edit.touches(forward=True) == Touched(records=True)


def test_a_player_taken_out_comes_back_over_nobody(logbook):
    """Undo of a removal, where another window brought her back meanwhile under another name: hers stays."""
    edit = ChangeRecords("Ines removed", [(INES, None)])
    edit.write(logbook, forward=True)
    with Logbook.open(logbook.path) as other:
        other.put(replace(INES, name="Ines B."))
    with pytest.raises(UserError, match="Another window changed"):
        edit.write(logbook, forward=False)

    assert [player.name for player in logbook.players()] == ["Ines B."]


def test_another_view_places_the_serves_of_its_clip_anew(logbook):
    edit = ChangeView("Elsewhere", state_of(STAND), state_of(ELSEWHERE), time_scale, made=(ELSEWHERE,))
    edit.write(logbook, forward=True)
    assert place_m(logbook) == pytest.approx((0.0, 6.0), abs=0.05), "20 px further is 1 m less: (460 - 340) / 20"
    assert logbook.clips()[0].view_id == "elsewhere"

    edit.write(logbook, forward=False)
    assert place_m(logbook) == pytest.approx((0.0, 7.0), abs=0.05), "(460 - 320) / 20"
    assert logbook.views() == [STAND]
    assert edit.touches(forward=False) == Touched(views=True, clip_ids=("clip",))


def test_a_new_stretch_and_the_draft_of_its_view_go_back(logbook):
    begun = state_of(STAND)
    clip = replace(begun.clip, later_views=((1.5, None),))
    bare = replace(begun, marks=(), clip=clip, stored=None, gym=None, from_s=1.5)
    marked = replace(bare, marks=(("end-b/left", (1.25, 2.5)),))
    split = ChangeView("New view from here on", begun, bare, time_scale)
    mark = ChangeView("Landmark", bare, marked, time_scale)
    split.write(logbook, forward=True)
    assert (place_m(logbook), logbook.serves()[0].view_id) == (None, None)
    mark.write(logbook, forward=True)
    (entry,) = logbook.clips()
    assert view_state_at(logbook, entry, 2.0) == (None, marked)
    mark.write(logbook, forward=False)
    assert view_state_at(logbook, entry, 2.0) == (None, bare)

    split.write(logbook, forward=False)
    assert logbook.clips() == [CLIP]
    assert place_m(logbook) == pytest.approx((0.0, 7.0), abs=0.05)


def test_the_formation_of_a_practice_comes_and_goes_with_its_record(logbook):
    three = StoredFormation(id="three", name="three up", document="{}")
    edit = ChangeRecords("Passers", [(TUESDAY, replace(TUESDAY, formation_id="three")), (None, three)])
    edit.write(logbook, forward=True)
    assert (logbook.practices()[0].formation_id, logbook.formations()) == ("three", [three])
    edit.write(logbook, forward=False)
    assert (logbook.practices(), logbook.formations()) == ([TUESDAY], [])


def test_only_nudges_of_one_mark_are_one_step(logbook):
    _, bare = view_state_at(logbook, replace(CLIP, view_id=None), 0.0)
    first, second = (replace(bare, marks=(("corner", (float(x_px), 1.0)),)) for x_px in (1, 2))
    one = ChangeView("Nudged", bare, first, time_scale, nudged="corner")
    two = ChangeView("Nudged", first, second, time_scale, nudged="corner")

    assert one.followed_by(two) == replace(one, after=second)
    assert one.followed_by(replace(two, nudged="other")) is None
    assert replace(one, nudged="").followed_by(replace(two, nudged="")) is None
    assert one.followed_by(replace(two, made=(STAND,))) is None
    assert one.followed_by(ChangeServes("Net", [])) is None


def test_a_rate_places_the_serves_in_true_time(logbook):
    """An unseen landing can lie half a gap away: at 240 frames a second that is an eighth of the time at 30."""
    edit = ChangeCaptureRate("Slow motion", CLIP, replace(CLIP, filmed_at_fps=240.0), time_scale)
    edit.write(logbook, forward=True)
    slow_m2 = logbook.serves()[0].landing_point.cov_yy_m2
    edit.write(logbook, forward=False)
    assert slow_m2 < logbook.serves()[0].landing_point.cov_yy_m2
    assert logbook.clips() == [CLIP]


def test_the_own_click_goes_into_all_views_and_back_exactly(logbook):
    logbook.put(replace(LANDED, note="placed by nobody yet"))
    before = contents(logbook)
    edit = ChangeOwnClick(logbook, "Own click", own_click_text(9.0, SIZE), {"clip": time_scale})
    edit.write(logbook, forward=True)
    after = contents(logbook)
    wide = np.sqrt(after[0][0].landing_point.cov_xx_m2)
    assert wide == pytest.approx(9.0 / 20, rel=0.3), "clicks 9 px apart, 20 px to the metre"

    edit.write(logbook, forward=False)
    assert contents(logbook) == before
    edit.write(logbook, forward=True)
    assert contents(logbook) == after


@pytest.mark.parametrize(
    ("gym_id", "gyms", "court"),
    [
        ("sand", ("hall", "sand"), "beach"),
        ("hall", ("hall", "sand"), "indoor"),
        (None, ("hall", "sand"), "indoor"),
        (None, ("sand",), "beach"),
        (None, (), "indoor"),
    ],
)
def test_a_clip_begins_on_the_court_told_of_its_gym_and_of_no_other(tmp_path, gym_id, gyms, court):
    """Of a practice without a gym only where there is a single one."""
    clip = ClipEntry(id="c", practice_id="p", path="a.mp4", size_bytes=1, fingerprint="a")
    told = {"sand": court_text(COURTS["beach"]), "hall": ""}
    with Logbook.create(tmp_path / "team.logbook") as book:
        book.put(*(Gym(id=name, name=name, court=told[name]) for name in gyms))
        book.put(Practice(id="p", date="2026-03-02", name="Monday", gym_id=gym_id), clip)
        assert view_state_at(book, clip, 0.0)[1].court == COURTS[court]
