"""A player erased from a logbook's file, its backups and its copies, so that no byte of them names her any more."""

from __future__ import annotations

import json
import os
import sqlite3
from collections import Counter
from collections.abc import Iterable
from contextlib import closing, suppress
from pathlib import Path

from serve_marker.errors import UserError
from serve_marker.logbook.backups import backups_of, kept_at_restoring
from serve_marker.logbook.copy_before_migration import copies_before_migration
from serve_marker.logbook.erase_rows import forget_player, player_in
from serve_marker.logbook.failure_sentences import translate_opening_errors
from serve_marker.logbook.migration import bring_up_to_date
from serve_marker.logbook.opening import connect, require_file, require_logbook
from serve_marker.logbook.records import Player


def copies_of(path: Path) -> list[Path]:
    """Return every file with a copy of a logbook that the program has made: backups, and those kept beside it."""
    dated = [one.path for one in (*backups_of(path), *kept_at_restoring(path))]
    return [*dated, *copies_before_migration(path)]


def erase_from_file(path: Path, player: Player, *, keep_serves: bool) -> Counter[str] | None:
    """Write a logbook, or a copy of one, anew without a player; return what was changed, None where she is not in it.

    It is written beside its place and moved there. Nobody may have it open meanwhile.

    Raises
    ------
    UserError
        If the file cannot be read or written; it is as it was then.
    """
    unfinished = path.with_name(f".{path.name}.unfinished")
    require_file(path)
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as memory:
        with translate_opening_errors(path), closing(connect(path)) as connection:
            require_logbook(connection, path)
            connection.backup(memory)
        bring_up_to_date(memory)
        player_id = player_in(memory, player.id, player.name)
        if player_id is None:
            return None
        memory.execute("PRAGMA foreign_keys = ON")
        done = forget_player(memory, player_id, keep_serves=keep_serves)
        try:
            unfinished.unlink(missing_ok=True)
            memory.execute("VACUUM INTO ?", (str(unfinished),))
            with unfinished.open("rb+") as file:
                os.fsync(file.fileno())
            unfinished.replace(path)
        except (OSError, sqlite3.Error) as error:
            with suppress(OSError):
                unfinished.unlink(missing_ok=True)
            raise UserError(f"{path.name} could not be written ({error}); free some space beside it.") from error
    return done


def files_that_name(name: str, files: Iterable[Path]) -> list[Path]:
    """Return the files in whose bytes a name stands, in large or small letters, as UTF-8, UTF-16 or JSON."""
    spellings = {name, name.lower(), name.upper(), json.dumps(name).strip('"')}
    wanted = [spelling.encode(code) for spelling in spellings for code in ("utf-8", "utf-16-le")]
    return [file for file in files if name and any(one in file.read_bytes() for one in wanted)]
