"""Where a clip is that was moved or renamed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from serve_marker.errors import UserError
from serve_marker.logbook.clip_places import may_open
from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.records import ClipEntry
from serve_marker.logbook.store import Logbook


def likely_folders(logbook: Logbook) -> list[Path]:
    """Return the folders in which a moved clip is looked for: the logbook's own and those its clips may lie in."""
    allowed = (Path(clip.path).parent for clip in logbook.clips() if may_open(logbook, clip.path))
    return list(dict.fromkeys([logbook.path.absolute().parent, *allowed]))


def folders_in(folder: Path) -> list[Path]:
    """Return a folder and those in it."""
    try:
        return [folder, *sorted(inner for inner in folder.iterdir() if inner.is_dir())]
    except OSError as error:
        raise UserError(f"{folder.name} cannot be read ({error.strerror}); choose another folder.") from None


def find_moved(entry: ClipEntry, folders: Iterable[str | Path]) -> Path | None:
    """Where a clip is now: its old place, or else a file of the same size and hash in one of the folders.

    Each folder is searched itself, not what lies deeper; a file that keeps the name is tried first. No other folder is
    looked at, whatever the logbook names.
    """
    for candidate in _candidates(entry, [Path(folder) for folder in folders]):
        try:
            if candidate.stat().st_size == entry.size_bytes and fingerprint(candidate)[1] == entry.fingerprint:
                return candidate
        except (OSError, ValueError, UserError):
            continue
    return None


def _candidates(entry: ClipEntry, folders: Sequence[Path]) -> Iterable[Path]:
    old_place = Path(entry.path)
    if old_place.parent in folders:
        yield old_place
    for folder in folders:
        yield folder / old_place.name
        try:
            files = sorted(file for file in folder.iterdir() if file.is_file())
        except OSError:
            continue
        yield from files
