"""Changes to the roster: its players, their seasons and shirt numbers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from serve_marker.desktop.session.edits import ChangeRecords, RecordPair
from serve_marker.desktop.session.player_text import parse_players
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.records import Player, new_id, number_name
from serve_marker.logbook.seasons import ended_season_at, seasons_begun, with_shirt


class RosterEditor:
    """Changes to the roster, each one step of undo."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace

    def put_players(self, players: Iterable[Player], removed: Iterable[Player] = ()) -> None:
        """Write what changed on the roster; players who leave it leave the serving orders too."""
        gone = {player.id: player for player in removed}
        known = {player.id: player for player in self._workspace.book().players()}
        pairs: list[RecordPair] = [
            (known.get(player.id), player) for player in players if known.get(player.id) != player
        ]
        for practice in self._workspace.book().practices():
            order_a, order_b = (
                tuple(key for key in order if key not in gone) for order in (practice.order_a, practice.order_b)
            )
            if (order_a, order_b) != (practice.order_a, practice.order_b):
                pairs.append((practice, replace(practice, order_a=order_a, order_b=order_b)))
        consents = self._workspace.book().consents()
        pairs.extend((consent, None) for consent in consents if consent.id in gone)
        pairs.extend((player, None) for player in gone.values())
        if pairs:
            self._workspace.do(ChangeRecords("Players", pairs))

    def begin_season(self, name: str, begins: str) -> None:
        """Begin a season, one step of undo: all players stay, their numbers are given anew, the past keeps its own."""
        book = self._workspace.book()
        players, seasons = book.players(), book.seasons()
        if seasons and begins <= seasons[-1].begins:
            raise UserError(f"A season that began on {seasons[-1].begins} is there already; choose a later day.")
        before = {season.id: season for season in seasons}
        changed = seasons_begun(players, seasons, name, begins)
        pairs: list[RecordPair] = [(before.get(season.id), season) for season in changed]
        pairs += [(player, replace(player, number=None)) for player in players if player.number is not None]
        self._workspace.do(ChangeRecords(f"Season {name}", pairs))

    def add_number(self, number: int) -> Player:
        """Put a player of whom only the shirt number is known on the roster of this practice's season."""
        player = Player(id=new_id(), name=number_name(number), number=number)
        practice = self._workspace.practice
        ended = ended_season_at(self._workspace.book().seasons(), practice.date) if practice else None
        pairs: list[RecordPair] = [(None, player)]
        if ended is not None:
            pairs = [(None, replace(player, number=None)), (ended, with_shirt(ended, player, number))]
        self._workspace.do(ChangeRecords("Players", pairs))
        return player

    def player_written(self, text: str) -> Player:
        """Return the player of that shirt number or name (``7``, ``Marit`` or ``7 Marit``); new numbers join."""
        players = self.players_written(text)
        if len(players) != 1:
            raise UserError(f"{text} names {len(players)} players; write one number or one name.")
        return players[0]

    def players_written(self, text: str) -> list[Player]:
        """Return the players written one after the other; unknown numbers join the roster, unknown words do not."""
        found = parse_players(text, tuple(self._workspace.players.values()))
        return [self._numbered(who) if isinstance(who, int) else who for who in found]

    def _numbered(self, number: int) -> Player:
        workspace = self._workspace
        known = next((player for player in workspace.players.values() if player.number == number), None)
        if known is not None:
            return known
        player = self.add_number(number)
        workspace.message.emit(f"{player.name} is new on the roster; Practice > Players gives names.")
        return player
