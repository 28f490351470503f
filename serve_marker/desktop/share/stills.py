"""Stills: each landing on its exact frame, and all landings on the gym's own picture, by server and by aim too.

A still is drawn by the painter of the window, so it shows what the coach saw. Letters need a
QGuiApplication; on the command line one runs with the platform ``offscreen``.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

from serve_marker.camera.fitting.repeatability import OWN_CLICK, own_frames_off
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.court.aims import Aim, aim_words, parse_aim
from serve_marker.desktop.session.film_library import FilmFrames, FilmLibrary
from serve_marker.desktop.widgets.overlay_painter import image_array
from serve_marker.desktop.widgets.still_painter import captioned_still
from serve_marker.errors import UserError
from serve_marker.logbook.clip_places import may_open, not_opened_sentence
from serve_marker.logbook.file_name_order import by_name
from serve_marker.logbook.records import ClipEntry, Practice, Serve
from serve_marker.logbook.store import Logbook
from serve_marker.marking.judging import Judgement, judge
from serve_marker.printable import printable
from serve_marker.report.overlay_items import DisplayList, practice_overlay, serve_overlay, shape_for
from serve_marker.report.place_words import place_words
from serve_marker.report.still_overlay import flight_overlay, miss_overlay, miss_words
from serve_marker.report.still_sizes import DEFAULT_SIZE, StillSize, still_size
from serve_marker.report.write_files import free_name, safe_name, write_png
from serve_marker.study.flight_path import flight_path
from serve_marker.study.sentences import count_words, date_words, over_net_words, pace_words
from serve_marker.study.serve_columns import scheme_for, serve_table
from serve_marker.study.settings import settings_of
from serve_marker.study.stored_formations import formations_of
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
    maker = _StillMaker(logbook, folder, tell or _tell_on_stderr, still_size(size))
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
    def __init__(self, logbook: Logbook, folder: Path, tell: Callable[[str], object], size: StillSize) -> None:
        self._size = size
        self._logbook = logbook
        self._folder = folder
        self._tell = tell
        self._clips: dict[str, ClipEntry] = {clip.id: clip for clip in logbook.clips()}
        self._stored_views = {view.id: view for view in logbook.views()}
        self._formations, self._settings = formations_of(logbook), settings_of(logbook)
        self._frames_off = own_frames_off(logbook.get_setting(OWN_CLICK))
        self._players = {player.id: player for player in logbook.players()}
        self._views: dict[str, View] = {}
        self._rows: dict[str, dict[str, Any]] = {}
        self._unusable: set[str] = set()
        self._frames = FilmFrames(FilmLibrary(logbook))

    def jobs(self, practice_id: str | None) -> Iterator[_Job]:
        """Serves in the order of the film, so that each clip is decoded once, then the practice's own pictures."""
        taken: set[str] = set()
        for practice in self._logbook.practices():
            if practice_id not in (None, practice.id):
                continue
            serves = [serve for serve in self._logbook.serves(practice_id=practice.id) if self._is_landed(serve)]
            if not serves:
                continue
            place = self._folder / free_name(f"{practice.date} {practice.name}", taken)
            table = serve_table(self._logbook, practice.id)
            self._rows.update({str(row["serve_id"]): row for row in table.to_dict("records")})
            serves.sort(key=lambda serve: (by_name(self._clips[serve.clip_id].path), serve.moment_s or 0.0))
            for number, serve in enumerate(serves, 1):
                name = safe_name(self._server(serve))
                yield _Job(practice, serve.view_id or "", (serve,), place / f"{number:03d} {name}.png")
            by_view = sorted(serves, key=lambda serve: serve.view_id or "")
            names: set[str] = set()
            for view_id, seen in groupby(by_view, key=lambda serve: serve.view_id or ""):
                for group, folder, chosen in self._groups(tuple(seen)):
                    name = free_name(f"{group or ALL} {self._stored_views[view_id].name}", names)
                    yield _Job(practice, view_id, chosen, place / folder / f"{name}.png", group or practice.name or ALL)

    def _groups(self, seen: tuple[Serve, ...]) -> Iterator[tuple[str, str, tuple[Serve, ...]]]:
        """All landings, then those of each server and at each aim where there are several: name, folder, serves."""
        yield "", "", seen
        for folder, key in (("by server", self._server), ("by aim", lambda serve: aim_words(serve.aim))):
            named = sorted((serve for serve in seen if key(serve)), key=key)
            groups = [(name, tuple(own)) for name, own in groupby(named, key=key)]
            if len(groups) > 1 or len(named) < len(seen):
                yield from ((name, folder, own) for name, own in groups)

    def write(self, job: _Job) -> Path | None:
        """Write one still; None where its clip cannot be used."""
        view = self._view(job.view_id)
        found = self._first_readable(job.serves)
        if found is None:
            return None
        serve, reader = found
        time_s = reader.clip.times_s[0] if job.group or serve.landing is None else serve.landing.time_s
        try:
            image = reader.frame(reader.clip.frame_at(float(time_s)))
        except UserError as error:
            self._tell(str(error))
            return None
        items, caption = self._items(job, view)
        drawn = captioned_still(image, items, caption, self._size, reader.clip.pixel_aspect)
        _make_folder(job.file.parent)
        write_png(image_array(drawn), job.file)
        return job.file

    def _items(self, job: _Job, view: View) -> tuple[DisplayList, Sequence[str]]:
        """What is drawn over the picture, and the parts of the caption below it."""
        scheme = scheme_for(self._logbook, view.court)
        judgements = [judge(serve, view.court, scheme) for serve in job.serves]
        aims = [parse_aim(serve.aim, view.court, scheme) for serve in job.serves]
        if job.group:
            caption = (job.group, date_words(job.practice.date), count_words(len(job.serves), "landing"))
            return practice_overlay(view, job.serves, judgements, aims), caption
        (serve,), (judgement,), (aim,) = job.serves, judgements, aims
        formation = self._formations.get(serve.formation_id or "")
        row = self._rows[serve.id]
        path = flight_path(serve, view, self._clips[serve.clip_id], self._players, self._frames_off)
        over = over_net_words(*(float(row[f"net_clearance_{part}m"]) for part in ("", "low_", "high_")))
        above = (*flight_overlay(view, path, over), *miss_overlay(view, aim, judgement))
        items = serve_overlay(view, serve, judgement, aim, above, formation)
        return items, self._caption(serve, judgement, aim)

    def close(self) -> None:
        """Let go of the film."""
        self._frames.close()

    def _is_landed(self, serve: Serve) -> bool:
        seen = serve.landing is not None and serve.landing.pixel is not None and serve.landing_point is not None
        return seen and serve.view_id in self._stored_views

    def _view(self, view_id: str) -> View:
        if view_id not in self._views:
            stored = self._stored_views[view_id]
            self._views[view_id] = view_from_text(stored.document, stored.name)
        return self._views[view_id]

    def _server(self, serve: Serve) -> str:
        return str(self._rows[serve.id]["server"]) or "server not known"

    def _caption(self, serve: Serve, judgement: Judgement, aim: Aim | None) -> Sequence[str]:
        """Who served, where that was beside the aim, and how fast it flew."""
        row = self._rows[serve.id]
        where = miss_words(aim, judgement, shape_for(serve, judgement)) or place_words(judgement, serve.outcome)
        pace = pace_words(float(row["pace_mps"]), unit=self._settings.pace_unit)
        return [part for part in (self._server(serve), where, pace) if part]

    def _first_readable(self, serves: Sequence[Serve]) -> tuple[Serve, FrameReader] | None:
        readers = ((serve, self._reader_for(serve.clip_id)) for serve in serves)
        return next(((serve, reader) for serve, reader in readers if reader is not None), None)

    def _reader_for(self, clip_id: str) -> FrameReader | None:
        if clip_id in self._unusable:
            return None
        entry = self._clips[clip_id]
        try:
            reader = self._frames.reader(entry)
            if reader is None:
                if not may_open(self._logbook, entry.path):
                    raise UserError(not_opened_sentence(entry))
                name = entry.file_name
                raise UserError(f"{name} is not where it was. Put it beside the logbook for its stills.")
        except UserError as error:
            self._unusable.add(clip_id)
            self._tell(str(error))
            return None
        return reader


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(f"{folder} cannot be made ({error.strerror}); choose another folder.") from error


def _tell_on_stderr(sentence: str) -> None:
    sys.stderr.write(f"{printable(sentence)}\n")
