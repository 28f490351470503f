"""Passers on a half court: the floor each plays, the seams between them, and who stands where."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPen
from shapely.geometry.base import BaseGeometry

from serve_marker.court.areas import SEAM_WIDTH_M
from serve_marker.court.dimensions import Court
from serve_marker.court.formations import Formation
from serve_marker.court.seams import cells, seam_polygons
from serve_marker.desktop.widgets.theme import Palette

PointOf = Callable[[float, float], QPointF]
"""The widget point of a place in the half frame [m]."""
SEAM_TINT = 0.3
NAME_MARGIN = 3.0


def draw_passers_floor(
    painter: QPainter,
    look: Palette,
    formation: Formation,
    court: Court,
    point_of: PointOf,
    seam_width_m: float = SEAM_WIDTH_M,
) -> None:
    """Tint the seams, and draw the borders of the floor that is each passer's."""
    tint = look.of("aim")
    tint.setAlphaF(SEAM_TINT)
    for seam in seam_polygons(formation, court, seam_width_m).values():
        painter.fillPath(_path(seam, point_of), tint)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(QColor(look.muted), 1.0))
    for cell in cells(formation, court).values():
        painter.drawPath(_path(cell, point_of))


def draw_passer(painter: QPainter, look: Palette, at: QPointF, side: float, held: bool = False) -> None:
    """A square where a passer stands; ``held`` is the one the arrow keys move."""
    box = QRectF(0, 0, side, side)
    box.moveCenter(at)
    painter.setPen(QPen(look.of("focus" if held else "label"), 3.0 if held else 1.8))
    painter.setBrush(look.of("floor"))
    painter.drawRect(box)


def draw_name(painter: QPainter, look: Palette, words: str, middle: QPointF, font: QFont) -> None:
    """A passer's name or role over a ground that keeps it readable."""
    box = name_box(words, QFontMetricsF(font))
    box.moveCenter(middle)
    ground = look.of("floor")
    ground.setAlphaF(0.85)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(ground)
    painter.drawRoundedRect(box, 4, 4)
    painter.setFont(font)
    painter.setPen(QColor(look.text))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)


def name_box(words: str, letters: QFontMetricsF) -> QRectF:
    """Return the size of a name with its ground, on as many lines as it has, as a box at (0, 0)."""
    lines = words.split("\n")
    width = max(letters.horizontalAdvance(line) for line in lines)
    return QRectF(0, 0, width + 2 * NAME_MARGIN, letters.height() * len(lines) + 2)


def _path(shape: BaseGeometry, point_of: PointOf) -> QPainterPath:
    path = QPainterPath()
    for part in getattr(shape, "geoms", [shape]):
        for ring in (part.exterior, *part.interiors) if part.geom_type == "Polygon" else ():
            corners = [point_of(x, y) for x, y in np.asarray(ring.coords).tolist()]
            path.moveTo(corners[0])
            for corner in corners[1:]:
                path.lineTo(corner)
    return path
