"""Players as a coach writes them one after the other: shirt numbers, and names of any number of words."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

from serve_marker.desktop.session.serving_order import next_server_words
from serve_marker.errors import UserError
from serve_marker.logbook.records import Player


def parse_players(text: str, players: Sequence[Player]) -> list[Player | int]:
    """Return the players written, a number nobody wears as the number itself.

    Blanks and commas separate; the longest name that fits is meant, so that names may hold blanks.

    Examples
    --------
    >>> roster = [Player(id="p", name="Ines", number=7), Player(id="q", name="Marit Odile")]
    >>> [getattr(who, "name", who) for who in parse_players("07, Marit Odile 12", roster)]
    ['Ines', 'Marit Odile', 12]
    """
    spellings = {
        tuple(words.casefold().split()): player
        for player in reversed(players)
        for words in (player.name, next_server_words(player))
    }
    longest = max((len(words) for words in spellings), default=1)
    found: list[Player | int] = []
    for part in text.split(","):
        words = part.split()
        while words:
            count, who = _first(words, spellings, longest, players)
            found.append(who)
            words = words[count:]
    return found


def _first(
    words: Sequence[str], spellings: dict[tuple[str, ...], Player], longest: int, players: Sequence[Player]
) -> tuple[int, Player | int]:
    """Return how many words the first player takes, and the player."""
    for count in range(min(longest, len(words)), 0, -1):
        player = spellings.get(tuple(word.casefold() for word in words[:count]))
        if player is not None:
            return count, player
    if not words[0].isdecimal():
        raise UserError(
            f"{words[0]} is nobody on the roster. Write shirt numbers, or add names with Practice > Players."
        )
    number = int(words[0])
    return 1, next((player for player in players if player.number == number), number)


def players_like(text: str, players: Sequence[Player]) -> list[Player]:
    """Return the players with a number or a name that begins with each word typed; whose number it is comes first.

    Examples
    --------
    >>> roster = [Player(id="p", name="Ines", number=17), Player(id="q", name="Marit Odile", number=1)]
    >>> [player.name for player in players_like("1", roster)], [player.name for player in players_like("od", roster)]
    (['Marit Odile', 'Ines'], ['Marit Odile'])
    """
    typed = _plain(text).split()

    def is_meant(player: Player) -> bool:
        parts = re.split(r"[\s'’-]+", _plain(next_server_words(player)))
        return all(any(part.startswith(word) for part in parts) for word in typed)

    return sorted(filter(is_meant, players), key=lambda player: str(player.number) not in typed)


def _plain(text: str) -> str:
    """Small letters without their accents, so that "zoe" finds Zoë."""
    letters = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in letters if not unicodedata.combining(letter))
