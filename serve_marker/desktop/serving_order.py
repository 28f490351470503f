"""Whose turn it is to serve, at each end, as a plain value that can be put back by undo."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from serve_marker.logbook.records import Half, Player

END_WORDS: dict[Half, str] = {"a": "near end", "b": "far end"}


def other_end(end: Half) -> Half:
    """Return the end across the net."""
    return "b" if end == "a" else "a"


@dataclass(frozen=True)
class Turns:
    """Serving orders (player ids) at both ends, who is next in each, and a server named out of turn.

    ``end`` is the end the next serve comes from, as long as no landing says otherwise.
    """

    order_a: tuple[str, ...] = ()
    order_b: tuple[str, ...] = ()
    next_a: int = 0
    next_b: int = 0
    named_a: str | None = None
    named_b: str | None = None
    end: Half = "a"

    def order(self, end: Half) -> tuple[str, ...]:
        """Return the player ids serving from an end, in order."""
        return self.order_a if end == "a" else self.order_b

    def now(self, end: Half | None = None) -> str | None:
        """Return whose turn it is at an end: the server named out of turn, else the next in order."""
        end = end or self.end
        named, order, position = (
            (self.named_a, self.order_a, self.next_a) if end == "a" else (self.named_b, self.order_b, self.next_b)
        )
        if named is not None:
            return named
        return order[position % len(order)] if order else None

    def name(self, end: Half, player_id: str) -> Turns:
        """Return the turns with this player next at that end; the order goes on from them if they stand in it."""
        order = self.order(end)
        if player_id in order:
            return self._set(end, order.index(player_id), None)
        return self._set(end, self._position(end), player_id)

    def after(self, end: Half, player_id: str | None) -> Turns:
        """Return the turns once this player has served from that end."""
        order = self.order(end)
        if player_id in order:
            return replace(self._set(end, (order.index(player_id) + 1) % len(order), None), end=end)
        keeps_serving = None if order else player_id
        return replace(self._set(end, self._position(end), keeps_serving), end=end)

    def with_order(self, end: Half, order: Iterable[str]) -> Turns:
        """Return the turns with a new order at one end, starting at its head."""
        changed = replace(self, order_a=tuple(order)) if end == "a" else replace(self, order_b=tuple(order))
        return changed._set(end, 0, None)

    def _position(self, end: Half) -> int:
        return self.next_a if end == "a" else self.next_b

    def _set(self, end: Half, position: int, named: str | None) -> Turns:
        if end == "a":
            return replace(self, next_a=position, named_a=named)
        return replace(self, next_b=position, named_b=named)


def server_words(player: Player | None) -> str:
    """Return how a server is written: shirt number and name."""
    if player is None:
        return "No server"
    return player.name if player.number is None else f"{player.number} {player.name}"
