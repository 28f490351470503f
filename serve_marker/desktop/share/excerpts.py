"""Excerpts: serves of a film one after the other as MP4, drawn on as stills are and slowed at the landing.

Drawn on, every frame of the film is shown once, each for its own time; around the landing for longer. Without drawing
the film's own frames are copied as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter, QTransform

from serve_marker.court.aims import aim_words
from serve_marker.desktop.share.serve_drawings import ServeDrawings, ServeDrawn
from serve_marker.desktop.widgets.overlay_painter import paint, picture_to_image, qimage
from serve_marker.desktop.widgets.theme import FILM
from serve_marker.errors import UserError
from serve_marker.logbook.file_name_order import by_name
from serve_marker.logbook.records import Serve
from serve_marker.logbook.store import Logbook
from serve_marker.marking.landing import served_to
from serve_marker.report.bundle import make_folder
from serve_marker.report.excerpt_plan import Moments, moments_of, shown_for_s
from serve_marker.report.overlay_items import (
    DisplayList,
    Label,
    Polyline,
    aim_overlay,
    passers_overlay,
)
from serve_marker.report.still_overlay import arc_and_band_px, flight_overlay
from serve_marker.report.still_sizes import REFERENCE_PX
from serve_marker.report.write_files import free_name
from serve_marker.study.serve_columns import serve_table
from serve_marker.video.clip import Clip
from serve_marker.video.cut import copy_parts
from serve_marker.video.encode import VideoWriter
from serve_marker.video.pixel_shape import stretch_of
from serve_marker.video.progress import IsCancelled, Progress, ProgressReporter

LINES_OF_THE_FLOOR = ("court-line", "net")
"""Drawn on a still, and seen on the film itself."""
LONGEST_SIDE_PX = 1920
"""Of larger films excerpts are made smaller: phones show no more."""


@dataclass(frozen=True, eq=False)
class Shot:
    """One serve of an excerpt on its clip."""

    serve: Serve
    clip: Clip
    moments: Moments

    @property
    def frames(self) -> range:
        """The frames shown."""
        from_s, to_s = self.moments.span_s
        return range(self.clip.frame_at(from_s), self.clip.frame_at(to_s) + 1)


def chosen_serves(
    logbook: Logbook, practice_id: str | None = None, player_ids: Sequence[str] = (), aim: str = ""
) -> list[Serve]:
    """Return the serves of a practice, of some players and at an aim, each where it is given."""
    return [
        serve
        for serve in logbook.serves(practice_id=practice_id)
        if (not player_ids or serve.player_id in player_ids) and (not aim or aim in (serve.aim, aim_words(serve.aim)))
    ]


def write_excerpts(
    logbook: Logbook,
    out: Path,
    serves: Sequence[Serve],
    overlay: bool = True,
    progress: Progress | None = None,
    cancelled: IsCancelled | None = None,
    tell: Callable[[str], object] | None = None,
) -> list[Path]:
    """Write serves as MP4: one file where ``out`` ends in .mp4, else one for each server into that folder.

    Parameters
    ----------
    overlay : False copies the film as it is, one file for each server and clip; each part begins at a key frame.
    tell : takes a sentence about each clip that could not be used; one line on stderr by default.

    Raises
    ------
    UserError
        Where none of the serves can be shown, or a file cannot be written.
    Cancelled
        If `cancelled` says so; the files written by then are whole and stay.
    """
    if not serves:
        raise UserError("No serves match this choice; choose others.")
    drawings = ServeDrawings(logbook, tell)
    drawings.take_rows(serve_table(logbook).to_dict("records"))
    try:
        shots = _shots(drawings, serves)
        if not shots:
            raise UserError("No excerpt could be made: no film of these serves is at hand.")
        files = _files(drawings, shots, out, overlay)
        make_folder(out.parent if _is_one_file(out) else out)
        if overlay:
            _draw_files(drawings, files, ProgressReporter(progress, cancelled))
        else:
            _copy_files(files, ProgressReporter(progress, cancelled))
    finally:
        drawings.close()
    return [path for path, _ in files]


def _is_one_file(out: Path) -> bool:
    return out.suffix.lower() == ".mp4"


def _shots(drawings: ServeDrawings, serves: Sequence[Serve]) -> list[Shot]:
    """The serves that can be shown, in the order they were filmed."""
    shots = []
    for serve in sorted(serves, key=lambda one: (by_name(drawings.clips[one.clip_id].path), one.moment_s or 0.0)):
        moments = moments_of(serve)
        reader = drawings.reader_for(serve.clip_id) if moments is not None else None
        if moments is not None and reader is not None:
            shots.append(Shot(serve, reader.clip, moments))
    return shots


def _files(
    drawings: ServeDrawings, shots: Sequence[Shot], out: Path, overlay: bool
) -> list[tuple[Path, Sequence[Shot]]]:
    """The files to write, each with what it shows."""
    if _is_one_file(out):
        if not overlay and len({shot.clip.path for shot in shots}) > 1:
            raise UserError("Without the overlay one file holds one clip; name a folder with -o.")
        return [(out, shots)]

    def name_of(shot: Shot) -> str:
        return " ".join([drawings.server(shot.serve), *([] if overlay else [shot.clip.path.stem])])

    taken: set[str] = set()
    by_file = groupby(sorted(shots, key=name_of), key=name_of)
    return [(out / f"{free_name(name, taken)}.mp4", list(own)) for name, own in by_file]


def _copy_files(files: Sequence[tuple[Path, Sequence[Shot]]], reporter: ProgressReporter) -> None:
    for done, (path, shots) in enumerate(files):
        reporter.reach(done, len(files))
        copy_parts(shots[0].clip, [shot.moments.span_s for shot in shots], path)
    reporter.reach(1, 1)


def _draw_files(
    drawings: ServeDrawings, files: Sequence[tuple[Path, Sequence[Shot]]], reporter: ProgressReporter
) -> None:
    of = sum(len(shot.frames) for _, shots in files for shot in shots)
    done = 0
    for path, shots in files:
        size_px = _size_px(shots[0].clip)
        with VideoWriter(path, size_px, shots[0].clip.shown_fps) as writer:
            for shot in shots:
                done = _draw_shot(drawings, shot, size_px, writer, reporter, done, of)


def _draw_shot(
    drawings: ServeDrawings,
    shot: Shot,
    size_px: tuple[int, int],
    writer: VideoWriter,
    reporter: ProgressReporter,
    done: int,
    of: int,
) -> int:
    """Draw and write the frames of a shot; return how many frames are done by then. A damaged frame is left out."""
    reader = drawings.reader_for(shot.serve.clip_id)
    if reader is None:
        return done + len(shot.frames)
    canvas = _Canvas(shot.clip, size_px)
    drawing = _Drawing(drawings, shot)
    times_s = shot.clip.times_s[shot.frames.start : shot.frames.stop]
    slowed_at_s = shot.moments.ended_s if shot.serve.landing is not None else None
    lasts_s = shown_for_s(times_s, 1 / shot.clip.shown_fps, slowed_at_s)
    for number, time_s, last_s in zip(shot.frames, times_s.tolist(), lasts_s.tolist(), strict=True):
        reporter.reach(done, of)
        done += 1
        try:
            picture = reader.frame(number)
        except UserError:
            continue
        writer.show(
            canvas.drawn(picture, drawing.kept_at(float(time_s)), drawing.flown_at(float(time_s))), float(last_s)
        )
    reporter.reach(done, of)
    return done


def _size_px(clip: Clip) -> tuple[int, int]:
    """The size of an excerpt: the film's, with square pixels, even sides, and none longer than LONGEST_SIDE_PX."""
    wider, higher = stretch_of(clip.pixel_aspect)
    size = np.array([clip.width * wider, clip.height * higher])
    size *= min(1.0, LONGEST_SIDE_PX / size.max())
    wide, high = (2 * max(1, round(side / 2)) for side in size)
    return wide, high


class _Drawing:
    """What is drawn on the film of a serve from moment to moment."""

    def __init__(self, drawings: ServeDrawings, shot: Shot) -> None:
        self._moments = shot.moments
        self._arc_px: tuple[tuple[float, float], ...] = ()
        self._meant: DisplayList = (Label(drawings.server(shot.serve), (0.0, 0.0)),)
        self._landed: DisplayList = self._meant
        if shot.serve.view_id in drawings.stored_views:
            self._draw(drawings.drawn(shot.serve))

    def _draw(self, drawn: ServeDrawn) -> None:
        view, judgement, serve = drawn.view, drawn.judgement, drawn.serve
        half = judgement.half or served_to(serve)
        server = ", ".join(part for part in (drawn.caption[0], aim_words(serve.aim)) if part)
        aimed = (*aim_overlay(view, drawn.aim, half), *passers_overlay(view, drawn.formation, half))
        self._meant = (*aimed, Label(server, (0.0, 0.0)))
        flight = flight_overlay(view, drawn.path, drawn.over_net)
        still = ServeDrawings.still_items(drawn)
        on_film = tuple(item for item in still if item.role not in LINES_OF_THE_FLOOR)
        self._landed = (*on_film, Label(", ".join(drawn.caption), (0.0, 0.0)))
        if drawn.path is not None and flight:
            self._arc_px = tuple((float(x), float(y)) for x, y in arc_and_band_px(view, drawn.path)[0])

    def kept_at(self, time_s: float) -> DisplayList:
        """What stays from frame to frame: aim and passers, and from the landing on what a still shows."""
        return self._landed if time_s >= self._moments.ended_s else self._meant

    def flown_at(self, time_s: float) -> DisplayList:
        """The way of the ball so far, until the landing."""
        hit_s, ended_s = self._moments.hit_s, self._moments.ended_s
        if not hit_s < time_s < ended_s:
            return ()
        flown = round(len(self._arc_px) * (time_s - hit_s) / (ended_s - hit_s))
        return (Polyline(self._arc_px[:flown], "flight"),) if flown > 1 else ()


class _Canvas:
    """A picture of an excerpt's size that a film's frames are painted on, whole and in their shape."""

    def __init__(self, clip: Clip, size_px: tuple[int, int]) -> None:
        wider, higher = stretch_of(clip.pixel_aspect)
        true_px = np.array([clip.width * wider, clip.height * higher])
        scale = float((np.array(size_px) / true_px).min())
        shown_px = true_px * scale
        left, top = (np.array(size_px) - shown_px) / 2
        self._image = QImage(*size_px, QImage.Format.Format_RGB32)
        self._image.fill(0)
        self._room = QRectF(left, top, *shown_px)
        self._to_shown = picture_to_image() * QTransform.fromScale(shown_px[0] / clip.width, shown_px[1] / clip.height)
        self._to_shown *= QTransform.fromTranslate(left, top)
        self._unit = max(size_px) / REFERENCE_PX
        self._layer = QImage(*size_px, QImage.Format.Format_ARGB32_Premultiplied)
        self._kept: DisplayList | None = None

    def drawn(self, picture: NDArray[np.uint8], kept: DisplayList, more: DisplayList) -> NDArray[np.uint8]:
        """A frame (H, W, 3) RGB with what is drawn over it, (H, W, 4) BGRA, until the next one is drawn.

        What is ``kept`` from frame to frame is drawn once.
        """
        if kept is not self._kept:
            self._layer.fill(0)
            self._paint(self._layer, kept)
            self._kept = kept
        painter = QPainter(self._image)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.drawImage(self._room, qimage(picture))
        painter.drawImage(0, 0, self._layer)
        painter.end()
        if more:
            self._paint(self._image, more)
        rows = np.frombuffer(self._image.constBits(), np.uint8)
        return rows.reshape(self._image.height(), self._image.width(), 4)

    def _paint(self, image: QImage, items: DisplayList) -> None:
        painter = QPainter(image)
        paint(painter, items, FILM, self._to_shown, self._room, self._unit)
        painter.end()
