"""What a logbook shows to others: without the players who did not agree to it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from serve_marker.logbook.consents import left_out
from serve_marker.logbook.erase_rows import forget_player
from serve_marker.logbook.records import Player
from serve_marker.logbook.store import Logbook

READ_ONLY = "What is made for others changes nothing in the logbook."


def players_left_out(logbook: Logbook, audience: str, day: str) -> list[Player]:
    """Return the players who are left out of what is made for an audience on a day (YYYY-MM-DD)."""
    players = logbook.players()
    ids = left_out([player.id for player in players], logbook.consents(), audience, day)
    return [player for player in players if player.id in ids]


@contextmanager
def shared_with(logbook: Logbook, audience: str, day: str) -> Iterator[Logbook]:
    """Yield a logbook as an audience may see it: those left out, and their serves, are not in it at all."""
    gone = players_left_out(logbook, audience, day)
    if not gone:
        yield logbook
        return
    with _without(logbook, gone) as shared:
        yield shared


def _without(logbook: Logbook, players: Sequence[Player]) -> Logbook:
    """A logbook in memory, not to be changed, that knows nothing of some players and their serves."""
    memory = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    try:
        logbook.copy_into(memory)
        memory.execute("PRAGMA foreign_keys = ON")
        for player in players:
            forget_player(memory, player.id, keep_serves=False)
    except BaseException:
        memory.close()
        raise
    shared = Logbook(logbook.path, memory)
    shared.clip_folders = logbook.clip_folders
    shared.why_read_only = READ_ONLY
    return shared
