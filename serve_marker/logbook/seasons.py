"""Whose shirt number it was: a number belongs to a season, a player to all of them.

The running season's numbers are the players' own; a season that has ended keeps those it ended with.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from serve_marker.errors import UserError
from serve_marker.logbook.records import Player, Season, new_id


def season_at(seasons: Sequence[Season], date: str) -> Season | None:
    """Return the season, of the oldest first, in which a day (YYYY-MM-DD) lies; None where none had begun.

    Examples
    --------
    >>> years = [Season(id="1", name="2025/26"), Season(id="2", name="2026/27", begins="2026-08-01")]
    >>> [season.name for day in ("2026-07-31", "2026-08-01") if (season := season_at(years, day))]
    ['2025/26', '2026/27']
    """
    begun = [season for season in seasons if season.begins <= date]
    return begun[-1] if begun else None


def ended_season_at(seasons: Sequence[Season], date: str) -> Season | None:
    """Return the season in which a day lies, where another has begun since; else None."""
    season = season_at(seasons, date)
    return None if season is None or season == seasons[-1] else season


def refuse_shared_numbers(players: Sequence[Player]) -> None:
    """Raise UserError where two players of one season have the same shirt number."""
    numbers = [player.number for player in players if player.number is not None]
    twice = next((number for number in numbers if numbers.count(number) > 1), None)
    if twice is not None:
        raise UserError(f"Shirt number {twice} is given twice; each player needs their own.")


def players_at(players: Sequence[Player], seasons: Sequence[Season], date: str) -> list[Player]:
    """Return the players with the shirt numbers they had on a day.

    Examples
    --------
    >>> marit, noor = Player(id="m", name="Marit"), Player(id="n", name="Noor", number=7)
    >>> years = [Season(id="1", name="25", shirts=(("m", 7),)), Season(id="2", name="26", begins="2026-08-01")]
    >>> [[player.number for player in players_at([marit, noor], years, day)] for day in ("2026-03-02", "2026-09-01")]
    [[7, None], [None, 7]]
    """
    season = ended_season_at(seasons, date)
    if season is None:
        return list(players)
    shirts = dict(season.shirts)
    return [replace(player, number=shirts.get(player.id)) for player in players]


def with_shirt(season: Season, player: Player, number: int) -> Season:
    """Return an ended season in which a player had a number."""
    return replace(season, shirts=(*(shirt for shirt in season.shirts if shirt[0] != player.id), (player.id, number)))


def seasons_begun(players: Sequence[Player], seasons: Sequence[Season], name: str, begins: str) -> list[Season]:
    """Return the seasons that change when a new one begins: the one that ends, with its numbers, and the new one."""
    running = seasons[-1] if seasons else Season(id=new_id(), name="")
    shirts = tuple((player.id, player.number) for player in players if player.number is not None)
    return [replace(running, shirts=shirts), Season(id=new_id(), name=name, begins=begins)]
