"""What is wrong with a logbook's file itself, each fault one sentence that names the serve or record."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from serve_marker.errors import UserError
from serve_marker.logbook.checksums import wrong_rows
from serve_marker.logbook.opening import broken_file_sentence
from serve_marker.logbook.possible_values import impossible_values
from serve_marker.logbook.tables import TABLE_OF
from serve_marker.plain_json import told_as
from serve_marker.printable import quoted_name

_NAMES = {
    "player": "name",
    "season": "name",
    "gym": "name",
    "stored_view": "name",
    "formation": "name",
    "trial": "name",
    "practice": "date",
    "practice_plan": "date",
    "tally": "date",
    "clip": "path",
    "consent": "(SELECT name FROM player WHERE player.id = consent.id)",
}
_WORDS = {"stored_view": "view", "practice_plan": "plan", "tally": "count", "checked_view": "checked view"}


def file_faults(connection: sqlite3.Connection, path: Path) -> list[str]:
    """Return what is wrong with a file, as sentences; none where it is whole.

    What hangs together no more is told alone: records are read only from a file that does.
    """
    try:
        with _any_text(connection):
            faults = [str(row[0]) for row in connection.execute("PRAGMA integrity_check").fetchall()]
            broken = [broken_file_sentence(path, fault) for fault in faults if fault != "ok"]
            if broken:
                return broken
            impossible = list(impossible_value_sentences(connection, path))
            return [
                *_loose_ends(connection, path),
                *_changed_rows(connection, path),
                *(impossible or _unreadable_records(connection, path)),
            ]
    except sqlite3.DatabaseError as error:
        return [broken_file_sentence(path, str(error))]


def impossible_value_sentences(connection: sqlite3.Connection, path: Path) -> Iterator[str]:
    """Yield a sentence for each record with a value that cannot be."""
    with _any_text(connection):
        for found in impossible_values(connection):
            record = record_words(connection, found.table, found.id)
            yield f"{record} in {path.name} cannot be ({found.what}); work on your latest copy of it."


def _loose_ends(connection: sqlite3.Connection, path: Path) -> Iterator[str]:
    for child, _, parent, _ in connection.execute("PRAGMA foreign_key_check").fetchall():
        yield f"A {child} in {path.name} belongs to a {parent} that is gone."


def _changed_rows(connection: sqlite3.Connection, path: Path) -> Iterator[str]:
    named = dict.fromkeys(record_words(connection, row.table, row.key[0]) for row in wrong_rows(connection))
    for record in named:
        yield f"{record} in {path.name} is not as it was written. Look at it and enter it again."


def _unreadable_records(connection: sqlite3.Connection, path: Path) -> Iterator[str]:
    for table in TABLE_OF.values():
        for row in connection.execute(table.select):
            try:
                with told_as(""):
                    table.record(row)
            except UserError as error:
                record = record_words(connection, table.name, row[0])
                yield str(error) or f"{record} in {path.name} cannot be read; enter it again."


def record_words(connection: sqlite3.Connection, table: str, record_id: str) -> str:
    """Return how a record is called in a sentence: a serve by its moment and clip, others by name, day or key."""
    if table in ("serve", "ball_mark"):
        found = connection.execute(
            "SELECT coalesce(landing_time_s, contact_time_s), path, date FROM serve JOIN clip ON clip.id = clip_id "
            "JOIN practice ON practice.id = practice_id WHERE serve.id = ?",
            (record_id,),
        ).fetchone()
        if found is not None:
            moment = f" at {found[0]:.2f} s" if isinstance(found[0], float) else ""
            return f"The serve{moment} of {quoted_name(Path(found[1]).name)} on {quoted_name(found[2])}"
    named = _NAMES.get(table)
    found = connection.execute(f"SELECT {named} FROM {table} WHERE id = ?", (record_id,)).fetchone() if named else None
    words = _WORDS.get(table, table.replace("_", " "))
    return f"The {words} {quoted_name(record_id if found is None else found[0])}"


@contextmanager
def _any_text(connection: sqlite3.Connection) -> Iterator[None]:
    """Read texts that are no Unicode any more too, with a sign where they are not."""
    usual = connection.text_factory
    connection.text_factory = lambda raw: raw.decode(errors="replace")
    try:
        yield
    finally:
        connection.text_factory = usual
