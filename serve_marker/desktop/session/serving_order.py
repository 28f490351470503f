"""Whose turn it is to serve, at each end, as a plain value that can be put back by undo."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from serve_marker.logbook.records import Half, Player, Serve, player_words
from serve_marker.logbook.records import number_name as number_name

ENDS: tuple[Half, Half] = ("a", "b")
END_WORDS: dict[Half, str] = {"a": "near end", "b": "far end"}


def other_end(end: Half) -> Half:
    """Return the end across the net."""
    return "b" if end == "a" else "a"


@dataclass(frozen=True)
class ServingOrder:
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

    def queue(self, end: Half) -> Half:
        """Return the end whose order serves from that end: its own, or the only one there is."""
        return other_end(end) if not self.order(end) and self.order(other_end(end)) else end

    def now(self, end: Half | None = None) -> str | None:
        """Return whose turn it is at an end: the server named out of turn, else the next in order."""
        end = end or self.end
        named = self.named_a if end == "a" else self.named_b
        if named is not None:
            return named
        order = self.order(self.queue(end))
        return order[self._position(self.queue(end)) % len(order)] if order else None

    def name(self, end: Half, player_id: str) -> ServingOrder:
        """Return the turns with this player next at that end; the order goes on from them if they stand in it."""
        order = self.order(self.queue(end))
        if player_id in order:
            return self._named(end, None)._at(self.queue(end), order.index(player_id))
        return self._named(end, player_id)

    def after(self, end: Half, player_id: str | None) -> ServingOrder:
        """Return the turns once this player has served from that end."""
        order = self.order(self.queue(end))
        served = replace(self, end=end)
        if not order:
            return served._named(end, player_id)
        served = served._named(end, None)
        if player_id not in order:
            return served
        return served._at(self.queue(end), (order.index(player_id) + 1) % len(order))

    def before(self, end: Half, player_id: str | None) -> ServingOrder:
        """Return the turns as if this player had not served from that end, where the order has gone on from her.

        Examples
        --------
        >>> turns = ServingOrder(order_a=("ines", "marit", "noor"))
        >>> turns.after("a", "ines").before("a", "ines").now(), turns.after("a", "marit").before("a", "ines").now()
        ('ines', 'noor')
        """
        order = self.order(self.queue(end))
        if player_id not in order or self.after(end, player_id) != replace(self, end=end):
            return self
        return self._at(self.queue(end), order.index(player_id))

    def given(self, end: Half, was: str | None, now: str | None) -> ServingOrder:
        """Return the turns where the serve of one player is another's: the order goes on from her."""
        before = self.before(end, was)
        return self if before is self else replace(before.after(end, now), end=self.end)

    def with_order(self, end: Half, order: Iterable[str]) -> ServingOrder:
        """Return the turns with a new order at one end, starting at its head."""
        changed = replace(self, order_a=tuple(order)) if end == "a" else replace(self, order_b=tuple(order))
        return changed._named(end, None)._at(end, 0)

    def with_orders(self, order_a: tuple[str, ...], order_b: tuple[str, ...]) -> ServingOrder:
        """Return whose turn it is now among other orders: undo puts back the turn, never an order changed since.

        A next server who left the order makes way for its head.
        """
        changed = replace(self, order_a=order_a, order_b=order_b)
        for end in ENDS:
            before, after = self.order(end), changed.order(end)
            upcoming = before[self._position(end) % len(before)] if before else None
            changed = changed._at(end, after.index(upcoming) if upcoming in after else 0)
        return changed

    def known_to(self, players: Container[str]) -> ServingOrder:
        """Return the turns without servers named out of turn who are no longer on the roster."""
        named_a, named_b = (name if name in players else None for name in (self.named_a, self.named_b))
        return replace(self, named_a=named_a, named_b=named_b)

    def _position(self, end: Half) -> int:
        return self.next_a if end == "a" else self.next_b

    def _at(self, end: Half, position: int) -> ServingOrder:
        return replace(self, next_a=position) if end == "a" else replace(self, next_b=position)

    def _named(self, end: Half, player_id: str | None) -> ServingOrder:
        return replace(self, named_a=player_id) if end == "a" else replace(self, named_b=player_id)


def turns_left(turns: ServingOrder, serves: Sequence[Serve], changed: Mapping[str, Serve | None]) -> ServingOrder:
    """Return whose turn it is once some of a clip's serves, in their order, have changed or gone (None).

    Only the last ones count: the order goes on from what is left.
    """
    for serve in reversed(serves):
        if serve.id not in changed:
            break
        end, kept = other_end(serve.served_to or "b"), changed[serve.id]
        if kept is not None:
            return turns.given(end, serve.player_id, kept.player_id)
        turns = turns.before(end, serve.player_id)
    return turns


def next_server_words(player: Player | None) -> str:
    """Return how a server is written: shirt number and name."""
    return player_words(player) if player else "No server"
