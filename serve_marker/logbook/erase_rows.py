"""A player taken out of a logbook: her record, all that names her, and her serves or only their link to her."""

from __future__ import annotations

import json
import re
import sqlite3
from collections import Counter
from collections.abc import Iterator
from typing import Any

from serve_marker.logbook.checksums import keep_wrong_rows, renew_checksums
from serve_marker.logbook.records import number_name
from serve_marker.plain_json import read_json

SOMEONE = "someone"
"""What stands in a text where her name stood."""
LEAST_LETTERS = 3
"""A part of a name shorter than that is a word like any other."""
_LISTS = {
    "next_serves": ("orders",),
    "season": ("shirts",),
    "practice_plan": ("absent", "blocks"),
    "trial": ("tries", "others"),
    "formation": ("document",),
}
"""Cells of JSON that name players by their ids."""
_TEXTS = {
    "serve": ("note",),
    "proposal": ("why",),
    "gym": ("name",),
    "practice": ("name",),
    "season": ("name",),
    "trial": ("name",),
    "stored_view": ("name", "document"),
    "formation": ("name", "document"),
    "practice_plan": ("blocks",),
    "view_draft": ("document",),
    "marker": ("name",),
    "second_mark": ("name", "serve"),
    "setting": ("text",),
}
"""Cells that people write into, or that hold what they wrote."""
REFERENCE = "reference"
"""Under this a view keeps the picture by which its place is known again: no text."""


def forget_player(connection: sqlite3.Connection, player_id: str, *, keep_serves: bool) -> Counter[str]:
    """Take a player out of a logbook of the newest version, and count what was changed.

    The counts are of her ``serves``, erased or left without a name, of ``passes`` that named her, ``counts`` typed in
    for her, ``lists`` that held her, ``texts`` with her name and ``pictures`` kept with the views of her serves.
    """
    name, done = _name(connection, player_id), Counter[str]()
    keep_wrong_rows(connection)
    views = _views_of(connection, player_id)
    done["pictures"] = sum(_without_picture(connection, view_id) for view_id in views)
    done["serves"] = _forget_serves(connection, player_id, keep_serves)
    done["passes"] = _change(connection, "UPDATE serve SET passer_id = NULL WHERE passer_id = ?", player_id)
    done["counts"] = _change(connection, "DELETE FROM tally WHERE player_id = ?", player_id)
    done["lists"] = _change(connection, "DELETE FROM serving_order WHERE player_id = ?", player_id)
    for table, columns in _LISTS.items():
        for column in columns:
            done["lists"] += _rewrite_json(connection, table, column, lambda plain: _without(plain, player_id))
    _change(connection, "DELETE FROM second_mark WHERE instr(serve, ?)", json.dumps(player_id))
    _change(connection, "DELETE FROM player WHERE id = ?", player_id)
    pattern = name_pattern(name, [other for (other,) in connection.execute("SELECT name FROM player").fetchall()])
    if pattern is not None:
        done["texts"] = sum(
            _rewrite(connection, table, column, pattern) for table, columns in _TEXTS.items() for column in columns
        )
    renew_checksums(connection)
    return +done


def name_pattern(name: str, others: list[str]) -> re.Pattern[str] | None:
    """Return what finds a name in a text: all of it, and each part that is in no other player's name; None for none.

    Examples
    --------
    >>> pattern = name_pattern("Ines Berg", ["Noor Berg"])
    >>> [pattern.sub("someone", text) for text in ("INES was late", "Ines Berg", "Berg, Inessa")]
    ['someone was late', 'someone', 'Berg, Inessa']
    """
    shared = {part.casefold() for other in others for part in other.split()}
    parts = [part for part in name.split() if len(part) >= LEAST_LETTERS and part.casefold() not in shared]
    numbered = re.fullmatch(number_name(0).replace("0", r"\d+"), name) is not None
    whole = [] if name.casefold() in (other.casefold() for other in others) else [name]
    written = [*whole, *([] if numbered else parts)]
    found = [r"\s+".join(map(re.escape, one.split())) for one in dict.fromkeys(written) if len(one) > 1]
    return re.compile(rf"(?<!\w)(?:{'|'.join(found)})(?!\w)", re.IGNORECASE) if found else None


def player_in(connection: sqlite3.Connection, player_id: str, name: str) -> str | None:
    """Return her id in another copy of a logbook: the same, or that of the one player of her name; else None."""
    if connection.execute("SELECT 1 FROM player WHERE id = ?", (player_id,)).fetchone():
        return player_id
    players = connection.execute("SELECT id, name FROM player").fetchall()
    named = [key for key, other in players if other.casefold() == name.casefold()]
    return named[0] if len(named) == 1 else None


def _name(connection: sqlite3.Connection, player_id: str) -> str:
    row = connection.execute("SELECT name FROM player WHERE id = ?", (player_id,)).fetchone()
    return " ".join(str(row[0]).split()) if row else ""


def _change(connection: sqlite3.Connection, statement: str, *values: str) -> int:
    return connection.execute(statement, values).rowcount


def _forget_serves(connection: sqlite3.Connection, player_id: str, keep_serves: bool) -> int:
    if keep_serves:
        return _change(connection, "UPDATE serve SET player_id = NULL, note = '' WHERE player_id = ?", player_id)
    hers = "IN (SELECT id FROM serve WHERE player_id = ?)"
    for named in ("marker WHERE id", "second_mark WHERE serve_id", "proposal WHERE id"):
        _change(connection, f"DELETE FROM {named} {hers}", player_id)
    return _change(connection, "DELETE FROM serve WHERE player_id = ?", player_id)


def _views_of(connection: sqlite3.Connection, player_id: str) -> list[str]:
    """The views of the clips in which she serves or receives."""
    hers = "IN (SELECT clip_id FROM serve WHERE player_id = ? OR passer_id = ?)"
    rows = connection.execute(
        f"SELECT view_id FROM clip WHERE id {hers} UNION SELECT view_id FROM clip_view WHERE clip_id {hers}",
        (player_id,) * 4,
    ).fetchall()
    return [view_id for (view_id,) in rows if view_id is not None]


def _without_picture(connection: sqlite3.Connection, view_id: str) -> int:
    (document,) = connection.execute("SELECT document FROM stored_view WHERE id = ?", (view_id,)).fetchone()
    plain = _read(document)
    if not isinstance(plain, dict) or REFERENCE not in plain:
        return 0
    kept = {key: value for key, value in plain.items() if key != REFERENCE}
    return _change(
        connection,
        "UPDATE stored_view SET document = ? WHERE id = ?",
        json.dumps(kept, indent=1, allow_nan=False),
        view_id,
    )


def _without(plain: Any, player_id: str) -> Any:
    """JSON without a player: her id leaves lists, a passer of that id is someone."""
    if isinstance(plain, list):
        return [_without(one, player_id) for one in plain if not _names(one, player_id)]
    if isinstance(plain, dict):
        kept = {key: _without(value, player_id) for key, value in plain.items()}
        return kept | {"player_id": "", "name": SOMEONE} if plain.get("player_id") == player_id else kept
    return plain


def _names(one: Any, player_id: str) -> bool:
    return one == player_id or (isinstance(one, list) and len(one) == 2 and one[0] == player_id and type(one[1]) is int)


def _rewrite_json(connection: sqlite3.Connection, table: str, column: str, change: Any) -> int:
    changed = 0
    for key, text in _cells(connection, table, column):
        plain = _read(text)
        after = change(plain)
        if plain is not None and after != plain:
            changed += _change(connection, f"UPDATE {table} SET {column} = ? WHERE id = ?", json.dumps(after), key)
    return changed


def _rewrite(connection: sqlite3.Connection, table: str, column: str, pattern: re.Pattern[str]) -> int:
    changed = 0
    for key, text in _cells(connection, table, column):
        plain = _read(text)
        if isinstance(plain, dict | list):
            renamed = _renamed(plain, pattern)
            after = text if renamed == plain else json.dumps(renamed, allow_nan=False)
        else:
            after = pattern.sub(SOMEONE, text)
        if after != text:
            changed += _change(connection, f"UPDATE {table} SET {column} = ? WHERE {_key(table)} = ?", after, key)
    return changed


def _renamed(plain: Any, pattern: re.Pattern[str]) -> Any:
    if isinstance(plain, str):
        return pattern.sub(SOMEONE, plain)
    if isinstance(plain, list):
        return [_renamed(one, pattern) for one in plain]
    if isinstance(plain, dict):
        return {key: value if key == REFERENCE else _renamed(value, pattern) for key, value in plain.items()}
    return plain


def _cells(connection: sqlite3.Connection, table: str, column: str) -> Iterator[tuple[str, str]]:
    yield from connection.execute(f"SELECT {_key(table)}, {column} FROM {table} WHERE {column} != ''").fetchall()


def _key(table: str) -> str:
    return {"setting": "key", "view_draft": "clip_id || ' ' || from_s"}.get(table, "id")


def _read(text: str) -> Any:
    try:
        return read_json(text)
    except ValueError:
        return None
