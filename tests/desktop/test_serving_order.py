"""Whose turn it is: one order at each end, servers out of turn, and going on where the film was left."""

from __future__ import annotations

import pytest

from serve_marker.desktop.session.serving_order import ServingOrder
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.logbook.records import ClipEntry, Mark, Player, Practice, Serve
from serve_marker.logbook.store import Logbook

ORDERS = ServingOrder(order_a=("ines", "marit", "noor"), order_b=("priya", "yuki"))


@pytest.mark.parametrize(
    ("served", "end", "expected"),
    [
        ([], "a", "ines"),
        ([("a", "ines")], "a", "marit"),
        ([("a", "ines"), ("b", "priya"), ("a", "marit")], "a", "noor"),
        ([("a", "ines"), ("b", "priya"), ("a", "marit")], "b", "yuki"),
        ([("a", "noor")], "a", "ines"),
        ([("a", "wren")], "a", "ines"),
    ],
    ids=["start", "advances", "ends apart", "other end", "wraps", "a guest does not move the order"],
)
def test_orders_advance_by_themselves(served, end, expected):
    turns = ORDERS
    for place, player in served:
        turns = turns.after(place, player)

    assert turns.now(end) == expected


def test_a_server_named_out_of_turn_serves_next_and_the_order_goes_on():
    named = ORDERS.name("a", "wren")

    assert named.now("a") == "wren"
    assert named.after("a", "wren").now("a") == "ines"
    assert ORDERS.name("a", "noor").after("a", "noor").now("a") == "ines"


def test_undo_puts_back_the_turn_but_never_an_order_changed_since():
    changed = ORDERS.with_orders(("wren", "odile"), ())

    assert changed.order_a == ("wren", "odile")
    assert ORDERS.with_orders(ORDERS.order_a, ORDERS.order_b) == ORDERS


def test_a_clip_opened_again_goes_on_after_its_last_serve(qapp, tmp_path):
    players = [Player(id=name, name=name.title()) for name in ("ines", "marit", "priya", "yuki")]
    practice = Practice(id="p", date="2026-11-03", name="Tuesday", order_b=("priya", "yuki"))
    clip = ClipEntry(id="c", practice_id="p", path="clip.mp4", size_bytes=1, fingerprint="0")
    serve = Serve(id="s", clip_id="c", player_id="priya", served_to="a", outcome="net", landing=Mark(1.0))
    with Logbook.create(tmp_path / "team.logbook") as logbook:
        logbook.put(*players, practice, clip, serve)
    workspace = Workspace()
    workspace.open_logbook(tmp_path / "team.logbook")
    workspace.show_clip(clip, None)

    assert (workspace.turns.end, workspace.turns.now()) == ("b", "yuki")
    workspace.close()
