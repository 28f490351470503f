"""Knowing a clip again after it was moved or renamed."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from pathlib import Path

from serve_marker.errors import UserError, regular_file_size
from serve_marker.logbook.records import ClipEntry

SAMPLE_BYTES = 1 << 20


def fingerprint(path: str | Path) -> tuple[int, str]:
    """Size of a file [bytes] and a hash of its size, head and tail (1 MiB each).

    Head and tail of a film differ from those of any other film, and reading them takes no
    longer for an hour than for a minute.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.NamedTemporaryFile() as file:
    ...     size_bytes, digest = fingerprint(file.name)
    >>> size_bytes, len(digest)
    (0, 64)
    """
    path = Path(path)
    try:
        regular_file_size(path)
        with path.open("rb") as file:
            size_bytes = file.seek(0, os.SEEK_END)
            digest = hashlib.sha256(str(size_bytes).encode())
            file.seek(0)
            digest.update(file.read(SAMPLE_BYTES))
            file.seek(max(size_bytes - SAMPLE_BYTES, 0))
            digest.update(file.read(SAMPLE_BYTES))
    except FileNotFoundError:
        raise UserError(f"{path.name} is not there; check the name.") from None
    except OSError as error:
        raise UserError(f"{path.name} cannot be read ({error.strerror}); check the file and its disk.") from None
    return size_bytes, digest.hexdigest()


def find_moved(entry: ClipEntry, folders: Iterable[str | Path]) -> Path | None:
    """Where a clip is now: its old place, or else a file of the same size and hash in one of the folders.

    Each folder is searched itself, not what lies deeper; a file that keeps the name is tried first.
    """
    for candidate in _candidates(entry, folders):
        try:
            if candidate.stat().st_size == entry.size_bytes and fingerprint(candidate)[1] == entry.fingerprint:
                return candidate
        except (OSError, ValueError, UserError):
            continue
    return None


def _candidates(entry: ClipEntry, folders: Iterable[str | Path]) -> Iterable[Path]:
    old_place = Path(entry.path)
    yield old_place
    for folder in map(Path, folders):
        yield folder / old_place.name
        try:
            files = sorted(file for file in folder.iterdir() if file.is_file())
        except OSError:
            continue
        yield from files
