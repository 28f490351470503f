"""What the picture draws for the hand: cross-hair, marks that can be dragged, the ring of focus."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QTransform, QWheelEvent

from serve_marker.desktop.session.court_words import landmark_words
from serve_marker.desktop.widgets.overlay_sizes import HALO, label_font
from serve_marker.desktop.widgets.theme import FILM, Palette

CROSS_GAP = 4.0
CROSS_ARM = 15.0
MARK_RADIUS = 7.0
HANDLE_RADIUS = 11.0


def held_centre(centre_px: float, film_px: int, shown_px: float) -> float:
    """The picture's centre along one axis, held so that no more than the letter-box lies beside the film.

    Examples
    --------
    >>> held_centre(10.0, 1920, 2000.0), held_centre(10.0, 1920, 960.0), held_centre(900.0, 1920, 960.0)
    (959.5, 479.5, 900.0)
    """
    if shown_px >= film_px:
        return (film_px - 1) / 2
    half = shown_px / 2
    return min(max(centre_px, half - 0.5), film_px - 0.5 - half)


def mark_at(marks: Mapping[str, tuple[float, float]], at: QPointF, to_widget: QTransform, reach: float) -> str | None:
    """The name of the nearest mark within reach of a widget point."""
    distances = {name: (to_widget.map(QPointF(*place_px)) - at).manhattanLength() for name, place_px in marks.items()}
    nearest = min(distances, key=lambda name: distances[name], default=None)
    return nearest if nearest is not None and distances[nearest] <= reach else None


def scrolled_by(event: QWheelEvent) -> QPointF | None:
    """How far two fingers scrolled, or None where the event means zoom (a wheel's notch, or Ctrl held)."""
    if event.modifiers() & Qt.KeyboardModifier.ControlModifier or event.pixelDelta().isNull():
        return None
    return QPointF(event.pixelDelta())


def draw_cross_hair(painter: QPainter, at: QPointF, arm: float = CROSS_ARM, gap: float = CROSS_GAP) -> None:
    """Four arms around a free middle, so that the pixel itself stays seen."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for colour, width in ((HALO, 4.0), (FILM.of("cursor"), 1.8)):
        painter.setPen(QPen(colour, width))
        for x, y in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            painter.drawLine(at + QPointF(x, y) * gap, at + QPointF(x, y) * arm)
    painter.restore()


def draw_marks(
    painter: QPainter,
    marks: Mapping[str, tuple[float, float]],
    chosen: str | None,
    to_widget: QTransform,
    bounds: QRectF,
) -> None:
    """Each mark as a small target with its middle free; the chosen one is double and named."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for name, place_px in marks.items():
        at = to_widget.map(QPointF(*place_px))
        if not bounds.contains(at):
            continue
        for colour, width in ((HALO, 4.0), (FILM.of("landmark"), 1.8)):
            painter.setPen(QPen(colour, width))
            painter.drawEllipse(at, MARK_RADIUS, MARK_RADIUS)
            if name == chosen:
                painter.drawEllipse(at, MARK_RADIUS + 5, MARK_RADIUS + 5)
        painter.setBrush(FILM.of("landmark"))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.drawEllipse(at, 1.3, 1.3)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if name == chosen:
            _name_mark(painter, name, at)
    painter.restore()


def draw_handles(
    painter: QPainter, marks: Mapping[str, tuple[float, float]], to_widget: QTransform, bounds: QRectF
) -> None:
    """A thin ring around each mark, wide enough that its shape stays seen."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for place_px in marks.values():
        at = to_widget.map(QPointF(*place_px))
        if bounds.contains(at):
            for colour, width in ((HALO, 3.0), (FILM.of("label"), 1.4)):
                painter.setPen(QPen(colour, width))
                painter.drawEllipse(at, HANDLE_RADIUS, HANDLE_RADIUS)
    painter.restore()


def _name_mark(painter: QPainter, name: str, at: QPointF) -> None:
    painter.setFont(label_font(0.85))
    words = landmark_words(name)
    box = painter.fontMetrics().boundingRect(words).adjusted(-6, -3, 6, 3)
    box.moveTopLeft((at + QPointF(16, 8)).toPoint())
    ground = QColor(FILM.of("label-ground"))
    ground.setAlphaF(0.82)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(ground)
    painter.drawRoundedRect(box, 4, 4)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(FILM.of("label"))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)


def draw_focus(painter: QPainter, rect: QRect, look: Palette) -> None:
    """The ring that shows where keys go."""
    painter.save()
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(QColor(look.accent), 2))
    painter.drawRect(rect.adjusted(1, 1, -1, -1))
    painter.restore()
