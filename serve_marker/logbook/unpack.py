"""A packed logbook and its clips out of a zip file, which may come from anywhere and claim anything."""

from __future__ import annotations

import io
import re
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import NamedTuple

from serve_marker.errors import UserError
from serve_marker.logbook.moved_clips import find_all_moved, keep_places
from serve_marker.logbook.pack import PieceCopier, Told, new_folder
from serve_marker.logbook.records import ClipEntry
from serve_marker.logbook.store import Logbook

LARGEST_LIST_BYTES = 1 << 22
"""The most that is read at once: the list of a zip file's members is, and its length is what the file claims."""
MOST_MEMBERS = 10_000
LARGEST_GROWTH = 20
"""How many times larger than the zip file its content may be; films hardly shrink, a logbook to a tenth."""
SMALL_BYTES = 1 << 28
"""Content of which nobody asks how it was packed."""
ALLOWED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_STEERS = re.compile(r"[\\:\x00-\x1f]")
_BROKEN = (
    *(zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, struct.error),
    *(NotImplementedError, RuntimeError, EOFError, ValueError, OverflowError),
)


class Unpacked(NamedTuple):
    """The logbook unpacked, and its clips that were not in the pack."""

    logbook: Path
    missing: list[ClipEntry]


def unpack(source: Path, target: Path, told: Told = lambda done, of: None) -> Unpacked:
    """Unpack a logbook and its clips into a new folder, whole or not at all.

    Only the logbook is taken, and what proves to be one of its clips.

    Raises
    ------
    UserError
        If it is no pack, damaged or hostile, the folder is there already, or the disk is full.
    """
    with new_folder(target) as folder, _opened(source) as archive:
        members = _members(archive, source)
        (name,) = filter(_is_logbook, members)
        copier = PieceCopier(sum(member.file_size for member in members.values()), told)
        copier.require_room(folder)
        _extract(archive, members[name], folder / name, copier)
        with Logbook.open(folder / name) as book:
            ours = {file.name for file in folder.iterdir()}
            sizes_bytes = {entry.size_bytes for entry in book.clips()}
            films = {film: one for film, one in members.items() if film != name and one.file_size in sizes_bytes}
            for film, member in films.items():
                _extract(archive, member, folder / film, copier)
            found = find_all_moved(book, folder)
            kept = {Path(entry.path).name for entry in found.moved}
            for film in films.keys() - kept - ours:
                (folder / film).unlink()
            there = target.absolute()
            keep_places(book, [replace(entry, path=str(there / Path(entry.path).name)) for entry in found.moved])
        folder.rename(target)
    return Unpacked(target / name, found.missing)


class _CarefulFile(io.BufferedReader):
    """A file of which no more is read at once than a list of members may hold, whatever it claims."""

    def read(self, size: int | None = -1, /) -> bytes:
        if size is not None and size > LARGEST_LIST_BYTES:
            raise zipfile.BadZipFile
        return super().read(size)


@contextmanager
def _opened(source: Path) -> Iterator[zipfile.ZipFile]:
    if not source.is_file():
        raise UserError(f"{source.name} is no file; choose a zip file made by Pack.")
    with _CarefulFile(io.FileIO(source)) as file:
        with _broken_as_sentence(source.name):
            archive = zipfile.ZipFile(file)
        with archive:
            yield archive


@contextmanager
def _broken_as_sentence(name: str) -> Iterator[None]:
    try:
        yield
    except _BROKEN as error:
        raise UserError(f"{name} is no pack of a logbook, or is damaged. Copy it again.") from error


def _members(archive: zipfile.ZipFile, source: Path) -> Mapping[str, zipfile.ZipInfo]:
    """The files of a pack by their names, none of which leads out of its folder or grows beyond reason."""
    infos = [info for info in archive.infolist() if not info.filename.endswith("/")]
    size_bytes = source.stat().st_size
    grows = sum(info.file_size for info in infos) > SMALL_BYTES + LARGEST_GROWTH * size_bytes
    overlaps = sum(info.compress_size for info in infos) > size_bytes
    if len(infos) > MOST_MEMBERS or grows or overlaps or not all(map(_is_harmless, infos)):
        raise UserError(f"{source.name} holds what no pack of a logbook does. Nothing was unpacked.")
    named = [(PurePosixPath(info.filename), info) for info in infos]
    named = [(path, info) for path, info in named if len(path.parts) <= 2 and not path.name.startswith(".")]
    if len({path.name.casefold() for path, _ in named}) < len(named):
        raise UserError(f"{source.name} holds two files of one name. Nothing was unpacked.")
    if (count := sum(_is_logbook(path.name) for path, _ in named)) != 1:
        raise UserError(f"{source.name} holds {count or 'no'} logbooks; choose a zip file made by Pack.")
    return {path.name: info for path, info in named}


def _is_logbook(name: str) -> bool:
    return name.lower().endswith(".logbook")


def _is_harmless(info: zipfile.ZipInfo) -> bool:
    path = PurePosixPath(info.orig_filename)
    leads_out = (
        not path.name or path.is_absolute() or ".." in path.parts or _STEERS.search(info.orig_filename) is not None
    )
    kind = stat.S_IFMT(info.external_attr >> 16)
    encrypted = bool(info.flag_bits & 1)
    stored_as_said = info.compress_type != zipfile.ZIP_STORED or info.compress_size == info.file_size
    return (
        not leads_out
        and kind in (0, stat.S_IFREG)
        and not encrypted
        and info.compress_type in ALLOWED
        and stored_as_said
    )


def _extract(archive: zipfile.ZipFile, member: zipfile.ZipInfo, target: Path, copier: PieceCopier) -> None:
    with _broken_as_sentence(Path(str(archive.filename)).name), archive.open(member) as read, target.open("xb") as out:
        copier.copy_from(read, out)
