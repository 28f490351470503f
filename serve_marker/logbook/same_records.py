"""Which records of two logbooks are the same one, and one record made of both, with what they disagree on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

from serve_marker.logbook.consents import CONSENT_COLUMNS, Consent
from serve_marker.logbook.records import Player, number_name

Kept = TypeVar("Kept", bound=Any)
Pair = tuple[Kept | None, Kept | None]
Conflict = tuple[str, Any, Any]
_NOTHING = (None, "", ())


def pairs_of(first: Iterable[Kept], second: Iterable[Kept], key: Callable[[Kept], Hashable | None]) -> list[Pair[Kept]]:
    """Return the records of two logbooks, those that are the same together: of one id, else of one ``key``.

    None as a key is like no other. Where several have a key they are taken in the order of their ids.
    """
    theirs = {one.id: one for one in sorted(second, key=_id)}
    pairs: list[Pair[Kept]] = []
    alone = []
    for one in sorted(first, key=_id):
        other = theirs.pop(one.id, None)
        if other is None:
            alone.append(one)
        else:
            pairs.append((one, other))
    waiting: defaultdict[Hashable, list[Kept]] = defaultdict(list)
    for other in theirs.values():
        waiting[key(other)].append(other)
    for one in alone:
        same = waiting[key(one)] if key(one) is not None else []
        pairs.append((one, same.pop(0) if same else None))
    return [*pairs, *((None, other) for others in waiting.values() for other in others)]


def kept_id(pair: Pair[Any]) -> str:
    """Return the id under which a pair is kept: the lesser, so that it does not matter which logbook is first."""
    return str(min(one.id for one in pair if one is not None))


def combined(first: Kept, second: Kept) -> tuple[Kept, list[Conflict]]:
    """Return one record of two, and each field they disagree on: its name, what is kept and what is not.

    What only one of them says is taken; where both do, the lesser text or number. So order does not matter, and doing
    it twice changes nothing.

    Examples
    --------
    >>> one, other = Player(id="p", name="Noor", number=7), Player(id="p", name="Noor", position="setter", number=9)
    >>> both, conflicts = combined(one, other)
    >>> both.position, both.number, conflicts
    ('setter', 7, [('number', 7, 9)])
    """
    changes, conflicts = {}, []
    for field in fields(first):
        mine, theirs = getattr(first, field.name), getattr(second, field.name)
        if mine == theirs:
            continue
        if mine in _NOTHING or theirs in _NOTHING:
            changes[field.name] = theirs if mine in _NOTHING else mine
        else:
            changes[field.name], lost = sorted((mine, theirs), key=_rank)
            conflicts.append((field.name, changes[field.name], lost))
    return replace(first, **changes), conflicts


def _rank(value: Any) -> tuple[float, str]:
    return (float(value), "") if isinstance(value, int | float) else (0.0, repr(value))


def stricter(first: Consent, second: Consent) -> tuple[Consent, list[Conflict]]:
    """Return what a player agreed to in both logbooks, and no longer than in either.

    Examples
    --------
    >>> stricter(Consent(id="p", filmed_from="2026-01-01"), Consent(id="p", keep_until="2027-06-30"))[0].filmed_from
    >>> one, other = Consent(id="p", team_from="2026-01-01"), Consent(id="p", team_from="2026-09-01")
    >>> stricter(one, other)[0].team_from
    '2026-09-01'
    """
    days: dict[str, str | None] = {}
    for name in CONSENT_COLUMNS:
        both = [day for one in (first, second) if (day := getattr(one, name)) is not None]
        if name.endswith("_from"):
            days[name] = max(both) if len(both) == 2 else None
        else:
            days[name] = min(both, default=None)
    return Consent(id=first.id, **days), []


def same_player(one: Player, other: Player) -> bool | None:
    """Return whether two players are one, None where only the coach can say.

    Examples
    --------
    >>> def player(name, number=None):
    ...     return Player(id="p", name=name, number=number)
    >>> same_player(player("Noor", 7), player("noor", 7)), same_player(player("Noor", 7), player("Noor"))
    (True, True)
    >>> same_player(player("Noor", 7), player("Noor", 12)), same_player(player("Noor", 7), player("Number 7", 7))
    (None, None)
    >>> same_player(player("Noor", 7), player("Marit", 7))
    False
    """
    names = [" ".join(player.name.split()).casefold() for player in (one, other)]
    numbers = {player.number for player in (one, other) if player.number is not None}
    if names[0] == names[1]:
        return True if len(numbers) < 2 else None
    nameless = any(player.name in ("", number_name(player.number)) for player in (one, other))
    return None if nameless and one.number is not None and one.number == other.number else False


def player_pairs(
    first: Sequence[Player], second: Sequence[Player], answers: Mapping[frozenset[str], bool]
) -> tuple[list[Pair[Player]], list[tuple[Player, Player]]]:
    """Return the players of two logbooks, the same together, and the pairs of which the coach has to say.

    ``answers`` are those given, by the ids of both.
    """
    ids = {one.id for one in first} & {other.id for other in second}
    ones = [one for one in sorted(first, key=_id) if one.id not in ids]
    others = [other for other in sorted(second, key=_id) if other.id not in ids]
    said = {
        (one.id, other.id): answers.get(frozenset((one.id, other.id)), same_player(one, other))
        for one in ones
        for other in others
    }
    group = {one.id: number for number, one in enumerate(ones)}

    def free() -> list[tuple[Player, Player]]:
        """The pairs that may still be one player, of players who are not paired yet."""
        mine = [one for one in ones if one.id not in taken]
        theirs = [other for other in others if other.id not in group]
        return [(one, other) for one in mine for other in theirs if said[one.id, other.id] is not False]

    taken: set[str] = set()
    for certain in (_was_answered(answers), _has_same_number, _is_alone):
        for one, other in free():
            if said[one.id, other.id] and certain(one, other, free()) and one.id not in taken and other.id not in group:
                group[other.id] = group[one.id]
                taken.add(one.id)
    return pairs_of(first, second, lambda player: group.get(player.id)), free()


Certain = Callable[[Player, Player, Sequence[tuple[Player, Player]]], bool]


def _was_answered(answers: Mapping[frozenset[str], bool]) -> Certain:
    return lambda one, other, _free: frozenset((one.id, other.id)) in answers


def _has_same_number(one: Player, other: Player, _free: Sequence[tuple[Player, Player]]) -> bool:
    return one.number == other.number


def _is_alone(one: Player, other: Player, free: Sequence[tuple[Player, Player]]) -> bool:
    return sum(one in pair or other in pair for pair in free) == 1


def _id(record: Any) -> str:
    return str(record.id)
