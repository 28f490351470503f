"""Which places named in a logbook may be looked at: a logbook from elsewhere can name any file and any computer."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from pathlib import Path

from serve_marker.logbook.path_names import is_of_another_system
from serve_marker.logbook.records import ClipEntry
from serve_marker.logbook.store import Logbook
from serve_marker.printable import quoted_name

_NETWORK = re.compile(r"[\\/]{2}|[a-z][a-z0-9+.-]+:[\\/]", re.IGNORECASE)


def is_network_path(path: str | Path) -> bool:
    r"""Return whether a path names another computer: to look at it is to tell that computer who asks.

    Examples
    --------
    >>> [is_network_path(path) for path in (r"\\server\films\a.mp4", "smb://server/a.mp4", "//server/a.mp4")]
    [True, True, True]
    >>> [is_network_path(path) for path in ("/films/a.mp4", r"C:\films\a.mp4", "C:/films/a.mp4", "a.mp4")]
    [False, False, False, False]
    """
    return _NETWORK.match(str(path)) is not None


def may_open(logbook: Logbook, place: str | Path) -> bool:
    """Return whether a file may be looked at unasked: in the logbook's folder, or in one that was allowed."""
    return not is_of_another_system(place) and _is_in(place, [logbook.path.absolute().parent, *logbook.clip_folders])


def folder_to_ask_about(logbook: Logbook, entry: ClipEntry) -> Path | None:
    """Return the folder of a clip that may be looked at only after the coach said so.

    None where it may be anyway, and where this computer cannot have such a place.
    """
    nothing_to_ask = may_open(logbook, entry.path) or is_of_another_system(entry.path)
    return None if nothing_to_ask else _plain(entry.path).parent


def local_folders_outside(logbook: Logbook) -> list[Path]:
    """Return the folders of this computer that the logbook's clips lie in and nobody allowed yet."""
    asked = [folder_to_ask_about(logbook, entry) for entry in logbook.clips()]
    return list(dict.fromkeys(folder for folder in asked if folder is not None and not is_network_path(folder)))


def not_opened_sentence(entry: ClipEntry) -> str:
    """Return what is said of a clip in a place that nobody allowed."""
    name, where = quoted_name(entry.file_name), quoted_name(_plain(entry.path).parent)
    return f"{name} lies in {where}, outside the logbook's folder. Copy it beside the logbook, or allow that folder."


def _is_in(place: str | Path, folders: Iterable[Path]) -> bool:
    plain = _plain(place)
    return any(
        plain.is_relative_to(_plain(folder))
        for folder in folders
        if is_network_path(folder) or not is_network_path(place)
    )


def _plain(place: str | Path) -> Path:
    """A path without the steps back that would lead out of a folder."""
    return Path(os.path.normpath(place if is_network_path(place) else Path(place).absolute()))
