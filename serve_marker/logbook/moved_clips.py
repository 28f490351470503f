"""Where clips are that were moved or renamed."""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple, NoReturn

from serve_marker.errors import UserError
from serve_marker.logbook.clip_places import may_open
from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.records import ClipEntry
from serve_marker.logbook.store import Logbook
from serve_marker.printable import quoted_name


class FoundClips(NamedTuple):
    """Clips that were not where they had been: those found, at their new place, and those that are still missing."""

    moved: list[ClipEntry]
    missing: list[ClipEntry]


def likely_folders(logbook: Logbook) -> list[Path]:
    """Return the folders in which a moved clip is looked for: the logbook's own and those its clips may lie in."""
    allowed = (Path(clip.path).parent for clip in logbook.clips() if may_open(logbook, clip.path))
    return list(dict.fromkeys([logbook.path.absolute().parent, *allowed]))


def folders_in(folder: Path) -> list[Path]:
    """Return a folder and those in it."""
    try:
        return [folder, *sorted(inner for inner in folder.iterdir() if inner.is_dir())]
    except OSError as error:
        _unreadable(folder, error)


def find_moved(entry: ClipEntry, folders: Iterable[str | Path]) -> Path | None:
    """Where a clip is now: its old place, or else a file of the same size and hash in one of the folders.

    Each folder is searched itself, not what lies deeper; a file that keeps the name is tried first. No other folder is
    looked at, whatever the logbook names.
    """
    for candidate in _candidates(entry, [Path(folder) for folder in folders]):
        if is_film_of(entry, candidate):
            return candidate
    return None


def find_all_moved(logbook: Logbook, folder: Path) -> FoundClips:
    """Look in a folder and all in it for the clips of a logbook that are not where they were.

    Links to other folders are not followed.

    Raises
    ------
    UserError
        If the folder cannot be read.
    """
    gone = [one for one in logbook.clips() if not (may_open(logbook, one.path) and is_film_of(one, Path(one.path)))]
    found, files = FoundClips([], []), _files_by_size(folder, {entry.size_bytes for entry in gone})
    for entry in gone:
        same_name_first = sorted(files[entry.size_bytes], key=lambda file: (file.name != entry.file_name, file))
        place = next((file for file in same_name_first if is_film_of(entry, file)), None)
        if place is None:
            found.missing.append(entry)
        else:
            found.moved.append(replace(entry, path=str(place.absolute())))
    return found


def found_sentences(found: FoundClips, folder: Path) -> list[str]:
    """Return what is said of a search for all moved clips."""
    if not found.moved and not found.missing:
        return ["Every clip is where it was."]
    count = len(found.moved)
    said = f"{count or 'No'} moved {'clip' if count == 1 else 'clips'} found in {quoted_name(folder.absolute().name)}."
    return [said, *map(missing_sentence, found.missing)]


def missing_sentence(entry: ClipEntry) -> str:
    """Return what is said of a clip that is nowhere to be found."""
    return f"{quoted_name(entry.file_name)} is missing."


def keep_places(logbook: Logbook, moved: Iterable[ClipEntry]) -> None:
    """Write where clips are now, all in one transaction; nothing else of them is changed."""
    with logbook.one_change():
        kept = {clip.id: clip for clip in logbook.clips()}
        logbook.put(*(replace(kept[entry.id], path=entry.path) for entry in moved if entry.id in kept))


def is_film_of(entry: ClipEntry, file: Path) -> bool:
    """Return whether a file is the film of a clip, by its size and its hash."""
    try:
        return file.stat().st_size == entry.size_bytes and fingerprint(file)[1] == entry.fingerprint
    except (OSError, ValueError, UserError):
        return False


def _files_by_size(folder: Path, sizes_bytes: set[int]) -> defaultdict[int, list[Path]]:
    """The files of these sizes in a folder and all in it."""

    def refuse(error: OSError) -> None:
        if Path(error.filename) == folder:
            _unreadable(folder, error)

    files: defaultdict[int, list[Path]] = defaultdict(list)
    for inner, _, names in os.walk(folder, onerror=refuse):
        for file in (Path(inner, name) for name in names):
            try:
                size_bytes = file.stat().st_size
            except OSError:
                continue
            if size_bytes in sizes_bytes:
                files[size_bytes].append(file)
    return files


def _unreadable(folder: Path, error: OSError) -> NoReturn:
    raise UserError(f"{folder.name} cannot be read ({error.strerror}); choose another folder.") from None


def _candidates(entry: ClipEntry, folders: Sequence[Path]) -> Iterable[Path]:
    old_place = Path(entry.path)
    if old_place.parent in folders:
        yield old_place
    for folder in folders:
        yield folder / entry.file_name
        try:
            files = sorted(file for file in folder.iterdir() if file.is_file())
        except OSError:
            continue
        yield from files
