"""Two logbooks of one team made into a third: nothing is dropped in silence, and which is first does not matter."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field, replace
from operator import attrgetter
from pathlib import Path
from typing import Any

from serve_marker.errors import UserError
from serve_marker.logbook.any_record import Record
from serve_marker.logbook.migration import bring_up_to_date
from serve_marker.logbook.records import Player, Season, Serve, number_name, player_words
from serve_marker.logbook.same_records import Conflict, Pair, combined, kept_id, pairs_of, player_pairs, stricter
from serve_marker.logbook.second_marks import Marker, SecondMark
from serve_marker.logbook.store import Logbook
from serve_marker.logbook.tables import serve_text
from serve_marker.plain_json import read_json
from serve_marker.printable import quoted_name

TWICE_S = 0.5
"""Two serves on one clip whose moments lie closer are one, marked twice: nobody serves that soon again."""
SAME_PROPOSAL_S = 0.1
LINKS = {
    "player_id": "players",
    "passer_id": "players",
    "gym_id": "gyms",
    "view_id": "views",
    "formation_id": "formations",
    "practice_id": "practices",
    "clip_id": "clips",
}
"""Fields by which records name others, and the kind of those."""


class PlayersInDoubtError(UserError):
    """Players of whom only the coach can say whether they are one; ``questions`` are the pairs."""

    def __init__(self, questions: Sequence[tuple[Player, Player]]) -> None:
        self.questions = tuple(questions)
        one, other = self.questions[0]
        words = " and ".join(quoted_name(player_words(player)) for player in (one, other))
        super().__init__(f"Are {words} one player? Say so with --same or --different and the name.")


@dataclass
class Merged:
    """All that goes into the third logbook, and ``conflicts``: what the two do not agree on, as sentences."""

    records: dict[str, list[Any]] = field(default_factory=dict)
    rows: dict[str, dict[tuple[Any, ...], Any]] = field(default_factory=dict)
    conflicts: list[str] = field(default_factory=list)


@dataclass
class _Side:
    """One logbook: its records with the ids they will be kept under."""

    book: Logbook
    ids: dict[str, dict[str, str]] = field(default_factory=dict)

    def read(self, kind: str) -> list[Any]:
        """Return its records of a kind, naming others by the ids these are kept under."""
        return [self.linked(record) for record in getattr(self.book, kind)()]

    def linked(self, record: Any) -> Any:
        changes = {
            name: self.id_of(kind, getattr(record, name)) for name, kind in LINKS.items() if hasattr(record, name)
        }
        for name in ("tries", "others", "absent", "order_a", "order_b"):
            if hasattr(record, name):
                changes[name] = tuple(self.id_of("players", key) for key in getattr(record, name))
        if hasattr(record, "shirts"):
            changes["shirts"] = tuple(sorted((self.id_of("players", key), shirt) for key, shirt in record.shirts))
        if hasattr(record, "blocks"):
            changes["blocks"] = tuple(
                replace(one, player_ids=tuple(self.id_of("players", key) for key in one.player_ids))
                for one in record.blocks
            )
        if hasattr(record, "later_views"):
            changes["later_views"] = tuple((from_s, self.id_of("views", key)) for from_s, key in record.later_views)
        if getattr(record, "orders", None):
            changes["orders"] = tuple(tuple(self.id_of("players", key) for key in order) for order in record.orders)
        return replace(record, **changes) if changes else record

    def with_kept_id(self, serve: Serve) -> Serve:
        return replace(serve, id=self.id_of("serves", serve.id))

    def id_of(self, kind: str, key: str | None) -> Any:
        return None if key is None else self.ids.get(kind, {}).get(key, key)

    def formation_text(self, document: str) -> str:
        """A formation's text with its passers as they are kept; equal ones have equal texts."""
        try:
            plain = read_json(document)
            for passer in plain["passers"]:
                passer["player_id"] = self.id_of("players", passer.get("player_id", ""))
        except (ValueError, TypeError, KeyError, AttributeError):
            return document
        return json.dumps(plain, sort_keys=True)


def merge(first: Logbook, second: Logbook, answers: Mapping[frozenset[str], bool] | None = None) -> Merged:
    """Return what two logbooks hold together.

    Parameters
    ----------
    answers : whether two players are one, by the ids of both, where only the coach can say.

    Raises
    ------
    PlayersInDoubtError
        Where such an answer is missing.
    """
    merged, sides = Merged(), (_Side(first), _Side(second))
    players, questions = player_pairs(first.players(), second.players(), answers or {})
    if questions:
        raise PlayersInDoubtError(questions)
    _take(merged, sides, "players", players, attrgetter("name"), _player)
    _merge_plain(merged, sides)
    for side in sides:
        side.ids["serves"] = {}
    _merge_serves(merged, sides)
    _merge_of_clips(merged, sides)
    _merge_consents(merged, sides)
    _merge_settings(merged, sides)
    _tell_shared_numbers(merged)
    return merged


def write_merged(merged: Merged, target: Path) -> None:
    """Write a merged logbook into a new file, whole or not at all."""
    with Logbook.create(target) as book:
        try:
            _fill(book, merged)
        except BaseException:
            book.close()
            target.unlink(missing_ok=True)
            raise


@contextmanager
def merged_in_memory(merged: Merged, path: Path) -> Iterator[Logbook]:
    """Yield a merged logbook that is on no disk; ``path`` is what it is called by."""
    with closing(sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)) as memory:
        bring_up_to_date(memory)
        book = Logbook(path, memory)
        _fill(book, merged)
        yield book


def _fill(book: Logbook, merged: Merged) -> None:
    with book.one_change():
        for records in merged.records.values():
            book.put(*sorted(records, key=lambda record: str(record.id)))
        for (key,), text in sorted(merged.rows["setting"].items()):
            book.set_setting(key, text)
        for (clip_id, from_s), document in sorted(merged.rows["view_draft"].items()):
            book.put_view_draft(clip_id, from_s, document)
        for (clip_id,), view_id in sorted(merged.rows["checked_view"].items()):
            book.put_checked_view(clip_id, view_id)


def _merge_plain(merged: Merged, sides: tuple[_Side, _Side]) -> None:
    """All kinds whose records are the same where they say the same, from those that are named to those that name."""
    keys: dict[str, tuple[Callable[[Any], Hashable | None], Callable[[Any], str]]] = {
        "seasons": (lambda one: (one.begins, _plain(one.name)), attrgetter("name")),
        "gyms": (lambda one: _plain(one.name), attrgetter("name")),
        "views": (lambda one: (one.gym_id, _plain(one.name), one.document), attrgetter("name")),
        "formations": (lambda one: (_plain(one.name), one.document), attrgetter("name")),
        "practices": (lambda one: (one.date, _plain(one.name)), lambda one: f"{one.name} {one.date}"),
        "clips": (lambda one: (one.size_bytes, one.fingerprint) if one.size_bytes else None, attrgetter("file_name")),
        "tallies": (lambda one: (*_said(one),), lambda one: f"count of {one.date}"),
        "plans": (attrgetter("date"), lambda one: f"plan of {one.date}"),
        "trials": (lambda one: (*_said(one),), attrgetter("name")),
    }
    for kind, (key, words) in keys.items():
        read = [side.read(kind) for side in sides]
        if kind == "formations":
            read = [
                [replace(one, document=side.formation_text(one.document)) for one in records]
                for side, records in zip(sides, read, strict=True)
            ]
        _take(
            merged, sides, kind, pairs_of(read[0], read[1], key), words, both=_season if kind == "seasons" else combined
        )


def _take(
    merged: Merged,
    sides: tuple[_Side, _Side],
    kind: str,
    pairs: Iterable[Pair[Any]],
    words: Callable[[Any], str],
    both: Callable[[Any, Any], tuple[Any, list[Conflict]]] = combined,
) -> None:
    """Keep one record of each pair, note under which id, and tell what the two disagree on."""
    kept = []
    for pair in pairs:
        key = kept_id(pair)
        for side, one in zip(sides, pair, strict=True):
            if one is not None:
                side.ids.setdefault(kind, {})[one.id] = key
        there = [replace(one, id=key) for one in pair if one is not None]
        record = there[0]
        if len(there) == 2:
            record, conflicts = both(*there)
            for name, taken, lost in conflicts:
                told = f"{name.replace('_', ' ')} {quoted_name(taken)}, not {quoted_name(lost)}"
                merged.conflicts.append(f"{quoted_name(words(record))}: kept {told}.")
        kept.append(record)
    merged.records[kind] = kept


def _season(first: Season, second: Season) -> tuple[Season, list[Conflict]]:
    """A season with the shirt numbers of both."""
    return replace(min(first, second, key=repr), shirts=tuple(sorted({*first.shirts, *second.shirts}))), []


def _player(first: Player, second: Player) -> tuple[Player, list[Conflict]]:
    """A player as both know her; a name made of a number gives way to one."""
    known, conflicts = combined(_by_name(first), _by_name(second))
    return (known if known.name else replace(known, name=number_name(known.number))), conflicts


def _by_name(player: Player) -> Player:
    return replace(player, name="") if player.name == number_name(player.number) else player


def _merge_serves(merged: Merged, sides: tuple[_Side, _Side]) -> None:
    """One serve where both have it; the other's marks beside it where they differ, each with its marker."""
    markers = [{one.id: one.name for one in side.book.markers()} for side in sides]
    seconds: dict[str, SecondMark] = {}
    named: dict[str, Marker] = {}
    kept: list[Serve] = []
    for pair in _serve_pairs(sides[0].read("serves"), sides[1].read("serves")):
        there = [(one, side, known) for one, side, known in zip(pair, sides, markers, strict=True) if one is not None]
        there.sort(key=lambda of: (of[0].id, serve_text(of[0])))
        serve, side, known = there[0]
        kept.append(serve)
        same = len({_content(one) for one, _, _ in there}) == 1
        names = [known[one.id] for one, _, known in there if one.id in known]
        if names or not (same and len(there) == 2):
            named[serve.id] = Marker(id=serve.id, name=min(names) if names and same else _marker(serve, side, known))
        for other, its_side, its_known in there[1:]:
            its_side.ids["serves"][other.id] = serve.id
            if not same:
                _put_second(seconds, serve.id, _marker(other, its_side, its_known), other)
    for side in sides:
        for second in side.book.second_marks():
            serve_id = side.id_of("serves", second.serve_id)
            _put_second(seconds, serve_id, second.name, side.linked(second.serve))
    contents = {serve.id: _content(serve) for serve in kept}
    merged.records["serves"] = kept
    merged.records["markers"] = list(named.values())
    merged.records["second_marks"] = [
        one for one in seconds.values() if contents.get(one.serve_id) != _content(one.serve)
    ]


def _serve_pairs(first: Sequence[Serve], second: Sequence[Serve]) -> list[Pair[Serve]]:
    """The serves of both, those of one id together, then the same ones, then the nearest in time on one clip."""
    pairs = pairs_of(first, second, _content)
    mine = [one for one, other in pairs if other is None and one is not None]
    theirs: defaultdict[str, list[Serve]] = defaultdict(list)
    for one, other in pairs:
        if one is None and other is not None:
            theirs[other.clip_id].append(other)
    near: list[tuple[float, str, str, Serve, Serve]] = sorted(
        (abs(one.moment_s - other.moment_s), min(one.id, other.id), max(one.id, other.id), one, other)
        for one in mine
        for other in theirs[one.clip_id]
        if one.moment_s is not None and other.moment_s is not None
        if abs(one.moment_s - other.moment_s) <= TWICE_S
    )
    found: dict[str, Serve] = {}
    for *_, one, other in near:
        if one.id not in found and other.id not in found:
            found |= {one.id: other, other.id: one}
    rest = [pair for pair in pairs if all(one is None or one.id not in found for one in pair)]
    return [*rest, *((one, found[one.id]) for one in mine if one.id in found)]


def _put_second(seconds: dict[str, SecondMark], serve_id: str, name: str, serve: Serve) -> None:
    key = hashlib.sha256(_content(serve).encode()).hexdigest()[:32]
    known = seconds.get(key)
    seconds[key] = SecondMark(id=key, serve_id=serve_id, name=min(name, known.name) if known else name, serve=serve)


def _marker(serve: Serve, side: _Side, known: Mapping[str, str]) -> str:
    return known.get(serve.id, side.book.path.stem)


def _content(serve: Serve) -> str:
    return serve_text(replace(serve, id=""))


def _merge_of_clips(merged: Merged, sides: tuple[_Side, _Side]) -> None:
    """What was found on clips, and what was chosen for the next serves."""
    proposals, choices = [], []
    for side in sides:
        of_clips = [one for clip in side.book.clips() for one in side.book.proposals(clip.id)]
        proposals.append([replace(one, serve=side.with_kept_id(side.linked(one.serve))) for one in of_clips])
        of_practices = [one for practice in side.book.practices() for one in side.book.next_serves(practice.id)]
        choices.append([side.linked(one) for one in of_practices])
    merged.records["proposals"] = _answered(*proposals)
    pairs = pairs_of(choices[0], choices[1], attrgetter("practice_id", "view_id"))
    _take(merged, sides, "next_serves", pairs, lambda _: "next serves")
    searches: dict[str, Any] = {}
    for side in sides:
        for clip in side.book.clips():
            search, key = side.book.serve_search(clip.id), side.ids["clips"][clip.id]
            if search is not None:
                other = searches.get(key, search)
                both = "" if search.served_from != other.served_from else search.served_from
                done = search.finished or other.finished
                searches[key] = replace(search, id=key, served_from=both, finished=done)
    merged.records["searches"] = list(searches.values())


def _answered(first: Sequence[Any], second: Sequence[Any]) -> list[Any]:
    """The proposals of both; of two of one serve the one that was answered, else the lesser."""
    kept: defaultdict[str, list[Any]] = defaultdict(list)
    for one in sorted((*first, *second), key=lambda one: (not one.answer, one.id, repr(one))):
        of_clip = kept[one.serve.clip_id]
        if not any(_same_proposal(one, other) for other in of_clip):
            of_clip.append(one)
    return [one for of_clip in kept.values() for one in of_clip]


def _same_proposal(one: Any, other: Any) -> bool:
    apart_s = abs(one.serve.contact.time_s - other.serve.contact.time_s)
    return bool(one.id == other.id or apart_s <= SAME_PROPOSAL_S)


def _merge_consents(merged: Merged, sides: tuple[_Side, _Side]) -> None:
    read = [[replace(one, id=side.id_of("players", one.id)) for one in side.book.consents()] for side in sides]
    _take(merged, sides, "consents", pairs_of(read[0], read[1], attrgetter("id")), attrgetter("id"), stricter)


def _merge_settings(merged: Merged, sides: tuple[_Side, _Side]) -> None:
    """Settings, views begun, and against which view a clip was looked through."""
    merged.rows = {"setting": {}, "view_draft": {}, "checked_view": {}}
    for side in sides:
        for key, text in side.book.rows("setting", "key, text"):
            _put_row(merged, "setting", (key,), text)
        for clip_id, from_s, document in side.book.rows("view_draft", "clip_id, from_s, document"):
            _put_row(merged, "view_draft", (side.id_of("clips", str(clip_id)), from_s), document)
        for clip_id, view_id in side.book.rows("checked_view", "clip_id, view_id"):
            _put_row(merged, "checked_view", (side.id_of("clips", str(clip_id)),), side.id_of("views", str(view_id)))


def _put_row(merged: Merged, table: str, key: tuple[Any, ...], value: Any) -> None:
    known = merged.rows[table].get(key, value)
    kept, lost = sorted((known, value), key=str)
    merged.rows[table][key] = kept
    if kept != lost and table == "setting":
        merged.conflicts.append(f"Setting {quoted_name(key[0])}: kept {quoted_name(kept)}, not {quoted_name(lost)}.")


def _tell_shared_numbers(merged: Merged) -> None:
    numbered: dict[int, Player] = {}
    for player in sorted(merged.records["players"], key=attrgetter("id")):
        if player.number in numbered:
            names = " and ".join(quoted_name(one.name) for one in (numbered[player.number], player))
            merged.conflicts.append(f"Shirt number {player.number} is that of {names}; change one.")
        elif player.number is not None:
            numbered[player.number] = player
    for season in merged.records["seasons"]:
        worn = Counter(player_id for player_id, _ in season.shirts)
        if any(count > 1 for count in worn.values()):
            merged.conflicts.append(f"In {quoted_name(season.name)} some players have two shirt numbers.")


def _said(record: Record) -> list[Any]:
    return [value for name, value in sorted(vars(record).items()) if name != "id"]


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()
