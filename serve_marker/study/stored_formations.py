"""Formations as a logbook keeps them: who stands in them are players of the team, or roles."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from serve_marker.court.formations import Formation
from serve_marker.logbook.records import Player, StoredFormation, player_words
from serve_marker.plain_json import read_json, told_as

if TYPE_CHECKING:
    from serve_marker.logbook.store import Logbook


def formations_of(logbook: Logbook) -> dict[str, Formation]:
    """Return the logbook's formations by id."""
    players = logbook.players()
    return {stored.id: formation_from(stored, players) for stored in logbook.formations()}


def formation_from(stored: StoredFormation, players: Sequence[Player] = ()) -> Formation:
    """Read a stored formation; it keeps the name it was stored under, its passers are called as the players are now."""
    with told_as(f"The formation {stored.name} cannot be read; set it anew on the court."):
        plain = read_json(stored.document)
    names = passer_names(players)
    passers = (replace(one, name=names.get(one.player_id, one.name)) for one in Formation.from_dict(plain).passers)
    return Formation(stored.name, tuple(passers))


def formation_record(formation_id: str, formation: Formation) -> StoredFormation:
    """Return a formation as the logbook stores it."""
    return StoredFormation(id=formation_id, name=formation.name, document=json.dumps(formation.to_dict()))


def passer_names(players: Sequence[Player]) -> dict[str, str]:
    """Return how each player is called as a passer, by id: her name, with her number where two share it.

    Examples
    --------
    >>> two = [Player(id="a", name="Wren", number=3), Player(id="b", name="Wren", number=9)]
    >>> passer_names([*two, Player(id="c", name="Noor", number=4)])
    {'a': '3 Wren', 'b': '9 Wren', 'c': 'Noor'}
    """
    bearers = Counter(player.name.casefold() for player in players)
    return {
        player.id: player.name if player.name and bearers[player.name.casefold()] == 1 else player_words(player)
        for player in players
    }
