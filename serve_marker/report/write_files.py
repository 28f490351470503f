"""Pictures as files: an array of pixels becomes a PNG, whole or not at all."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from serve_marker.errors import UserError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


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
    unfinished = path.with_name(f".{path.name}.unfinished")
    try:
        unfinished.write_bytes(content)
        unfinished.replace(path)
    except OSError as error:
        with suppress(OSError):
            unfinished.unlink()
        raise UserError(f"{path} could not be written ({error.strerror}); choose another place.") from error
