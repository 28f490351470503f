"""What the plan suggests, and which of its blocks is served now."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import court_named
from serve_marker.errors import UserError
from serve_marker.logbook.records import PlanBlock, Player
from serve_marker.study.climb import climbs
from serve_marker.study.climb_words import next_words
from serve_marker.study.plan import MOST_SERVES, SERVES_AGAIN, PlanState, plan_state, suggested_blocks
from serve_marker.study.plan_texts import BLOCK_COLUMNS, block_from_texts, block_texts
from tests.study.test_climb import BAD, DEEP, GOOD, table

COURT = court_named("indoor")
SEAM = replace(DEEP, name="seam 5-6", aims=("seam 5-6",), not_enough=0.2, mastery=0.38)
BLOCKS = (
    PlanBlock(player_ids=("marit", "noor"), aim="deep 1", serves=2),
    PlanBlock(player_ids=("marit",), aim="seam 5-6", serves=1),
    PlanBlock(player_ids=("marit", "noor"), aim="deep 1", serves=1),
)


def team():
    """Marit has passed deep 1, Noor has not; Wren has just begun."""
    parts = [table(*[GOOD] * 4), table(*[BAD] * 4, player="noor"), table("10", player="wren")]
    serves = pd.concat(parts, ignore_index=True)
    serves.attrs["rho"] = {"rate": 0.0}
    return climbs(serves, [DEEP, SEAM])


def test_each_serves_at_her_next_step_and_the_block_says_why():
    deep, seam = sorted(suggested_blocks(team(), "2026-10-04"), key=lambda block: block.aim)
    assert (deep.aim, deep.player_ids, deep.serves) == ("deep 1", ("noor", "wren"), MOST_SERVES)
    assert "7 Noor not yet, 20 of 80" in deep.reason
    assert "7 Wren too early" in deep.reason
    assert (seam.aim, seam.player_ids, seam.reason) == ("seam 5-6", ("marit",), "seam 5-6: 7 Marit begins")


def test_who_loses_many_serves_gets_them_in_first_and_is_asked_for_no_pace():
    """12 of 20 in the net: the 95 % Wilson interval begins at 39 % (E. B. Wilson, JASA 22:209), above 15 %."""
    parts = [table(GOOD, effort=0.9), table("11110000" + "n" * 12, player="noor", effort=0.9)]
    serves = pd.concat(parts, ignore_index=True)
    serves.attrs["rho"] = {"rate": 0.0}
    steady, wild = climbs(serves, [replace(DEEP, least_effort=0.8)], most_errors=0.15)
    assert [next_words(climb) for climb in (steady, wild)] == ["deep 1", "get it in"]
    first, second = sorted(suggested_blocks([steady, wild], "2026-10-04"), key=lambda block: block.effort)
    assert (first.player_ids, first.aim, first.effort) == (("noor",), "deep 1", 0.0)
    assert first.reason == "deep 1: 7 Noor first in, 12 of 20 lost"
    assert (second.player_ids, second.effort) == (("marit",), 0.8)
    (patient,) = climbs(table("11110000" + "n" * 12), [DEEP])
    assert patient.errors is None


def test_players_who_never_served_begin_with_the_first_step():
    roster = {"marit": "7 Marit", "noor": "7 Noor", "wren": "7 Wren", "zofia": "23 Zofia", "odile": "18 Odile"}
    blocks = suggested_blocks(team(), "2026-10-04", ("odile",), roster, [DEEP, SEAM])
    deep = next(block for block in blocks if block.aim == "deep 1")
    assert deep.player_ids == ("noor", "wren", "zofia")
    assert "23 Zofia begins" in deep.reason


def test_a_block_lasts_as_long_as_a_ball_every_six_seconds():
    """Two players of twenty serves each: 40 balls take four minutes; one of ten takes one."""
    deep, seam = sorted(suggested_blocks(team(), "2026-10-04"), key=lambda block: block.aim)
    assert (deep.minutes, seam.minutes) == (4, 1)


def test_the_absent_are_left_out():
    blocks = suggested_blocks(team(), "2026-10-04", absent=("noor", "wren"))
    assert [block.player_ids for block in blocks] == [("marit",)]


def test_a_step_passed_long_ago_is_shown_again_last():
    *_, again = suggested_blocks(team(), "2026-12-24")
    assert (again.aim, again.player_ids, again.serves) == ("deep 1", ("marit",), SERVES_AGAIN)
    assert again.reason == "deep 1 again: 7 Marit ✓ 2 Oct not seen since"


def test_nobody_and_a_ladder_without_steps_suggest_nothing():
    assert suggested_blocks([], "") == ()
    assert suggested_blocks(climbs(table(GOOD), []), "2026-10-04") == ()


@pytest.mark.parametrize(
    ("served", "now", "player"),
    [
        ("", 0, "marit"),
        ("Md", 0, "noor"),
        ("Md Md Nd", 0, "noor"),
        ("Md Nd Md", 0, "noor"),
        ("Md Md Nd Nd", 1, "marit"),
        ("Md Ms", 2, "marit"),
        ("Md Ms Nd", 2, "marit"),
        ("Md Md Nd Nd Ms", 2, "marit"),
        ("Md Md Nd Nd Ms Md", 2, "noor"),
        ("Md Md Nd Nd Ms Md Nd", 3, ""),
        ("Wd Mx Ns", 0, "marit"),
    ],
)
def test_the_block_served_now(served, now, player):
    """M and N are Marit and Noor, W is somebody without a part; d deep 1, s the seam, x another aim."""
    players, aims = {"M": "marit", "N": "noor", "W": "wren"}, {"d": "deep 1 at 8", "s": "seam 5-6", "x": "deep 5"}
    assert plan_state(BLOCKS, [(players[who], aims[at]) for who, at in served.split()]) == PlanState(now, player)


def test_a_block_without_an_aim_takes_any_and_one_without_players_asks_for_nothing():
    blocks = (PlanBlock(player_ids=(), aim="deep 1"), PlanBlock(player_ids=("noor",), serves=2))
    assert plan_state(blocks, []) == PlanState(1, "noor")
    assert plan_state(blocks, [("noor", "deep 5"), ("noor", "")]) == PlanState(2)


ROSTER = {"marit": Player(id="marit", name="Marit", number=7), "noor": Player(id="noor", name="Noor", number=4)}


def written(text):
    known = {"7 marit": "marit", "7": "marit", "4 noor": "noor", "noor": "noor"}
    return [ROSTER[known[part.strip().casefold()]] for part in text.split(",") if part.strip()]


def typed(**cells):
    usual = dict(zip(BLOCK_COLUMNS, ("7, Noor", "Deep 1", "Float", "mats", "80 %", "20", "8", "why not"), strict=True))
    return block_from_texts(tuple((usual | cells).values()), 2, COURT, default_scheme(COURT), written)


def test_a_block_reads_as_it_was_written():
    block = typed()
    assert block == PlanBlock(
        player_ids=("marit", "noor"),
        aim="deep 1",
        serve_type="float",
        target_kind="mats",
        effort=0.8,
        serves=20,
        minutes=8,
        reason="why not",
    )
    assert block_from_texts(block_texts(block, ROSTER), 1, COURT, default_scheme(COURT), written) == block
    bare = PlanBlock(player_ids=("noor",))
    assert block_from_texts(block_texts(bare, ROSTER), 1, COURT, default_scheme(COURT), written) == bare


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"players": ""}, "needs players"),
        ({"aim": "deep 9"}, "deep 9"),
        ({"serve type": "lob"}, "lob is no serve type"),
        ({"targets": "cones"}, "cones is no kind of target"),
        ({"effort": "all"}, "all is no number"),
        ({"effort": "120"}, "between 0 and 100"),
        ({"serves each": ""}, "how many serves each"),
        ({"serves each": "-3"}, "-3 is no number"),
        ({"minutes": "soon"}, "soon is no number"),
    ],
)
def test_what_cannot_be_read_is_named_with_its_block(cells, words):
    with pytest.raises(UserError, match=words):
        typed(**cells)
