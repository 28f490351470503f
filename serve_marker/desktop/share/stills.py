"""Stills: each landing on its exact frame, and all landings on the gym's own picture, by server and by aim too.

A still is drawn by the painter of the window, so it shows what the coach saw. Letters need a
QGuiApplication; on the command line one runs with the platform ``offscreen``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from serve_marker.court.aims import aim_words
from serve_marker.desktop.share.serve_drawings import ServeDrawings
from serve_marker.desktop.widgets.overlay_painter import image_array
from serve_marker.desktop.widgets.still_painter import captioned_still
from serve_marker.errors import UserError
from serve_marker.logbook.file_name_order import by_name
from serve_marker.logbook.records import Practice, Serve
from serve_marker.logbook.store import Logbook
from serve_marker.report.bundle import make_folder
from serve_marker.report.overlay_items import DisplayList, practice_overlay
from serve_marker.report.still_sizes import DEFAULT_SIZE, StillSize, still_size
from serve_marker.report.write_files import free_name, safe_name, write_png
from serve_marker.study.sentences import count_words, date_words
from serve_marker.study.serve_columns import serve_table
from serve_marker.video.frames import FrameReader
from serve_marker.video.progress import Progress

ALL = "all landings"


def write_stills(
    logbook: Logbook,
    folder: Path,
    practice_id: str | None = None,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
    tell: Callable[[str], object] | None = None,
    size: str = DEFAULT_SIZE,
) -> list[Path]:
    """Write the stills of one practice or of all into a folder of their own each, and return their paths.

    Parameters
    ----------
    progress : called with (stills done, of how many).
    cancelled : asked before each still; what is written by then is whole and stays.
    tell : takes a sentence about each clip that could not be used; one line on stderr by default.
    size : one of STILL_SIZES.

    Raises
    ------
    UserError
        Where there are landings but no clip to show them on, and where there is no such size.
    """
    maker = _StillMaker(logbook, folder, tell, still_size(size))
    jobs = list(maker.jobs(practice_id))
    written: list[Path] = []
    try:
        for done, job in enumerate(jobs):
            if cancelled is not None and cancelled():
                return written
            path = maker.write(job)
            if path is not None:
                written.append(path)
            if progress is not None:
                progress(done + 1, len(jobs))
    finally:
        maker.close()
    if jobs and not written:
        raise UserError("No still could be made: none of the clips is at hand. Put them back.")
    return written


@dataclass(frozen=True)
class _Job:
    """One still: of one serve, or of many serves of a practice through one view, then called what ``group`` says."""

    practice: Practice
    view_id: str
    serves: tuple[Serve, ...]
    file: Path
    group: str = ""


class _StillMaker:
    def __init__(self, logbook: Logbook, folder: Path, tell: Callable[[str], object] | None, size: StillSize) -> None:
        self._size = size
        self._logbook = logbook
        self._folder = folder
        self._drawings = ServeDrawings(logbook, tell)

    def jobs(self, practice_id: str | None) -> Iterator[_Job]:
        """Serves in the order of the film, so that each clip is decoded once, then the practice's own pictures."""
        taken: set[str] = set()
        drawings = self._drawings
        for practice in self._logbook.practices():
            if practice_id not in (None, practice.id):
                continue
            serves = [serve for serve in self._logbook.serves(practice_id=practice.id) if drawings.is_landed(serve)]
            if not serves:
                continue
            place = self._folder / free_name(f"{practice.date} {practice.name}", taken)
            drawings.take_rows(serve_table(self._logbook, practice.id).to_dict("records"))
            serves.sort(key=lambda serve: (by_name(drawings.clips[serve.clip_id].path), serve.moment_s or 0.0))
            for number, serve in enumerate(serves, 1):
                name = safe_name(drawings.server(serve))
                yield _Job(practice, serve.view_id or "", (serve,), place / f"{number:03d} {name}.png")
            by_view = sorted(serves, key=lambda serve: serve.view_id or "")
            names: set[str] = set()
            for view_id, seen in groupby(by_view, key=lambda serve: serve.view_id or ""):
                for group, folder, chosen in self._groups(tuple(seen)):
                    name = free_name(f"{group or ALL} {drawings.stored_views[view_id].name}", names)
                    yield _Job(practice, view_id, chosen, place / folder / f"{name}.png", group or practice.name or ALL)

    def _groups(self, seen: tuple[Serve, ...]) -> Iterator[tuple[str, str, tuple[Serve, ...]]]:
        """All landings, then those of each server and at each aim where there are several: name, folder, serves."""
        yield "", "", seen
        for folder, key in (("by server", self._drawings.server), ("by aim", lambda serve: aim_words(serve.aim))):
            named = sorted((serve for serve in seen if key(serve)), key=key)
            groups = [(name, tuple(own)) for name, own in groupby(named, key=key)]
            if len(groups) > 1 or len(named) < len(seen):
                yield from ((name, folder, own) for name, own in groups)

    def write(self, job: _Job) -> Path | None:
        """Write one still; None where its clip cannot be used."""
        found = self._first_readable(job.serves)
        if found is None:
            return None
        serve, reader = found
        time_s = reader.clip.times_s[0] if job.group or serve.landing is None else serve.landing.time_s
        try:
            image = reader.frame(reader.clip.frame_at(float(time_s)))
        except UserError as error:
            self._drawings.tell(str(error))
            return None
        items, caption = self._items(job)
        drawn = captioned_still(image, items, caption, self._size, reader.clip.pixel_aspect)
        make_folder(job.file.parent)
        write_png(image_array(drawn), job.file)
        return job.file

    def _items(self, job: _Job) -> tuple[DisplayList, Sequence[str]]:
        """What is drawn over the picture, and the parts of the caption below it."""
        if job.group:
            view = self._drawings.view(job.view_id)
            judged = [self._drawings.judged(serve, view) for serve in job.serves]
            caption = (job.group, date_words(job.practice.date), count_words(len(job.serves), "landing"))
            judgements, aims = [judgement for judgement, _ in judged], [aim for _, aim in judged]
            return practice_overlay(view, job.serves, judgements, aims), caption
        drawn = self._drawings.drawn(job.serves[0])
        return self._drawings.still_items(drawn), drawn.caption

    def close(self) -> None:
        """Let go of the film."""
        self._drawings.close()

    def _first_readable(self, serves: Sequence[Serve]) -> tuple[Serve, FrameReader] | None:
        readers = ((serve, self._drawings.reader_for(serve.clip_id)) for serve in serves)
        return next(((serve, reader) for serve, reader in readers if reader is not None), None)
