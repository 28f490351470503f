"""Backups of a logbook in a folder beside it: each one verified, a few recent ones and fewer of long ago.

A backup carries its logbook's time of the last change, so that what has not changed is not copied again.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import time
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from serve_marker.errors import UserError
from serve_marker.logbook.failure_sentences import translate_sqlite_errors
from serve_marker.logbook.opening import connect, require_file
from serve_marker.logbook.schema_check import refuse_other_schema
from serve_marker.logbook.store import Logbook

NEWEST_KEPT = 3
KEPT = (("%Y-%m-%d", 7), ("%G-%V", 4), ("%Y-%m", 12), ("%Y", 99))
"""Of how many days, weeks, months and years the newest backup is kept besides."""
PAGES_AT_ONCE = 256
PAUSE_S = 0.01
"""Between the pages copied at once the logbook is free for whoever writes."""
UNFINISHED = ".unfinished"
STALE_S = 86_400.0
"""What a program that was killed left half-written is removed after a day."""
_MOMENT = "%Y-%m-%d %H.%M.%S"


class Backup(NamedTuple):
    """A backup and when it was made, by this computer's clock."""

    made: datetime
    path: Path


def backup_folder(path: Path) -> Path:
    """Return the folder of a logbook's backups.

    Examples
    --------
    >>> backup_folder(Path("team.logbook")).name
    'team backups'
    """
    return path.absolute().parent / f"{path.stem} backups"


def backups_of(path: Path) -> list[Backup]:
    """Return the backups of a logbook, the newest first."""
    return _dated(backup_folder(path), f"{path.stem} ", path.suffix)


def make_backup(path: Path, now: datetime | None = None) -> Path | None:
    """Back up a logbook and thin out the backups there are; None where nothing has changed since the newest.

    Raises
    ------
    UserError
        If no sound backup can be made; none is kept or thinned out then.
    """
    folder, moment = backup_folder(path), now or datetime.now()
    unfinished = folder / f".{os.getpid()}{UNFINISHED}"
    with _told(path):
        changed_ns = path.stat().st_mtime_ns
        newest = backups_of(path)[:1]
        if newest and newest[0].path.stat().st_mtime_ns == changed_ns:
            return None
        folder.mkdir(exist_ok=True)
        try:
            remove_unfinished(path, older_than_s=STALE_S)
            copy_logbook(path, unfinished)
            _require_sound(unfinished, path)
            os.utime(unfinished, ns=(changed_ns, changed_ns))
            backup = unfinished.replace(folder / f"{path.stem} {moment.strftime(_MOMENT)}{path.suffix}")
        except BaseException:
            unfinished.unlink(missing_ok=True)
            raise
        there = backups_of(path)
        kept = kept_moments([one.made for one in there])
        for one in there:
            if one.made not in kept:
                one.path.unlink()
    return backup


def remove_unfinished(path: Path, older_than_s: float = 0.0) -> None:
    """Remove what was left half-written of a logbook's backups, and beside it."""
    left = [*backup_folder(path).glob(f".*{UNFINISHED}"), path.with_name(f".{path.name}{UNFINISHED}")]
    for file in left:
        if file.exists() and time.time() - file.stat().st_mtime >= older_than_s:
            file.unlink()


def kept_moments(moments: Sequence[datetime]) -> set[datetime]:
    """Return the moments whose backups are kept.

    Examples
    --------
    >>> evening = [datetime(2026, 11, 3, 19, minute) for minute in range(9)]
    >>> sorted(moment.minute for moment in kept_moments(evening))
    [6, 7, 8]
    """
    newest_first = sorted(moments, reverse=True)
    kept = set(newest_first[:NEWEST_KEPT])
    for span, most in KEPT:
        of_span: dict[str, datetime] = {}
        for moment in newest_first:
            of_span.setdefault(moment.strftime(span), moment)
        kept.update(list(of_span.values())[:most])
    return kept


def serves_in(path: Path) -> int | None:
    """Return how many serves a backup holds, None where that cannot be read."""
    try:
        require_file(path)
        with closing(connect(path)) as connection:
            refuse_other_schema(connection, path)
            count: int = connection.execute("SELECT count(*) FROM serve").fetchone()[0]
    except (sqlite3.Error, UserError):
        return None
    return count


def restore_backup(path: Path, backup: Path, now: datetime | None = None) -> Path | None:
    """Put a backup in a logbook's place; return where the present logbook is kept, beside it, None where there is none.

    Nobody may have the logbook open meanwhile. A journal goes with the logbook it belongs to.
    """
    unfinished = path.with_name(f".{path.name}{UNFINISHED}")
    kept = path.with_name(f"{path.stem} before {(now or datetime.now()).strftime(_MOMENT)}{path.suffix}")
    journal = path.with_name(f"{path.name}-journal")
    try:
        shutil.copy2(backup, unfinished)
        with unfinished.open("rb+") as file:
            os.fsync(file.fileno())
        there = path.exists()
        for present, name in ((path, kept), (journal, kept.with_name(f"{kept.name}-journal"))):
            if present.exists():
                present.rename(name)
        unfinished.replace(path)
    except OSError as error:
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)
        raise UserError(f"{backup.name} could not be restored ({error.strerror}); look at the disk.") from error
    return kept if there else None


def kept_at_restoring(path: Path) -> list[Backup]:
    """Return the logbooks that were kept beside this one when backups were restored, the newest first."""
    return _dated(path.absolute().parent, f"{path.stem} before ", path.suffix)


def copy_logbook(path: Path, target: Path) -> None:
    """Copy a logbook into a new file, as it is at one moment, while others may write to it."""
    require_file(path)
    with translate_sqlite_errors(path), closing(connect(path)) as source, closing(sqlite3.connect(target)) as copy:
        source.backup(copy, pages=PAGES_AT_ONCE, progress=lambda *_: time.sleep(PAUSE_S))


def _dated(folder: Path, name: str, suffix: str) -> list[Backup]:
    """The files of a folder that are called by a name and a moment, the newest first."""
    found = []
    for file in folder.glob(f"*{suffix}"):
        if file.stem.startswith(name):
            with suppress(ValueError):
                found.append(Backup(datetime.strptime(file.stem.removeprefix(name), _MOMENT), file))
    return sorted(found, reverse=True)


def _require_sound(copy: Path, path: Path) -> None:
    with Logbook.open(copy, to_check=True) as opened:
        faults = opened.check()
    if faults:
        raise UserError(f"No sound backup of {path.name} could be made. {faults[0].replace(copy.name, path.name)}")


@contextmanager
def _told(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise UserError(
            f"No backup of {path.name} could be made ({error.strerror}). Free some space beside it."
        ) from error
