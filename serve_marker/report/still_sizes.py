"""The sizes that stills are made in."""

from __future__ import annotations

from dataclasses import dataclass

from serve_marker.errors import UserError

REFERENCE_PX = 1280.0
"""As filmed, letters and marks have their design sizes where the longer side has as many pixels."""


@dataclass(frozen=True)
class StillSize:
    """One size: its name for people; width and height [px] and the scale of letters, None for those of the film."""

    words: str
    size_px: tuple[int, int] | None = None
    letters: float | None = None


STILL_SIZES = {
    "film": StillSize("As filmed"),
    "wall": StillSize("Screen, 16:9", (1920, 1080), 1.5),
    "phone": StillSize("Phone, 9:16", (1080, 1920), 2.4),
}
DEFAULT_SIZE = "film"


def still_size(name: str) -> StillSize:
    """Return a size by its name.

    Examples
    --------
    >>> still_size("phone").size_px
    (1080, 1920)
    """
    if name not in STILL_SIZES:
        raise UserError(f"There is no size called {name!r}; choose {', '.join(STILL_SIZES)}.")
    return STILL_SIZES[name]
