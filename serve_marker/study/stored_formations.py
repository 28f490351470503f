"""Formations as a logbook keeps them: who stands in them are players of the team, or roles."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from serve_marker.court.formations import Formation, Passer
from serve_marker.errors import UserError
from serve_marker.logbook.records import Player, StoredFormation, player_words

if TYPE_CHECKING:
    from serve_marker.logbook.store import Logbook


def formations_of(logbook: Logbook) -> dict[str, Formation]:
    """Return the logbook's formations by id."""
    players = logbook.players()
    return {stored.id: formation_from(stored, players) for stored in logbook.formations()}


def formation_from(stored: StoredFormation, players: Sequence[Player] = ()) -> Formation:
    """Read a stored formation; it keeps the name it was stored under, its passers are called as the players are now."""
    try:
        plain = json.loads(stored.document)
    except ValueError:
        raise UserError(f"The formation {stored.name} cannot be read; set it anew on the court.") from None
    return with_players(Formation(stored.name, Formation.from_dict(plain).passers), players)


def formation_record(formation_id: str, formation: Formation) -> StoredFormation:
    """Return a formation as the logbook stores it."""
    return StoredFormation(id=formation_id, name=formation.name, document=json.dumps(formation.to_dict()))


def with_players(formation: Formation, players: Sequence[Player]) -> Formation:
    """Return the formation with its passers found among the players: by id, else by a name that is theirs alone.

    Examples
    --------
    >>> marit = Player(id="p", name="Marit", number=7)
    >>> with_players(Formation("two", (Passer(3.0, 6.0, "marit"), Passer(6.0, 6.0, role="libero"))), [marit]).passers
    (Passer(x_m=3.0, y_m=6.0, name='Marit', role='', player_id='p'), \
Passer(x_m=6.0, y_m=6.0, name='', role='libero', player_id=''))
    """
    names = passer_names(players)
    ids = {name.casefold(): player_id for player_id, name in names.items() if name}

    def known(passer: Passer) -> Passer:
        player_id = passer.player_id if passer.player_id in names else ids.get(passer.name.casefold(), "")
        return replace(passer, name=names[player_id], player_id=player_id) if player_id else passer

    return replace(formation, passers=tuple(map(known, formation.passers)))


def passer_names(players: Sequence[Player]) -> dict[str, str]:
    """Return how each player is called as a passer, by id: her name, with her number where two share it.

    Examples
    --------
    >>> two = [Player(id="a", name="Wren", number=3), Player(id="b", name="Wren", number=9)]
    >>> passer_names([*two, Player(id="c", name="Noor", number=4)])
    {'a': '3 Wren', 'b': '9 Wren', 'c': 'Noor'}
    """
    bearers = Counter(player.name for player in players)
    return {
        player.id: player.name if player.name and bearers[player.name] == 1 else player_words(player)
        for player in players
    }
