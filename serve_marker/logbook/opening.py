"""Finding, making and connecting to a logbook's file."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

from serve_marker.errors import UserError
from serve_marker.logbook.schema import APPLICATION_ID, MIGRATIONS, version_of

BUSY_TIMEOUT_S = 2.0


def require_file(path: Path) -> None:
    """Refuse what is no file at all, before SQLite is asked."""
    try:
        there, folder = path.exists(), path.is_dir()
    except OSError as error:
        raise UserError(f"{path.name} cannot be reached ({error.strerror}); check the name and its folder.") from None
    if folder:
        raise UserError(f"{path.resolve().name} is a folder; choose a logbook file in it.")
    if not there:
        raise UserError(f"{path.name} is not there; check the name, or make a new logbook.")


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

    Changes stay in memory until COMMIT (no spill), so that other windows can read meanwhile.
    """
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode=rw",
        uri=True,
        timeout=BUSY_TIMEOUT_S,
        isolation_level=None,
        check_same_thread=False,
    )
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA cache_spill = OFF")
    except BaseException:
        connection.close()
        raise
    return connection


def require_logbook(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse files of other kinds and of newer versions."""
    application_id = connection.execute("PRAGMA application_id").fetchone()[0]
    if application_id != APPLICATION_ID or version_of(connection) == 0:
        raise UserError(f"{path.name} is not a logbook; choose a file made by Serve Marker.")
    if version_of(connection) > len(MIGRATIONS):
        raise UserError(f"{path.name} was made by a newer Serve Marker; update the program to open it.")
    connection.execute("PRAGMA journal_mode = DELETE")
