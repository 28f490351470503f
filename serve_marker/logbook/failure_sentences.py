"""What SQLite reports, said as one sentence for the coach."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from serve_marker.errors import DamagedLogbookError, UserError
from serve_marker.plain_json import told_as

_SENTENCES = {
    sqlite3.SQLITE_BUSY: "Another window is busy writing to {name}, so nothing was changed. Try again in a moment.",
    sqlite3.SQLITE_LOCKED: "Another window is busy writing to {name}, so nothing was changed. Try again in a moment.",
    sqlite3.SQLITE_READONLY: "{name} or its folder is read-only, so nothing was changed. "
    "Allow writing to both, or work on a copy elsewhere.",
    sqlite3.SQLITE_PERM: "{name} may not be opened. Ask its owner for the right to read and write it.",
    sqlite3.SQLITE_AUTH: "{name} may not be opened. Ask its owner for the right to read and write it.",
    sqlite3.SQLITE_CANTOPEN: "{name} cannot be opened or written where it is, so nothing was changed. "
    "Check that its folder is there and may be written to.",
    sqlite3.SQLITE_FULL: "The disk is full, so nothing was changed in {name}. Free some space and try again.",
    sqlite3.SQLITE_IOERR: "The disk failed to read or write {name}, so nothing was changed. "
    "Check the disk and its free space.",
    sqlite3.SQLITE_CORRUPT: "{name} is damaged; work on your latest copy of it.",
    sqlite3.SQLITE_NOTADB: "{name} is not a logbook; choose a file made by Serve Marker.",
    sqlite3.SQLITE_INTERRUPT: "{name} took longer than any logbook should. It is damaged. Work on your latest copy.",
    sqlite3.SQLITE_TOOBIG: "A text is too long for {name}, so nothing was changed; shorten it.",
}
_MOVED = "{name} was moved or deleted while open, so nothing was changed. Put it back, or open it where it is now."


def sentence_for(error: sqlite3.Error, path: Path) -> str | None:
    """The sentence for a fault outside the program, or None where the program itself is to blame."""
    code: int = getattr(error, "sqlite_errorcode", -1)
    if code < 0 and str(error).startswith("Could not decode to UTF-8"):
        code = sqlite3.SQLITE_CORRUPT
    if code == sqlite3.SQLITE_READONLY_DBMOVED:
        return _MOVED.format(name=path.name)
    template = _SENTENCES.get(code & 0xFF) if code >= 0 else None
    return template.format(name=path.name) if template else None


@contextmanager
def translate_sqlite_errors(path: Path) -> Iterator[None]:
    """Turn faults of file, disk and other windows into a UserError; let the rest through."""
    try:
        yield
    except sqlite3.IntegrityError as error:
        raise ValueError(f"{path.name} refuses the record: {error}") from error
    except sqlite3.Error as error:
        sentence = sentence_for(error, path)
        if sentence is None:
            raise
        raise UserError(sentence) from error


@contextmanager
def translate_opening_errors(path: Path) -> Iterator[None]:
    """Turn whatever goes wrong while a file from anywhere is opened and brought up to date into a UserError."""
    damaged = _SENTENCES[sqlite3.SQLITE_CORRUPT].format(name=path.name)
    try:
        with told_as(damaged):
            yield
    except sqlite3.Error as error:
        sentence = sentence_for(error, path) or damaged
        kind = DamagedLogbookError if sentence == damaged else UserError
        raise kind(sentence) from error
