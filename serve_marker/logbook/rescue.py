"""What can still be read of a damaged logbook, and what is lost. The damaged file itself is left as it is."""

from __future__ import annotations

import shutil
import sqlite3
from collections import Counter
from collections.abc import Generator, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory

from serve_marker.errors import UserError
from serve_marker.logbook.checksums import has_checksums, keep_wrong_rows, renew_checksums, wrong_rows
from serve_marker.logbook.failure_sentences import translate_opening_errors
from serve_marker.logbook.file_faults import record_words
from serve_marker.logbook.limited_connection import LimitedConnection
from serve_marker.logbook.migration import bring_up_to_date, version_of
from serve_marker.logbook.opening import connect, require_file, require_ours
from serve_marker.logbook.possible_values import impossible_values
from serve_marker.logbook.rows import Row
from serve_marker.logbook.schema import MIGRATIONS
from serve_marker.logbook.store import Logbook
from serve_marker.logbook.tables import TABLE_OF
from serve_marker.plain_json import told_as
from serve_marker.printable import quoted_name

READ_ONLY = "{name} is damaged and open only to be read. Restore a backup with File > Backups."
HEADER_BYTES = 100
MOST_PADDED_BYTES = 1 << 30
STAND_INS = {
    "player": "INSERT INTO player (id, name, position, hand) VALUES (?, 'Lost player', '', 'right')",
    "gym": "INSERT INTO gym (id, name) VALUES (?, 'Lost gym')",
    "practice": "INSERT INTO practice (id, date, name, purpose) VALUES (?, '2000-01-01', 'Lost practice', 'drill')",
    "clip": "INSERT INTO clip (id, practice_id, path, size_bytes, fingerprint) "
    "VALUES (?, 'lost practice', 'lost clip.mp4', 0, '')",
}
"""What stands in for a record that is gone while others still name it, so that those are not lost with it."""

SEVERAL = {
    "stored_view": "views",
    "practice_plan": "plans",
    "tally": "counts",
    "ball_mark": "marks of the ball",
    "serving_order": "places in serving orders",
    "next_serves": "choices for next serves",
    "serve_search": "searches for serves",
    "clip_view": "later views of clips",
    "view_draft": "views begun",
}
"""What the rows of a table are called, where that is not its name."""


def rescue(path: Path) -> tuple[Logbook, list[str]]:
    """Return what can be read of a logbook, in memory and not to be changed, and what was lost, as sentences.

    Raises
    ------
    UserError
        If it is no logbook, or not even its list of tables can be read.
    """
    require_file(path)
    with translate_opening_errors(path), _of_full_length(path) as whole, closing(connect(whole)) as damaged:
        require_ours(damaged, path)
        damaged.text_factory = lambda raw: raw.decode(errors="replace")
        rescued = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False, factory=LimitedConnection)
        try:
            lost = _copy_readable(damaged, rescued)
        except BaseException:
            rescued.close()
            raise
    logbook = Logbook(path, rescued)
    logbook.why_read_only = READ_ONLY.format(name=path.name)
    return logbook, [*lost, *_changed(rescued)]


@contextmanager
def _of_full_length(path: Path) -> Iterator[Path]:
    """Yield a file that SQLite reads where a copy broke off: one padded to the length its first page tells."""
    with path.open("rb") as file:
        header = file.read(HEADER_BYTES)
    missing = _full_length_bytes(header) - path.stat().st_size
    if not 0 < missing <= MOST_PADDED_BYTES:
        yield path
        return
    with TemporaryDirectory() as folder:
        padded = Path(folder) / path.name
        shutil.copyfile(path, padded)
        with padded.open("rb+") as file:
            file.truncate(padded.stat().st_size + missing)
        yield padded


def _full_length_bytes(header: bytes) -> int:
    """Length of the file by its page size and count (SQLite's file format, section 1.3), 0 where there is no header."""
    page_bytes = int.from_bytes(header[16:18], "big")
    return (1 << 16 if page_bytes == 1 else page_bytes) * int.from_bytes(header[28:32], "big")


def write_rescued(logbook: Logbook, target: Path) -> None:
    """Write what was rescued into a new logbook, to go on with, whole or not at all."""
    Logbook.create(target).close()
    try:
        with translate_opening_errors(target), closing(connect(target)) as copy:
            logbook.copy_into(copy)
    except BaseException:
        target.unlink(missing_ok=True)
        raise


def _copy_readable(damaged: sqlite3.Connection, rescued: sqlite3.Connection) -> list[str]:
    """Fill an empty file in memory with all rows that can be read; return what was lost."""
    bring_up_to_date(rescued, MIGRATIONS[: version_of(damaged)])
    counts = {table: _copy_table(damaged, rescued, table) for table in _tables(rescued)}
    if has_checksums(rescued):
        keep_wrong_rows(rescued)
    bring_up_to_date(rescued)
    lost = [*_remove_impossible(rescued), *_remove_unreadable(rescued)]
    _put_stand_ins(rescued)
    renew_checksums(rescued)
    rescued.execute("PRAGMA foreign_keys = ON")
    lost_serves = _lost_serves(damaged, rescued)
    if lost_serves:
        del counts["serve"]
    return [*lost_serves, *_lost_rows(counts), *lost]


def _copy_table(damaged: sqlite3.Connection, rescued: sqlite3.Connection, table: str) -> tuple[int, int | None]:
    """Copy the rows of a table that can be read; return how many, and of how many where an index still tells."""
    columns = [name for _, name, *_ in rescued.execute(f"PRAGMA table_info({table})").fetchall()]
    statement = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"
    copied = 0
    for row in _readable_rows(damaged, table, columns, _key(rescued, table)):
        with suppress(sqlite3.Error, UnicodeError):
            rescued.execute(statement, row)
            copied += 1
    try:
        (known,) = damaged.execute(f"SELECT count(*) FROM {table}").fetchone()
    except sqlite3.DatabaseError:
        known = None
    return copied, known


def _readable_rows(damaged: sqlite3.Connection, table: str, columns: Sequence[str], key: str) -> Iterator[Row]:
    """Yield each row that can be read: from both ends of a table, and where that fails in ever smaller parts."""
    chosen = f"SELECT {', '.join(columns)} FROM {table}"
    seen: set[Row] = set()
    for direction in ("ASC", "DESC"):
        order = ", ".join(f"{column} {direction}" for column in key.split(", "))
        whole = yield from _until_damage(damaged, f"{chosen} ORDER BY {order}", seen)
        if whole:
            return
    if key == "rowid":
        yield from _in_parts(damaged, f"{chosen} WHERE rowid BETWEEN ? AND ?", seen, *_rowids(damaged, table))


def _until_damage(
    damaged: sqlite3.Connection, statement: str, seen: set[Row], span: tuple[int, ...] = ()
) -> Generator[Row, None, bool]:
    """Yield rows not seen yet until one cannot be read; return whether all could be."""
    try:
        for row in damaged.execute(statement, span):
            if row not in seen:
                seen.add(row)
                yield row
    except sqlite3.DatabaseError:
        return False
    return True


def _in_parts(damaged: sqlite3.Connection, statement: str, seen: set[Row], first: int, last: int) -> Iterator[Row]:
    if first > last:
        return
    whole = yield from _until_damage(damaged, statement, seen, (first, last))
    if not whole and first < last:
        middle = (first + last) // 2
        yield from _in_parts(damaged, statement, seen, first, middle)
        yield from _in_parts(damaged, statement, seen, middle + 1, last)


def _rowids(damaged: sqlite3.Connection, table: str) -> tuple[int, int]:
    """The least and the greatest row number that the table or the index of its ids still tells; (1, 0) for none."""
    told = [0]
    for place in (table, f"{table} INDEXED BY sqlite_autoindex_{table}_1"):
        for order in ("rowid DESC", "id", "id DESC"):
            with suppress(sqlite3.DatabaseError):
                for (rowid,) in damaged.execute(f"SELECT rowid FROM {place} ORDER BY {order}"):
                    told.append(rowid)
    return 1, max(told)


def _key(connection: sqlite3.Connection, table: str) -> str:
    columns = connection.execute(f"PRAGMA table_info({table})").fetchall()
    (without_rowid,) = connection.execute("SELECT wr FROM pragma_table_list WHERE name = ?", (table,)).fetchone()
    key = [name for place, name in sorted((column[5], column[1]) for column in columns) if place]
    return ", ".join(key) if without_rowid else "rowid"


def _remove_impossible(rescued: sqlite3.Connection) -> list[str]:
    found = [(record_words(rescued, one.table, one.id), one) for one in impossible_values(rescued)]
    for _, one in found:
        key = "serve_id" if one.table == "ball_mark" else "id"
        rescued.execute(f"DELETE FROM {one.table} WHERE {key} = ?", (one.id,))
    return [f"{words} cannot be ({one.what}) and is left out." for words, one in found]


def _remove_unreadable(rescued: sqlite3.Connection) -> list[str]:
    lost = []
    for table in TABLE_OF.values():
        for row in rescued.execute(table.select).fetchall():
            sentence = f"{record_words(rescued, table.name, row[0])} cannot be read and is left out."
            try:
                with told_as(sentence):
                    table.record(row)
            except UserError:
                rescued.execute(f"DELETE FROM {table.name} WHERE id = ?", (row[0],))
                lost.append(sentence)
    return lost


def _put_stand_ins(rescued: sqlite3.Connection) -> None:
    """Let nothing name what is gone: a stand-in takes its place, or else the name, or the row, is left out."""
    for _ in STAND_INS:
        for table in _tables(rescued):
            for link in rescued.execute(f"PRAGMA foreign_key_list({table})").fetchall():
                _mend_link(rescued, table, parent=link[2], column=link[3])


def _mend_link(rescued: sqlite3.Connection, table: str, parent: str, column: str) -> None:
    loose = f"{column} IS NOT NULL AND {column} NOT IN (SELECT id FROM {parent})"
    if parent in STAND_INS:
        for (key,) in rescued.execute(f"SELECT DISTINCT {column} FROM {table} WHERE {loose}").fetchall():
            rescued.execute(STAND_INS[parent], (key,))
        return
    needed = {
        name: bool(notnull) for _, name, _, notnull, *_ in rescued.execute(f"PRAGMA table_info({table})").fetchall()
    }
    change = f"DELETE FROM {table}" if needed[column] else f"UPDATE {table} SET {column} = NULL"
    rescued.execute(f"{change} WHERE {loose}")


def _lost_serves(damaged: sqlite3.Connection, rescued: sqlite3.Connection) -> list[str]:
    """How many serves of which clip are gone, as far as the index of clips still tells."""
    there = Counter(dict(rescued.execute("SELECT clip_id, count(*) FROM serve GROUP BY clip_id").fetchall()))
    try:
        before = Counter(
            dict(
                damaged.execute("SELECT clip_id, count(*) FROM serve INDEXED BY serve_clip GROUP BY clip_id").fetchall()
            )
        )
    except sqlite3.DatabaseError:
        return []
    paths = dict(rescued.execute("SELECT id, path FROM clip").fetchall())
    return [
        f"Lost: {count} of {before[clip_id]} serves of {quoted_name(Path(paths.get(clip_id, 'a lost clip')).name)}."
        for clip_id, count in (before - there).items()
    ]


def _lost_rows(counts: dict[str, tuple[int, int | None]]) -> list[str]:
    lost = []
    for table, (copied, known) in counts.items():
        words = SEVERAL.get(table, f"{table.replace('_', ' ')}s")
        if known is None:
            lost.append(f"Lost: perhaps some {words}; {copied} were read.")
        elif copied < known:
            lost.append(f"Lost: {known - copied} of {known} {words}.")
    return lost


def _changed(rescued: sqlite3.Connection) -> list[str]:
    named = dict.fromkeys(record_words(rescued, row.table, row.key[0]) for row in wrong_rows(rescued))
    return [f"{record} is not as it was written. Look at it again." for record in named]


def _tables(connection: sqlite3.Connection) -> list[str]:
    rows = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'")
    return [name for (name,) in rows.fetchall()]
