"""Files that are whole or not there at all, pictures among them, and the names they can have."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from serve_marker.errors import UserError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LONGEST_NAME = 60
RESERVED_NAMES = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}


def write_png(picture: NDArray[np.uint8], path: Path) -> None:
    """Write a picture, array (H, W, 3) RGB, as a PNG file.

    Raises
    ------
    UserError
        Where the folder is not there or cannot be written to.
    """
    import cv2

    written, coded = cv2.imencode(".png", cv2.cvtColor(picture, cv2.COLOR_RGB2BGR))
    if not written:
        raise ValueError(f"a picture is (H, W, 3) uint8, not {picture.shape} {picture.dtype}")
    write_whole(coded.tobytes(), path)


def write_whole(content: bytes, path: Path) -> None:
    """Write a file beside its place and move it there, so that no half-written file is ever left."""
    with whole_file(path) as unfinished:
        unfinished.write_bytes(content)


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Yield where to write a file that is moved to its place once it is whole; nothing is left where it fails."""
    unfinished = path.with_name(f".{path.name}.unfinished")
    try:
        yield unfinished
        unfinished.replace(path)
    except BaseException as error:
        with suppress(OSError):
            unfinished.unlink()
        if not isinstance(error, OSError):
            raise
        raise UserError(f"{path} could not be written ({error.strerror}); choose another place.") from error


def safe_name(text: str) -> str:
    """Return text as the name of a file in the folder it is meant for: no separators, no dots at the ends, not empty.

    Examples
    --------
    >>> safe_name("../x"), safe_name("7 Marit"), safe_name("<b>"), safe_name("con"), safe_name("")
    ('x', '7 Marit', 'b', 'con-', 'unnamed')
    """
    plain = unicodedata.normalize("NFKC", text)
    worded = re.sub(r"[^\w \-]+", "-", " ".join(plain.split()))
    short = re.sub(r"[- ]*-[- ]*", "-", worded).strip(" -_")[:LONGEST_NAME].strip(" -_")
    if not short:
        return "unnamed"
    return f"{short}-" if short.lower() in RESERVED_NAMES else short


def free_name(text: str, taken: set[str]) -> str:
    """Return a safe name that is not among those taken, whatever the case of its letters, and take it.

    Examples
    --------
    >>> taken: set[str] = set()
    >>> [free_name(name, taken) for name in ("Marit", "marit", "Noor")]
    ['Marit', 'marit-2', 'Noor']
    """
    stem = safe_name(text)
    name, number = stem, 1
    while name.casefold() in taken:
        number += 1
        name = f"{stem}-{number}"
    taken.add(name.casefold())
    return name
