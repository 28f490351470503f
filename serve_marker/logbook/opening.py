"""Finding, making and connecting to a logbook's file."""

from __future__ import annotations

import os
import re
import sqlite3
from pathlib import Path

from serve_marker.errors import DamagedLogbookError, UserError
from serve_marker.logbook.limited_connection import LimitedConnection
from serve_marker.logbook.migration import version_of
from serve_marker.logbook.schema import APPLICATION_ID, MIGRATIONS
from serve_marker.logbook.schema_check import refuse_other_schema
from serve_marker.printable import printable

BUSY_TIMEOUT_S = 2.0
OTHER_FILE_IN_JOURNAL = bytes.fromhex("d9d505f920a163d7")
"""How a journal ends that names a second file (SQLite's file format, section 3): a logbook's own never does."""
_WRONG_CELL = re.compile(r"^(CHECK constraint failed|\S+ value) in ")
"""What SQLite says of a single value, not of how the file hangs together."""


def require_file(path: Path) -> None:
    """Refuse what is no file at all, or came with a journal of something else, before SQLite is asked."""
    try:
        there, folder = path.exists(), path.is_dir()
    except OSError as error:
        raise UserError(f"{path.name} cannot be reached ({error.strerror}); check the name and its folder.") from None
    if folder:
        raise UserError(f"{path.resolve().name} is a folder; choose a logbook file in it.")
    if not there:
        raise UserError(f"{path.name} is not there; check the name, or make a new logbook.")
    try:
        refuse_foreign_journal(path)
    except OSError as error:
        raise UserError(f"{path.name} cannot be read ({error.strerror}); check its folder and its disk.") from None


def refuse_foreign_journal(path: Path) -> None:
    """Refuse a logbook with a journal beside it that names another file: SQLite might remove that file."""
    journal = path.with_name(f"{path.name}-journal")
    if journal.is_file():
        with journal.open("rb") as file:
            file.seek(max(journal.stat().st_size - len(OTHER_FILE_IN_JOURNAL), 0))
            foreign = file.read() == OTHER_FILE_IN_JOURNAL
    else:
        foreign = journal.exists()
    if foreign:
        raise UserError(f"{journal.name} is not of a logbook; move it away, then open {path.name} again.")


def make_empty_file(path: Path) -> None:
    """Make the file a new logbook will fill; one that is there already is never touched."""
    if not path.absolute().parent.is_dir():
        raise UserError(f"The folder for {path.name} is not there; make it first or choose another one.")
    try:
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o666))
    except FileExistsError:
        raise UserError(f"{path.name} is there already; open it, or choose another name for a new logbook.") from None
    except OSError as error:
        raise UserError(
            f"{path.name} cannot be made in this folder ({error.strerror}). Choose one you may write to."
        ) from None


def connect(path: Path) -> sqlite3.Connection:
    """A connection on which nothing is changed outside BEGIN and COMMIT, and each COMMIT is on the disk.

    The file may come from anywhere: functions in its schema are not run, and no statement goes on without end.

    Changes stay in memory until COMMIT (no spill), so that other windows can read meanwhile.
    """
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode=rw",
        uri=True,
        timeout=BUSY_TIMEOUT_S,
        isolation_level=None,
        check_same_thread=False,
        factory=LimitedConnection,
    )
    try:
        connection.allow_for(path.stat().st_size if path.exists() else 0)
        connection.execute("PRAGMA trusted_schema = OFF")
        connection.execute("PRAGMA cell_size_check = ON")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA cache_spill = OFF")
    except BaseException:
        connection.close()
        raise
    return connection


def require_logbook(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse what is no logbook, and one whose pages do not hang together."""
    require_ours(connection, path)
    refuse_damage(connection, path)
    connection.execute("PRAGMA journal_mode = DELETE")


def require_ours(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse files of other kinds and of newer versions, and those that hold more or less than a logbook."""
    application_id = connection.execute("PRAGMA application_id").fetchone()[0]
    if application_id != APPLICATION_ID or version_of(connection) == 0:
        raise UserError(f"{path.name} is not a logbook; choose a file made by Serve Marker.")
    if version_of(connection) > len(MIGRATIONS):
        raise UserError(f"{path.name} was made by a newer Serve Marker; update the program to open it.")
    refuse_other_schema(connection, path)


def refuse_damage(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse a file whose pages do not hang together, before a record is read from them.

    A cell that holds the wrong value is none of this: ``check`` names it, and all others can be used.
    """
    faults = [str(row[0]) for row in connection.execute("PRAGMA quick_check").fetchall()]
    broken = [fault for fault in faults if fault != "ok" and not _WRONG_CELL.search(fault)]
    if broken:
        raise DamagedLogbookError(broken_file_sentence(path, broken[0]))


def broken_file_sentence(path: Path, fault: str) -> str:
    """Return what is said of a fault that SQLite names.

    Examples
    --------
    >>> broken_file_sentence(Path("team.logbook"), "Page 7 is never used")
    'team.logbook is damaged (Page 7 is never used); work on your latest copy of it.'
    """
    said = printable(" ".join(fault.replace("*** in database main ***", "").split()))
    return f"{path.name} is damaged ({said}); work on your latest copy of it."
