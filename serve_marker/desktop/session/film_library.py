"""The films of a logbook, each found and read once, whoever asks: the window, Study's stills, the stills to share."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from pathlib import Path

from serve_marker.logbook.moved_clips import find_moved, likely_folders
from serve_marker.logbook.records import ClipEntry
from serve_marker.logbook.store import Logbook
from serve_marker.video.clip import Clip, open_clip
from serve_marker.video.frames import FrameReader
from serve_marker.video.glance import glance

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
    """Return the file beside the logbook that keeps what was read of a long clip.

    Examples
    --------
    >>> kept_beside(Path("team.logbook"), "0a1b", ".times").as_posix()
    'team clips/0a1b.times'
    """
    return logbook.with_name(f"{logbook.stem} clips") / f"{fingerprint}{ending}"


@dataclass(frozen=True, eq=False)
class _KnownFilm:
    clip: Clip
    stamp: tuple[int, int] | None


class FilmLibrary:
    """The clips of one logbook as they were read. Any thread may ask; one file is read at a time."""

    def __init__(self, logbook: Logbook) -> None:
        self.logbook = logbook
        self._known: dict[str, _KnownFilm] = {}
        self._lock = threading.Lock()

    def keep(self, clip_id: str, clip: Clip) -> None:
        """Take a clip that was opened elsewhere, so that nobody reads it again."""
        self._known[clip_id] = _KnownFilm(clip, file_stamp(clip.path))

    def clip(self, entry: ClipEntry) -> Clip | None:
        """Return a clip as it was read, read anew only if its file changed; None where it is not at hand.

        Raises
        ------
        UserError
            If the file cannot be shown.
        """
        with self._lock:
            known = self._known.get(entry.id)
            if known is None or known.stamp is None or file_stamp(known.clip.path) != known.stamp:
                path = find_moved(entry, likely_folders(self.logbook))
                if path is None:
                    return None
                is_kept = is_long(glance(path).duration_s)
                table = kept_beside(self.logbook.path, entry.fingerprint, ".times") if is_kept else None
                self.keep(entry.id, open_clip(path, table_path=table))
            return self._known[entry.id].clip


class FilmFrames:
    """Frames of a library's films for one thread: the film asked for last stays open."""

    def __init__(self, films: FilmLibrary) -> None:
        self.films = films
        self._reader: FrameReader | None = None

    def reader(self, entry: ClipEntry) -> FrameReader | None:
        """Return the reader of a clip's frames; None where its file is not at hand."""
        clip = self.films.clip(entry)
        if self._reader is None or self._reader.clip is not clip:
            self.close()
            self._reader = FrameReader(clip) if clip is not None else None
        return self._reader

    def close(self) -> None:
        """Let go of the film."""
        reader, self._reader = self._reader, None
        if reader is not None:
            reader.close()


def file_stamp(path: Path) -> tuple[int, int] | None:
    """Return size and time of a file, which tell whether it changed; None where it is gone."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns
