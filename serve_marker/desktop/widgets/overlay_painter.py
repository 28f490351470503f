"""The one painter of display lists: the window and the stills draw through it, so a still is what the coach saw."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QImage, QPainter, QPen, QPolygonF, QTransform

from serve_marker.desktop.widgets.draw_shape import draw_shape
from serve_marker.desktop.widgets.overlay_sizes import (
    DASHED,
    FAINT_RIM_OPACITY,
    FILL_OPACITY,
    HALO,
    LABEL_GROUND_OPACITY,
    LINE_OPACITY,
    LINE_WIDTHS,
    RIM_WIDTH,
    SPOT_RADIUS,
    label_font,
)
from serve_marker.desktop.widgets.theme import Palette
from serve_marker.report.overlay_items import Item, Label, Pixel, Polyline, Region, Spot


def picture_to_image() -> QTransform:
    """From the pixel frame, whose origin is the centre of the first pixel, to a painter on the picture itself."""
    return QTransform.fromTranslate(0.5, 0.5)


def paint(
    painter: QPainter,
    items: Sequence[Item],
    palette: Palette,
    to_device: QTransform,
    bounds: QRectF,
    unit: float = 1.0,
) -> None:
    """Draw a display list; its legends become one, over everything else.

    Parameters
    ----------
    to_device : from the pixel frame [px] to the painter's coordinates; marks keep their size whatever it scales.
    bounds : where labels and the legend must stay, in the painter's coordinates.
    unit : size of a design pixel in the painter's coordinates.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    entries: list[tuple[str, str]] = []
    for item in items:
        if isinstance(item, Region):
            _region(painter, item, palette, to_device)
        elif isinstance(item, Polyline):
            _polyline(painter, item, palette, to_device, unit)
        elif isinstance(item, Spot):
            colour = palette.of(item.shape)
            draw_shape(painter, item.shape, _mapped(to_device, item.centre_px), SPOT_RADIUS * unit, colour, HALO)
        elif isinstance(item, Label):
            _label(painter, item, palette, to_device, bounds, unit)
        else:
            entries += item.entries
    _legend(painter, entries, palette, bounds, unit)
    painter.restore()


def qimage(image: NDArray[np.uint8]) -> QImage:
    """A QImage over the array's own memory (H, W, 3) RGB; copy it where it must outlive the array."""
    if image.ndim != 3 or image.shape[2] != 3 or image.dtype != np.uint8:
        raise ValueError(f"a picture is (H, W, 3) uint8, not {image.shape} {image.dtype}")
    packed = np.ascontiguousarray(image)
    height, width, _ = packed.shape
    return QImage(packed.data, width, height, 3 * width, QImage.Format.Format_RGB888)


def image_array(image: QImage) -> NDArray[np.uint8]:
    """The pixels of a QImage as an array (H, W, 3) RGB."""
    packed = image.convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(packed.constBits(), np.uint8).reshape(packed.height(), packed.bytesPerLine())
    return rows[:, : 3 * packed.width()].reshape(packed.height(), packed.width(), 3).copy()


def _mapped(to_device: QTransform, point: Pixel) -> QPointF:
    return to_device.map(QPointF(*point))


def _polygon(to_device: QTransform, points: Sequence[Pixel]) -> QPolygonF:
    return QPolygonF([_mapped(to_device, point) for point in points])


def _region(painter: QPainter, item: Region, palette: Palette, to_device: QTransform) -> None:
    fill = palette.of(item.role)
    fill.setAlphaF(FILL_OPACITY.get(item.role, 0.2))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(fill)
    painter.drawPolygon(_polygon(to_device, item.points_px))


def _polyline(painter: QPainter, item: Polyline, palette: Palette, to_device: QTransform, unit: float) -> None:
    closing = item.points_px[:1] if item.closed else ()
    line = _polygon(to_device, (*item.points_px, *closing))
    width = LINE_WIDTHS.get(item.role, 1.5) * unit
    opacity = LINE_OPACITY.get(item.role, 1.0)
    halo, colour = QColor(HALO), palette.of(item.role)
    halo.setAlphaF(FAINT_RIM_OPACITY if item.role in LINE_OPACITY else 1.0)
    colour.setAlphaF(opacity)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for pen_colour, pen_width in ((halo, width + RIM_WIDTH * unit), (colour, width)):
        pen = QPen(pen_colour, pen_width)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        if item.role in DASHED:
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
            pen.setDashPattern([part * width / pen_width for part in (4.0, 2.5)])
        painter.setPen(pen)
        painter.drawPolyline(line)


def _label(
    painter: QPainter, item: Label, palette: Palette, to_device: QTransform, bounds: QRectF, unit: float
) -> None:
    font = label_font(unit)
    room = QFontMetricsF(font).boundingRect(QRectF(0, 0, bounds.width(), bounds.height()), 0, item.text)
    box = room.adjusted(-7 * unit, -4 * unit, 7 * unit, 4 * unit)
    at = _mapped(to_device, item.at_px)
    box.moveBottomLeft(at + QPointF(SPOT_RADIUS * 1.6, -SPOT_RADIUS * 2.0) * unit)
    _keep_inside(box, bounds.adjusted(4 * unit, 4 * unit, -4 * unit, -4 * unit))
    _ground(painter, box, palette, unit)
    painter.setFont(font)
    painter.setPen(palette.of("label"))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, item.text)


def _legend(
    painter: QPainter, entries: Sequence[tuple[str, str]], palette: Palette, bounds: QRectF, unit: float
) -> None:
    if not entries:
        return
    font = label_font(unit * 0.9)
    metrics = QFontMetricsF(font)
    row, indent = metrics.height() * 1.3, 26 * unit
    width = indent + max(metrics.horizontalAdvance(words) for _, words in entries) + 12 * unit
    box = QRectF(0, 0, width, row * len(entries) + 8 * unit)
    box.moveBottomLeft(bounds.bottomLeft() + QPointF(10, -10) * unit)
    _ground(painter, box, palette, unit)
    painter.setFont(font)
    for place, (shape, words) in enumerate(entries):
        line = QRectF(box.left(), box.top() + 4 * unit + place * row, width, row)
        centre = QPointF(line.left() + indent / 2, line.center().y())
        if shape:
            draw_shape(painter, shape, centre, 5.5 * unit, palette.of(shape), HALO)
        painter.setPen(palette.of("legend"))
        painter.drawText(line.adjusted(indent if shape else 8 * unit, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter, words)


def _ground(painter: QPainter, box: QRectF, palette: Palette, unit: float) -> None:
    ground = palette.of("label-ground")
    ground.setAlphaF(LABEL_GROUND_OPACITY)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(ground)
    painter.drawRoundedRect(box, 5 * unit, 5 * unit)


def _keep_inside(box: QRectF, bounds: QRectF) -> None:
    if box.right() > bounds.right():
        box.moveRight(bounds.right())
    if box.bottom() > bounds.bottom():
        box.moveBottom(bounds.bottom())
    if box.left() < bounds.left():
        box.moveLeft(bounds.left())
    if box.top() < bounds.top():
        box.moveTop(bounds.top())
