"""The order in which the files of one practice were filmed, by their names."""

from __future__ import annotations

import re
from pathlib import PurePath


def by_name(path: str | PurePath) -> tuple[tuple[tuple[bool, int, str], ...], str]:
    """Return a key that sorts files as they are numbered: what a camera counts up in a name counts as a number.

    Examples
    --------
    >>> sorted(["serves 10.mp4", "Serves 9.mp4", "serves 9b.mp4", "serves.mp4"], key=by_name)
    ['serves.mp4', 'Serves 9.mp4', 'serves 9b.mp4', 'serves 10.mp4']
    """
    name = PurePath(path)
    parts = [part for part in re.split(r"(\d+)", name.stem.casefold()) if part]
    counted = tuple((False, int(part), "") if part.isdecimal() else (True, 0, part) for part in parts)
    return counted, name.suffix.casefold()
