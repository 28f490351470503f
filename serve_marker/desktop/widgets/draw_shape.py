"""The shapes of a serve, drawn alike on film, chips, time bar, half court and list."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPainterPath, QPen, QPixmap

from serve_marker.desktop.widgets.theme import Palette, current


def draw_shape(
    painter: QPainter, shape: str, centre: QPointF, radius: float, colour: QColor, rim: QColor | None = None
) -> None:
    """Draw one shape in a circle of ``radius`` around ``centre``; a rim, that of the look in use, lifts it off all."""
    outline, filled = _paths(shape, centre, radius)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    width = max(1.2, radius * 0.3)
    rim = rim or current().of("rim")
    if shape == "half-disc":
        painter.fillPath(outline, rim)
    for pen_colour, pen_width in ((rim, width + max(2.4, radius * 0.48)), (colour, width)):
        pen = QPen(pen_colour, pen_width)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.strokePath(outline, pen)
    painter.fillPath(filled, colour)
    painter.restore()


def shape_icon(shape: str, palette: Palette, size: int = 18) -> QIcon:
    """A small icon of the shape, sharp on dense screens, and rimmed for a chosen row too."""
    icon = QIcon()
    rims = {QIcon.Mode.Normal: palette.of("rim"), QIcon.Mode.Selected: QColor(palette.on_accent)}
    for mode, rim in rims.items():
        pixmap = QPixmap(size * 2, size * 2)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        draw_shape(painter, shape, QPointF(size, size), size * 0.62, palette.of(shape), rim)
        painter.end()
        pixmap.setDevicePixelRatio(2.0)
        icon.addPixmap(pixmap, mode)
    return icon


def _paths(shape: str, centre: QPointF, radius: float) -> tuple[QPainterPath, QPainterPath]:
    outline, filled = QPainterPath(), QPainterPath()
    inner = radius * 0.85
    circle = QRectF(centre.x() - inner, centre.y() - inner, 2 * inner, 2 * inner)
    if shape == "cross":
        arm = radius * 0.75
        for sign in (1.0, -1.0):
            outline.moveTo(centre + QPointF(-arm, -arm * sign))
            outline.lineTo(centre + QPointF(arm, arm * sign))
    elif shape == "bar":
        box = QRectF(centre.x() - inner, centre.y() - radius * 0.22, 2 * inner, radius * 0.44)
        outline.addRect(box)
        filled.addRect(box)
    elif shape == "diamond":
        outline.moveTo(centre + QPointF(0, -radius))
        for corner in (QPointF(radius, 0), QPointF(0, radius), QPointF(-radius, 0)):
            outline.lineTo(centre + corner)
        outline.closeSubpath()
        filled = QPainterPath(outline)
    elif shape == "caret":
        outline.moveTo(centre + QPointF(-inner, inner * 0.6))
        outline.lineTo(centre + QPointF(0, -inner * 0.6))
        outline.lineTo(centre + QPointF(inner, inner * 0.6))
    elif shape == "square":
        outline.addRect(circle)
    elif shape.startswith("error-"):
        outline.addRect(circle)
        filled.addRect(circle)
    else:
        outline.addEllipse(circle)
        if shape == "disc":
            filled.addEllipse(circle)
        elif shape == "half-disc":
            filled.moveTo(centre)
            filled.arcTo(circle, 90.0, 180.0)
            filled.closeSubpath()
    return outline, filled
