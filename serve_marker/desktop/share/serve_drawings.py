"""What stills and excerpts draw over the film of a serve, and the film itself."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from serve_marker.camera.fitting.repeatability import OWN_CLICK, own_frames_off
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.court.aims import Aim, parse_aim
from serve_marker.court.formations import Formation
from serve_marker.desktop.session.film_library import FilmFrames, FilmLibrary
from serve_marker.errors import UserError
from serve_marker.logbook.clip_places import may_open, not_opened_sentence
from serve_marker.logbook.records import ClipEntry, Serve
from serve_marker.logbook.store import Logbook
from serve_marker.marking.judging import Judgement, judge
from serve_marker.printable import printable
from serve_marker.report.overlay_items import DisplayList, serve_overlay, shape_for
from serve_marker.report.place_words import place_words
from serve_marker.report.still_overlay import flight_overlay, miss_overlay, miss_words
from serve_marker.study.flight_path import FlightPath, flight_path
from serve_marker.study.sentences import over_net_words, pace_words
from serve_marker.study.serve_columns import scheme_for
from serve_marker.study.settings import settings_of
from serve_marker.study.stored_formations import formations_of
from serve_marker.video.frames import FrameReader


@dataclass(frozen=True, eq=False)
class ServeDrawn:
    """All that is drawn of one serve, and told of it in the parts of a caption."""

    serve: Serve
    view: View
    judgement: Judgement
    aim: Aim | None
    formation: Formation | None
    path: FlightPath | None
    over_net: str
    caption: Sequence[str]


class ServeDrawings:
    """The serves of a logbook as they are drawn, and the frames of their clips.

    ``tell`` takes a sentence about each clip that could not be used; one line on stderr by default.
    """

    def __init__(self, logbook: Logbook, tell: Callable[[str], object] | None = None) -> None:
        self._logbook = logbook
        self._tell = tell or _tell_on_stderr
        self.clips: dict[str, ClipEntry] = {clip.id: clip for clip in logbook.clips()}
        self.stored_views = {view.id: view for view in logbook.views()}
        self.rows: dict[str, dict[str, Any]] = {}
        self._formations, self._settings = formations_of(logbook), settings_of(logbook)
        self._frames_off = own_frames_off(logbook.get_setting(OWN_CLICK))
        self._players = {player.id: player for player in logbook.players()}
        self._views: dict[str, View] = {}
        self._unusable: set[str] = set()
        self._frames = FilmFrames(FilmLibrary(logbook))

    def take_rows(self, rows: Iterable[dict[str, Any]]) -> None:
        """Take what the table of serves tells of those that will be drawn."""
        self.rows.update({str(row["serve_id"]): row for row in rows})

    def server(self, serve: Serve) -> str:
        """Return a server as she is written everywhere."""
        return str(self.rows[serve.id]["server"]) or "server not known"

    def is_landed(self, serve: Serve) -> bool:
        """Return whether a serve has a landing that a view places."""
        seen = serve.landing is not None and serve.landing.pixel is not None and serve.landing_point is not None
        return seen and serve.view_id in self.stored_views

    @staticmethod
    def still_items(drawn: ServeDrawn) -> DisplayList:
        """Return what a still of one serve shows."""
        view, judgement, aim = drawn.view, drawn.judgement, drawn.aim
        above = (*flight_overlay(view, drawn.path, drawn.over_net), *miss_overlay(view, aim, judgement))
        return serve_overlay(view, drawn.serve, judgement, aim, above, drawn.formation)

    def view(self, view_id: str) -> View:
        """Return a stored view."""
        if view_id not in self._views:
            stored = self.stored_views[view_id]
            self._views[view_id] = view_from_text(stored.document, stored.name)
        return self._views[view_id]

    def judged(self, serve: Serve, view: View) -> tuple[Judgement, Aim | None]:
        """Return what is judged of a serve, and its aim."""
        scheme = scheme_for(self._logbook, view.court)
        return judge(serve, view.court, scheme), parse_aim(serve.aim, view.court, scheme)

    def drawn(self, serve: Serve) -> ServeDrawn:
        """Return what is drawn of a serve that has a view."""
        view, row = self.view(serve.view_id or ""), self.rows[serve.id]
        judgement, aim = self.judged(serve, view)
        formation = self._formations.get(serve.formation_id or "")
        path = flight_path(serve, view, self.clips[serve.clip_id], self._players, self._frames_off)
        over = over_net_words(*(float(row[f"net_clearance_{part}m"]) for part in ("", "low_", "high_")))
        caption = self._caption(serve, judgement, aim)
        return ServeDrawn(serve, view, judgement, aim, formation, path, over, caption)

    def reader_for(self, clip_id: str) -> FrameReader | None:
        """Return the reader of a clip's frames; None, told once, where the clip cannot be used."""
        if clip_id in self._unusable:
            return None
        entry = self.clips[clip_id]
        try:
            reader = self._frames.reader(entry)
            if reader is None:
                if not may_open(self._logbook, entry.path):
                    raise UserError(not_opened_sentence(entry))
                name = entry.file_name
                raise UserError(f"{name} is not where it was. Put it beside the logbook.")
        except UserError as error:
            self._unusable.add(clip_id)
            self.tell(str(error))
            return None
        return reader

    def tell(self, sentence: str) -> None:
        """Say what could not be used."""
        self._tell(sentence)

    def close(self) -> None:
        """Let go of the film."""
        self._frames.close()

    def _caption(self, serve: Serve, judgement: Judgement, aim: Aim | None) -> Sequence[str]:
        """Who served, where that was beside the aim, and how fast it flew."""
        where = miss_words(aim, judgement, shape_for(serve, judgement)) or place_words(judgement, serve.outcome)
        pace = pace_words(float(self.rows[serve.id]["pace_mps"]), unit=self._settings.pace_unit)
        return [part for part in (self.server(serve), where, pace) if part]


def _tell_on_stderr(sentence: str) -> None:
    sys.stderr.write(f"{printable(sentence)}\n")
