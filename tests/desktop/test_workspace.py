"""Undo gives back what was changed and nothing else: no other practice's order, no other window's work."""

from __future__ import annotations

from dataclasses import replace

import pytest

from serve_marker.court.areas import AreaScheme, default_scheme
from serve_marker.court.dimensions import COURTS
from serve_marker.desktop.session.edits import ChangeServes, Touched
from serve_marker.desktop.session.practice_editor import PracticeEditor
from serve_marker.desktop.session.roster_editor import RosterEditor
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, Mark, Player, Practice, Serve
from serve_marker.logbook.store import Logbook

PLAYERS = [Player(id=name, name=name.title()) for name in ("ines", "marit", "noor", "priya")]
TUESDAY = Practice(id="tuesday", date="2026-11-03", name="Tuesday", order_a=("ines", "marit", "noor"))
MONDAY = Practice(id="monday", date="2026-11-02", name="Monday", order_a=("priya", "noor"))
CLIP = ClipEntry(id="c", practice_id="tuesday", path="clip.mp4", size_bytes=1, fingerprint="0")
MONDAYS = replace(CLIP, id="m", practice_id="monday")
SERVE = Serve(id="s", clip_id="c", player_id="ines", served_to="b", outcome="net", landing=Mark(1.0))


@pytest.fixture
def workspace(qapp, tmp_path):
    with Logbook.create(tmp_path / "team.logbook") as logbook:
        logbook.put(*PLAYERS, MONDAY, TUESDAY, CLIP, MONDAYS)
    made = Workspace()
    made.open_logbook(tmp_path / "team.logbook")
    made.show_clip(CLIP, None)
    yield made
    made.close()


def mark(workspace, serve=SERVE):
    after = workspace.turns.after("a", serve.player_id)
    workspace.do(ChangeServes("Net", [(None, serve)], (workspace.turns, after)))


def test_undo_changes_nothing_before_its_clip_is_shown(workspace):
    asked = []
    workspace.history.clip_asked.connect(lambda clip_id, then: asked.append((clip_id, then)))
    mark(workspace)
    workspace.show_clip(MONDAYS, None)
    workspace.history.undo()

    assert workspace.turns.order_a == MONDAY.order_a
    assert workspace.turns.now("a") == "priya"
    assert workspace.book().serves() == [SERVE]
    ((clip_id, then),) = asked
    workspace.show_clip(CLIP, None)
    then()
    assert (clip_id, workspace.turns.order_a) == (CLIP.id, TUESDAY.order_a)
    assert workspace.book().serves() == []


def test_undo_goes_back_one_turn_in_the_order_of_now(workspace):
    mark(workspace)
    mark(workspace, replace(SERVE, id="t", player_id="marit"))
    assert workspace.turns.now("a") == "noor"
    with Logbook.open(workspace.logbook.path) as other:
        other.put(replace(TUESDAY, order_a=("priya", "noor", "marit")))
    workspace.show(Touched(records=True))
    assert workspace.turns.now("a") == "noor"
    workspace.history.undo()

    assert workspace.turns.order_a == ("priya", "noor", "marit")
    assert workspace.turns.now("a") == "marit"


def test_serving_orders_can_be_undone(workspace):
    PracticeEditor(workspace).set_order("a", ["noor", "ines"])
    assert (workspace.turns.now("a"), workspace.practice.order_a) == ("noor", ("noor", "ines"))
    workspace.history.undo()

    assert workspace.logbook.practices()[1] == workspace.practice == TUESDAY
    assert workspace.turns.order_a == TUESDAY.order_a


def test_a_player_taken_out_leaves_turns_and_orders_and_comes_back_whole(workspace):
    told = []
    workspace.serves_changed.connect(lambda: told.append(workspace.players["noor"].number))
    workspace.set_turns(workspace.turns.name("b", "ines"))
    noor = replace(PLAYERS[2], number=9)
    RosterEditor(workspace).put_players([*PLAYERS[1:2], noor, PLAYERS[3]], [PLAYERS[0]])

    assert told == [9]
    assert workspace.practice.order_a == workspace.turns.order_a == ("marit", "noor")
    assert workspace.turns.now("a") == "marit"
    workspace.history.undo()
    assert sorted(workspace.logbook.players(), key=lambda player: player.id) == PLAYERS
    assert workspace.logbook.practices() == [MONDAY, TUESDAY]
    assert workspace.turns.order_a == TUESDAY.order_a


def test_a_refused_change_of_the_roster_writes_none_of_it(workspace):
    mark(workspace)
    with pytest.raises(UserError, match="Ines cannot be removed"):
        RosterEditor(workspace).put_players([replace(PLAYERS[1], number=4)], [PLAYERS[0]])

    assert PLAYERS[1] in workspace.logbook.players()
    assert workspace.history.stack.count() == 1
    assert workspace.logbook.practices() == [MONDAY, TUESDAY]


def test_a_player_undo_of_a_removed_serve_needs_is_back_by_then(workspace):
    mark(workspace)
    workspace.do(ChangeServes("Removed", [(SERVE, None)]))
    RosterEditor(workspace).put_players([], [PLAYERS[0]])
    workspace.history.undo()
    workspace.history.undo()

    assert workspace.serves == [SERVE]
    assert PLAYERS[0] in workspace.logbook.players()


def test_undo_of_details_another_window_changed_is_refused(workspace):
    PracticeEditor(workspace).put_practice(replace(TUESDAY, name="Serving night"))
    theirs = replace(TUESDAY, name="Theirs")
    with Logbook.open(workspace.logbook.path) as other:
        other.put(theirs)
    with pytest.raises(UserError, match="Another window changed"):
        workspace.history.undo()

    assert workspace.logbook.practices()[1] == theirs
    assert workspace.history.stack.canUndo()


def test_area_borders_belong_to_their_court_and_can_be_undone(workspace):
    own = AreaScheme((2.0, 7.0), (2.5, 6.0), (3.0, 6.0))
    PracticeEditor(workspace).set_scheme(own)
    assert workspace.scheme == own
    workspace.history.undo()
    assert workspace.scheme == default_scheme(COURTS["indoor"])
    assert workspace.logbook.get_setting("scheme") == ""
