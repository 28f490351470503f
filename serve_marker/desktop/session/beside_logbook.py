"""Where what was read of a long clip is kept beside the logbook, so that it is read only once."""

from __future__ import annotations

from pathlib import Path

LONG_S = 180.0


def is_long(duration_s: float) -> bool:
    """Return whether a clip takes long enough to read that it is worth keeping; NaN is a length not known.

    Examples
    --------
    >>> is_long(5400.0), is_long(float("nan")), is_long(12.0)
    (True, True, False)
    """
    return not duration_s < LONG_S


def kept_beside(logbook: Path, fingerprint: str, ending: str) -> Path:
    """Return the file for a clip.

    Examples
    --------
    >>> kept_beside(Path("team.logbook"), "0a1b", ".times").as_posix()
    'team clips/0a1b.times'
    """
    return logbook.with_name(f"{logbook.stem} clips") / f"{fingerprint}{ending}"
