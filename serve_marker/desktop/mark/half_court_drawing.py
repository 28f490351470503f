"""How the half court is laid out and drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF

from serve_marker.confidence_level import ELLIPSE_95
from serve_marker.court.aims import Aim
from serve_marker.court.areas import AreaScheme, area_names, area_polygon
from serve_marker.court.dimensions import Court
from serve_marker.court.formations import Formation
from serve_marker.desktop.mark.formation_drawing import (
    NAME_MARGIN,
    draw_name,
    draw_passer,
    draw_passers_floor,
    name_box,
)
from serve_marker.desktop.mark.name_places import area_names_placed, first_free, letters_of_areas
from serve_marker.desktop.widgets.draw_shape import draw_shape
from serve_marker.desktop.widgets.text_sizes import SMALL_PT, pixels, sized
from serve_marker.desktop.widgets.theme import Palette
from serve_marker.report.overlay_items import ellipse_polygon

MARGIN_M = 1.3
NET_MARGIN_M = 0.7
WORD_SIZES = (20.0, 14.0, 11.0, 9.5)
WORD_HEIGHTS = (34, 25, 20, 18)
WORDS_HEIGHT = sum(WORD_HEIGHTS)
LOW, WORDS_WIDTH = 260, 112
LOW_WORD_SIZES = (13.0, 11.0, 9.5, 9.0)
"""In a widget lower than this the words stand beside the court, so wide, and smaller."""
LEGEND_HEIGHT = 20.0
LANDING_WORDS = {"disc": "on target", "half-disc": "perhaps", "square": "line", "ring": "in"}
"""What the shapes mean that no button of an ending shows."""
PASSER_SIDE, PASSER_PT = 10.0, 9.0


@dataclass(frozen=True)
class Passers:
    """Where the passers stand, and how wide the seams between them count [m]."""

    formation: Formation
    seam_width_m: float


@dataclass(frozen=True)
class Landing:
    """An earlier landing in the half frame [m]."""

    x_m: float
    y_m: float
    shape: str
    label: str
    serve_id: str


@dataclass(frozen=True, eq=False)
class Live:
    """The place under the cross-hair in the half frame [m], covariance (2, 2) [m2]."""

    x_m: float
    y_m: float
    cov_m2: NDArray[np.float64]


class HalfCourtDrawing:
    """One court and scheme, laid out in a widget of some size."""

    def __init__(self, court: Court, scheme: AreaScheme) -> None:
        self._court = court
        self._width_m = court.width_m
        self._depth_m = court.length_m / 2
        self._attack_line_m = court.attack_line_m
        self.areas = area_names(court.name)
        self._areas_m = {
            name: np.asarray(area_polygon(name, court, scheme).exterior.coords, dtype=float)[:-1] for name in self.areas
        }
        self._scale = 1.0
        self._origin = QPointF()
        self._size = (0, 0)
        self._words_room = QRectF()

    def lay_out(self, width: int, height: int) -> None:
        """Fit the court above its words; in a low widget they stand beside it."""
        self._size = (width, height)
        wide_m = self._width_m + 2 * MARGIN_M
        deep_m = self._depth_m + MARGIN_M + NET_MARGIN_M
        room = height - pixels(LEGEND_HEIGHT)
        is_low = height < pixels(LOW)
        beside, words_below = pixels(WORDS_WIDTH), pixels(WORDS_HEIGHT)
        across = width - beside if is_low else width
        down = room if is_low else room - words_below
        self._scale = min(across / wide_m, down / deep_m)
        self._origin = QPointF((across - self._width_m * self._scale) / 2, (self._depth_m + MARGIN_M) * self._scale)
        below = self._point(0, -NET_MARGIN_M).y()
        self._words_room = QRectF(across, 0, beside, room) if is_low else QRectF(0, below, width, words_below)

    def place(self, x_m: float, y_m: float) -> QPointF:
        """The widget point of a place in the half frame, held inside the drawing."""
        x_m = min(max(x_m, -MARGIN_M * 0.85), self._width_m + MARGIN_M * 0.85)
        y_m = min(max(y_m, -NET_MARGIN_M * 0.85), self._depth_m + MARGIN_M * 0.85)
        return self._point(x_m, y_m)

    def area_box(self, area: str) -> QRectF:
        """The box of an area in the widget."""
        return self._polygon(self._areas_m[area]).boundingRect()

    def area_at(self, at: QPointF) -> str:
        """The area under a widget point, or ""."""
        for name, corners_m in self._areas_m.items():
            if self._polygon(corners_m).containsPoint(at, Qt.FillRule.OddEvenFill):
                return name
        return ""

    def _point(self, x_m: float, y_m: float) -> QPointF:
        return QPointF(self._origin.x() + x_m * self._scale, self._origin.y() - y_m * self._scale)

    def _polygon(self, corners_m: NDArray[np.float64]) -> QPolygonF:
        return QPolygonF([self._point(float(x), float(y)) for x, y in corners_m])

    def _court_rect(self) -> QRectF:
        return QRectF(self._point(0, self._depth_m), self._point(self._width_m, 0))

    def draw_ground(
        self,
        painter: QPainter,
        look: Palette,
        aim: Aim | None,
        landings: Sequence[Landing],
        passers: Passers | None,
        font: QFont,
    ) -> None:
        """Court, aim, passers, earlier landings and the legend."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        court = self._court_rect()
        painter.fillRect(court, look.of("floor"))
        if aim is not None:
            self._draw_aim(painter, look, aim)
        if passers is not None:
            draw_passers_floor(painter, look, passers.formation, self._court, self._point, passers.seam_width_m)
        painter.setPen(QPen(QColor(look.line), 1, Qt.PenStyle.DashLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for corners_m in self._areas_m.values():
            painter.drawPolygon(self._polygon(corners_m))
        self._draw_lines(painter, look, court)
        marks = [self.box_of(landing) for landing in landings]
        standing = [] if passers is None else self.passers_placed(passers.formation, marks, font)
        taken = [*marks, *(box for square, name, _ in standing for box in (square, name))]
        self._draw_names(painter, look, font, taken)
        if passers is not None:
            letters = passer_letters(font)
            for square, name, words in standing:
                draw_passer(painter, look, square.center(), PASSER_SIDE)
                draw_name(painter, look, words, name.center(), letters)
        for landing, mark in zip(landings, marks, strict=True):
            draw_shape(painter, landing.shape, mark.center(), mark.width() / 2, look.of(landing.shape))
        self._draw_legend(painter, look, font)

    def box_of(self, landing: Landing) -> QRectF:
        """Return what an earlier landing's mark covers."""
        radius = min(6.5, max(4.0, self._scale * 0.2))
        box = QRectF(0, 0, 2 * radius, 2 * radius)
        box.moveCenter(self.place(landing.x_m, landing.y_m))
        return box

    def passers_placed(
        self, formation: Formation, marks: Sequence[QRectF], font: QFont
    ) -> list[tuple[QRectF, QRectF, str]]:
        """Return for each passer her square, the box of her name, and the name as far as there is room.

        Names stand below or above the squares, clear of other passers and of landings' ``marks`` where they can.
        """
        squares = []
        for passer in formation.passers:
            square = QRectF(0, 0, PASSER_SIDE, PASSER_SIDE)
            square.moveCenter(self.place(passer.x_m, passer.y_m))
            squares.append(square)
        metrics = QFontMetricsF(passer_letters(font))
        room = self._width_m / 3 * self._scale - 2 * NAME_MARGIN
        taken, placed = [*squares, *marks], []
        for passer, square in zip(formation.passers, squares, strict=True):
            is_wide = metrics.horizontalAdvance(passer.label) > room
            lines = passer.label.split(" ", 1) if is_wide else [passer.label]
            words = "\n".join(metrics.elidedText(line, Qt.TextElideMode.ElideRight, room) for line in lines)
            below = name_box(words, metrics)
            below.moveCenter(QPointF(square.center().x(), square.bottom() + below.height() / 2 + 1))
            above = below.translated(0, -(below.height() + square.height() + 2))
            box = first_free((below, above), taken) or below
            taken.append(box)
            placed.append((square, box, words))
        return placed

    def _draw_aim(self, painter: QPainter, look: Palette, aim: Aim) -> None:
        tint = look.of("aim")
        tint.setAlphaF(0.42 if look.name == "light" else 0.26)
        outline = self._polygon(np.asarray(aim.polygon.exterior.coords, dtype=float)[:-1])
        painter.setBrush(tint)
        painter.setPen(QPen(QColor(look.text), 1.6))
        painter.drawPolygon(outline)

    def _draw_lines(self, painter: QPainter, look: Palette, court: QRectF) -> None:
        line = look.of("court-line")
        painter.setPen(QPen(line, 2))
        painter.drawRect(court)
        if self._attack_line_m is not None:
            painter.drawLine(self._point(0, self._attack_line_m), self._point(self._width_m, self._attack_line_m))
        net = QPen(look.of("net"), 4)
        net.setCapStyle(Qt.PenCapStyle.FlatCap)
        painter.setPen(net)
        painter.drawLine(self._point(-0.6, 0), self._point(self._width_m + 0.6, 0))

    def _draw_names(self, painter: QPainter, look: Palette, font: QFont, taken: Sequence[QRectF]) -> None:
        painter.setFont(self._area_letters(font))
        painter.setPen(QColor(look.muted))
        for box, words in self.named_areas(taken, font).values():
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextDontClip, words)
        under_net = QRectF(self._point(0, 0), self._point(self._width_m, -NET_MARGIN_M)).adjusted(0, 3, 0, 3)
        painter.drawText(under_net, Qt.AlignmentFlag.AlignCenter, "net")

    def _area_letters(self, font: QFont) -> QFont:
        return letters_of_areas(self._width_m / 3 * self._scale, font)

    def named_areas(self, taken: Sequence[QRectF], font: QFont) -> dict[str, tuple[QRectF, str]]:
        """Return box and words of the name of each area that has room for it beside the boxes taken."""
        rooms = {name: self._polygon(corners_m).boundingRect() for name, corners_m in self._areas_m.items()}
        return area_names_placed(rooms, taken, self._area_letters(font))

    def _draw_legend(self, painter: QPainter, look: Palette, font: QFont) -> None:
        small = sized(font, SMALL_PT)
        painter.setFont(small)
        letters, radius, apart = QFontMetricsF(small), pixels(5), pixels(14)
        widths = [3 * radius + letters.horizontalAdvance(words) for words in LANDING_WORDS.values()]
        left = (self._size[0] - sum(widths) - apart * (len(widths) - 1)) / 2
        row = QRectF(0, self._size[1] - pixels(LEGEND_HEIGHT), 0, pixels(LEGEND_HEIGHT))
        for (shape, words), width in zip(LANDING_WORDS.items(), widths, strict=True):
            row.setLeft(left)
            row.setWidth(width)
            draw_shape(painter, shape, QPointF(left + radius, row.center().y()), radius, look.of(shape))
            painter.setPen(QColor(look.text))
            painter.drawText(row.adjusted(3 * radius, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter, words)
            left += width + apart

    def draw_pointed(self, painter: QPainter, look: Palette, area: str, by_key: bool) -> None:
        """Outline the area under the pointer or the keys."""
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(look.accent), 3 if by_key else 1.8))
        inset = 2
        painter.drawRoundedRect(self.area_box(area).adjusted(inset, inset, -inset, -inset), 4, 4)

    def draw_live(self, painter: QPainter, look: Palette, live: Live) -> None:
        """The place under the cross-hair with its error at true size."""
        at = self.place(live.x_m, live.y_m)
        painter.save()
        across, down = self._words_room.left(), self._words_room.top()
        painter.setClipRect(QRectF(0, 0, across or self._size[0], down or self._size[1]))
        if np.isfinite(live.cov_m2).all():
            ring_m = ellipse_polygon(np.array([live.x_m, live.y_m]), live.cov_m2, ELLIPSE_95)
            fill = look.of("cursor")
            fill.setAlphaF(0.2)
            painter.setBrush(fill)
            painter.setPen(QPen(look.of("cursor"), 1.4))
            painter.drawPolygon(self._polygon(ring_m))
        for colour, width in ((look.of("floor"), 4.5), (look.of("cursor"), 2.2)):
            painter.setPen(QPen(colour, width))
            for x, y in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                painter.drawLine(at + QPointF(x, y) * 3, at + QPointF(x, y) * 10)
        painter.restore()

    def draw_words(self, painter: QPainter, look: Palette, words: Sequence[str], font: QFont) -> None:
        """Up to four lines below the court or beside it, the first one largest."""
        room, is_low = self._words_room, self._size[1] < pixels(LOW)
        sizes = LOW_WORD_SIZES if is_low else WORD_SIZES
        top = room.top()
        for place, (line, size_pt, height) in enumerate(zip(words, sizes, WORD_HEIGHTS, strict=False)):
            letters = sized(font, size_pt)
            letters.setBold(place == 0)
            painter.setFont(letters)
            painter.setPen(QColor(look.muted if place > 1 else look.text))
            if is_low:
                wrapped = Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap
                box = painter.boundingRect(QRectF(room.left(), top, room.width(), room.bottom() - top), wrapped, line)
                painter.drawText(box, wrapped, line)
                top = box.bottom() + 4
            else:
                shown = QFontMetricsF(letters).elidedText(line, Qt.TextElideMode.ElideRight, room.width())
                row = QRectF(room.left(), top, room.width(), pixels(height))
                painter.drawText(row, Qt.AlignmentFlag.AlignCenter, shown)
                top = row.bottom()


def passer_letters(font: QFont) -> QFont:
    """Return the letters that passers' names are written in."""
    return sized(font, PASSER_PT)
