"""Where what was read of a long clip is kept beside the logbook, so that it is read only once."""

from __future__ import annotations

from pathlib import Path

WORTH_KEEPING_BYTES = 100_000_000


def kept_beside(logbook: Path, size_bytes: int, fingerprint: str, ending: str) -> Path | None:
    """Return the file for a clip, None for one that is read through as fast as it is found.

    Examples
    --------
    >>> kept_beside(Path("team.logbook"), 10**9, "0a1b", ".times").as_posix()
    'team clips/0a1b.times'
    >>> kept_beside(Path("team.logbook"), 10**6, "0a1b", ".times") is None
    True
    """
    if size_bytes < WORTH_KEEPING_BYTES:
        return None
    return logbook.with_name(f"{logbook.stem} clips") / f"{fingerprint}{ending}"
