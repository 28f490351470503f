"""The film's picture of a serve that is pointed at in a chart: small, made off the window's thread, and kept."""

from __future__ import annotations

from collections import OrderedDict

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage, QPixmap
from PySide6.QtWidgets import QWidget

from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.court.aims import parse_aim
from serve_marker.desktop.session.film_library import FilmFrames, FilmLibrary
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.still_painter import render_still
from serve_marker.logbook.records import Serve
from serve_marker.logbook.store import Logbook
from serve_marker.marking.judging import judge
from serve_marker.report.overlay_items import DisplayList, serve_overlay
from serve_marker.study.serve_columns import scheme_for
from serve_marker.study.stored_formations import formations_of

WIDTH_PX = 360
KEPT = 200
AWAY_PX = 18


class HoverStill(QWidget):
    """Shows the still of the serve pointed at beside the pointer; nothing where its film is not at hand."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._worker = Worker("glance", self)
        self._room = parent
        self._label = PlainLabel(parent=parent)
        self._label.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self._label.setAccessibleName("Still of the serve pointed at")
        self._label.hide()
        self._kept: OrderedDict[str, QPixmap | None] = OrderedDict()
        self._wanted = ""
        self._frames: FilmFrames | None = None
        self.hide()

    @property
    def shown(self) -> bool:
        """Whether a still is shown."""
        return self._label.isVisible()

    @property
    def busy(self) -> bool:
        """Whether a still is being made."""
        return self._worker.busy

    def forget(self) -> None:
        """The serves or their film changed: every still is made anew, the one under way too."""
        self._kept.clear()
        self._let_go()

    def close_workers(self) -> None:
        """Let the work that runs end, and go of the film."""
        self._worker.close()
        self._frames = None

    def point_at(self, serve_id: str, films: FilmLibrary | None, at: QPoint) -> None:
        """Show a serve's still beside a place of the parent; "" hides it."""
        self._wanted = serve_id
        self._label.hide()
        if not serve_id or films is None:
            self._worker.cancel()
            return
        if serve_id in self._kept:
            self._show(serve_id, at)
            return

        def made(image: QImage | None) -> None:
            self._kept[serve_id] = None if image is None else QPixmap.fromImage(image)
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
            self._show(serve_id, at)

        if self._frames is None or self._frames.films is not films:
            self._let_go()
            self._frames = FilmFrames(films)
        self._worker.submit(still_of, self._frames, serve_id, done=made, failed=lambda _error: made(None))

    def _let_go(self) -> None:
        """Drop what is asked for and the film; a frame being read holds it until it is done."""
        self._worker.cancel()
        self._frames = None

    def _show(self, serve_id: str, at: QPoint) -> None:
        pixels = self._kept[serve_id]
        if serve_id != self._wanted or pixels is None:
            return
        self._label.setPixmap(pixels)
        self._label.resize(pixels.size())
        room = self._room.rect()
        left = (
            at.x() + AWAY_PX if at.x() + AWAY_PX + pixels.width() < room.width() else at.x() - AWAY_PX - pixels.width()
        )
        top = min(max(0, at.y() - pixels.height() // 2), max(0, room.height() - pixels.height()))
        self._label.move(max(0, left), top)
        self._label.raise_()
        self._label.show()


def still_of(frames: FilmFrames, serve_id: str) -> QImage | None:
    """Return a serve's still, 360 px wide, as it would be shared; None where the film is not at hand."""
    logbook = frames.films.logbook
    serve = next(iter(logbook.serves(serve_id=serve_id)), None)
    if serve is None or serve.moment_s is None:
        return None
    entry = next(clip for clip in logbook.clips() if clip.id == serve.clip_id)
    reader = frames.reader(entry)
    if reader is None:
        return None
    frame = reader.frame(reader.clip.frame_at(serve.moment_s))
    image = render_still(frame, _items(logbook, serve), pixel_aspect=reader.clip.pixel_aspect)
    return image.scaledToWidth(WIDTH_PX, Qt.TransformationMode.SmoothTransformation)


def _items(logbook: Logbook, serve: Serve) -> DisplayList:
    stored = next((view for view in logbook.views() if view.id == serve.view_id), None)
    if stored is None:
        return ()
    view = view_from_text(stored.document, stored.name)
    scheme = scheme_for(logbook, view.court)
    aim = parse_aim(serve.aim, view.court, scheme)
    formation = formations_of(logbook).get(serve.formation_id or "")
    return serve_overlay(view, serve, judge(serve, view.court, scheme), aim, (), formation)
