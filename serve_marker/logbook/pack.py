"""A logbook and its clips in one folder or zip file, for the coach's own move to another computer.

The clips lie flat beside the logbook, where they are found by their content: a pack unpacked by any program opens.
"""

from __future__ import annotations

import errno
import os
import re
import shutil
import sqlite3
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import IO, NamedTuple

from serve_marker.errors import UserError
from serve_marker.logbook.moved_clips import find_moved, keep_places, likely_folders
from serve_marker.logbook.records import ClipEntry
from serve_marker.logbook.store import Logbook

NOT_SHARING = "A pack is for your own move, not for sharing. Nobody is left out of it."
ZIP = ".zip"
MEGABYTE = 1 << 20
_NOT_PORTABLE = re.compile(r'[<>:"/\\|?*\x00-\x1f]')

Told = Callable[[int, int], object]
"""Called with the megabytes done and those there are; what it raises ends the work, and nothing is left of it."""


class Packed(NamedTuple):
    """What went into a pack: the names its clips have there, by id, and the clips that are not at hand."""

    names: Mapping[str, str]
    missing: list[ClipEntry]


def pack(logbook: Logbook, target: Path, told: Told = lambda done, of: None) -> Packed:
    """Write a logbook and its clips into a new zip file, or a new folder where the name does not end in .zip.

    Both are whole or not there. The pictures of views are in the logbook itself.

    Raises
    ------
    UserError
        If the target is there already, or cannot be written.
    """
    with new_folder(target) as folder:
        folders = likely_folders(logbook)
        places = {entry: find_moved(entry, folders) for entry in logbook.clips()}
        films = {place: entry.file_name for entry, place in places.items() if place is not None}
        copy = folder / f"{logbook.path.stem}.logbook"
        names = _portable_names(films, copy.name)
        packed = Packed(
            {entry.id: names[place] for entry, place in places.items() if place is not None},
            [entry for entry, place in places.items() if place is None],
        )
        _copy_logbook(logbook, copy, packed, target)
        copier = PieceCopier(sum(file.stat().st_size for file in (copy, *names)), told)
        copier.require_room(folder)
        if target.suffix.lower() == ZIP:
            _write_zip(folder / "pack.zip", target.stem, {copy: copy.name, **names}, copier)
            (folder / "pack.zip").rename(target)
        else:
            for film, name in names.items():
                with (folder / name).open("xb") as out:
                    copier.copy(film, out)
            folder.rename(target)
    return packed


@contextmanager
def new_folder(target: Path) -> Iterator[Path]:
    """Yield an empty folder beside a place, to be moved there once it is full; nothing of it stays where that fails."""
    if target.exists():
        raise UserError(f"{target.name} is there already; choose another name.")
    folder = target.with_name(f".{target.name}.unfinished")
    try:
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        yield folder
    except OSError as error:
        if error.errno == errno.ENOSPC:
            raise UserError(f"The disk of {target.name} is full. Free some space, or choose another one.") from error
        raise UserError(f"{target.name} could not be written ({error.strerror}); choose another place.") from error
    finally:
        shutil.rmtree(folder, ignore_errors=True)


class PieceCopier:
    """Bytes copied in pieces; what `told` raises ends that."""

    def __init__(self, size_bytes: int, told: Told) -> None:
        self._size_bytes = size_bytes
        self._done_bytes = 0
        self._told = told

    def require_room(self, folder: Path) -> None:
        """Refuse to begin what the disk has no room for."""
        free_bytes = shutil.disk_usage(folder).free
        if self._size_bytes > free_bytes:
            needed, free = (-(-size // MEGABYTE) for size in (self._size_bytes, free_bytes))
            raise UserError(f"This needs {needed} MB, and {free} MB are free. Choose another disk.")

    def copy(self, film: Path, out: IO[bytes]) -> None:
        """Copy a file, to its last byte on the disk where it goes to a file."""
        with film.open("rb") as read:
            self.copy_from(read, out)

    def copy_from(self, read: IO[bytes], out: IO[bytes]) -> None:
        """Copy what is left to be read."""
        while piece := read.read(MEGABYTE):
            out.write(piece)
            self._done_bytes += len(piece)
            self._told(self._done_bytes // MEGABYTE, max(self._size_bytes // MEGABYTE, 1))


def _portable_names(films: Mapping[Path, str], logbook_name: str) -> dict[Path, str]:
    """A name for each film that every system allows, and no two share."""
    names: dict[Path, str] = {}
    taken = {logbook_name.casefold()}
    for film, wanted in films.items():
        plain = Path(_NOT_PORTABLE.sub("-", wanted).strip(" .") or "film")
        name, number = plain.name, 1
        while name.casefold() in taken:
            number += 1
            name = f"{plain.stem}-{number}{plain.suffix}"
        taken.add(name.casefold())
        names[film] = name
    return names


def _copy_logbook(logbook: Logbook, copy: Path, packed: Packed, target: Path) -> None:
    """Copy a logbook as it is at one moment, with its clips where they will be: in a zip file, beside it."""
    with closing(sqlite3.connect(copy)) as connection:
        logbook.copy_into(connection)
    folder = Path() if target.suffix.lower() == ZIP else target.absolute()
    with Logbook.open(copy, to_check=True) as book:
        moved = [entry for entry in book.clips() if entry.id in packed.names]
        keep_places(book, [replace(entry, path=str(folder / packed.names[entry.id])) for entry in moved])


def _write_zip(file: Path, folder_name: str, names: Mapping[Path, str], copier: PieceCopier) -> None:
    """Films do not get smaller by packing, and are put in as they are."""
    with zipfile.ZipFile(file, "x") as archive:
        for source, name in names.items():
            member = zipfile.ZipInfo.from_file(source, f"{folder_name}/{name}", strict_timestamps=False)
            member.compress_type = zipfile.ZIP_DEFLATED if source.suffix == ".logbook" else zipfile.ZIP_STORED
            with archive.open(member, "w", force_zip64=True) as out:
                copier.copy(source, out)
    with file.open("rb") as written:
        os.fsync(written.fileno())
