"""The order in which the files of one practice were filmed, by their names."""

from __future__ import annotations

import re
import unicodedata
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
    return tuple(_as_counted(part) if part.isdecimal() else (True, 0, part) for part in parts), name.suffix.casefold()


def _as_counted(digits: str) -> tuple[bool, int, str]:
    """A number by how many digits it has and then by these, so that it may be of any length."""
    plain = "".join(str(unicodedata.decimal(digit)) for digit in digits).lstrip("0")
    return False, len(plain), plain
