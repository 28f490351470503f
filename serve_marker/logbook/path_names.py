"""What a path says, whichever system wrote it: a logbook moves from one to another."""

from __future__ import annotations

import os
import re
from pathlib import PurePath, PureWindowsPath

_DRIVE = re.compile(r"[a-z]:[\\/]", re.IGNORECASE)


def file_name_of(path: str) -> str:
    r"""Return the name of a path's file.

    Examples
    --------
    >>> {file_name_of(path) for path in ("/films/a.mp4", r"C:\films\a.mp4", r"\\server\films\a.mp4", "a.mp4")}
    {'a.mp4'}
    """
    windows = _has_drive(path) or path.startswith("\\\\")
    return PureWindowsPath(path).name if windows else PurePath(path).name


def is_of_another_system(path: str | PurePath) -> bool:
    """Return whether a path cannot be one of this computer: it names a drive, and this one has none."""
    return os.name != "nt" and _has_drive(str(path))


def _has_drive(path: str) -> bool:
    return _DRIVE.match(path) is not None
