"""A still: a picture with a display list drawn over it at full resolution."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QImage, QPainter, QTransform

from serve_marker.desktop.widgets.overlay_painter import paint, picture_to_image, qimage
from serve_marker.desktop.widgets.overlay_sizes import CAPTION_PIXELS, label_font
from serve_marker.desktop.widgets.theme import FILM, Palette
from serve_marker.report.overlay_items import Item
from serve_marker.video.pixel_shape import stretch_of

SIDES = (Qt.AlignmentFlag.AlignLeft, Qt.AlignmentFlag.AlignHCenter, Qt.AlignmentFlag.AlignRight)
STILL_REFERENCE_PX = 1280.0
"""On a still letters, lines and marks have their design sizes where its longer side has as many pixels."""


def render_still(
    image: NDArray[np.uint8],
    items: Sequence[Item],
    palette: Palette = FILM,
    unit: float | None = None,
    pixel_aspect: float = 1.0,
    caption: Sequence[str] = (),
) -> QImage:
    """Return the picture, array (H, W, 3) RGB, with the display list drawn over it at full resolution.

    The parts of a ``caption`` stand below the picture, where they cover no floor. Pixels that are not square
    (``pixel_aspect``, width over height) are made so by widening or heightening the picture.
    """
    wider, higher = stretch_of(pixel_aspect)
    stored = qimage(image)
    still = stored.scaled(
        round(stored.width() * wider),
        round(stored.height() * higher),
        Qt.AspectRatioMode.IgnoreAspectRatio,
        Qt.TransformationMode.SmoothTransformation,
    ).copy()
    if unit is None:
        unit = max(still.width(), still.height()) / STILL_REFERENCE_PX
    painter = QPainter(still)
    to_still = picture_to_image() * QTransform.fromScale(wider, higher)
    paint(painter, items, palette, to_still, QRectF(still.rect()), unit)
    painter.end()
    return captioned(still, caption, palette, unit) if caption else still


def captioned(still: QImage, caption: Sequence[str], palette: Palette, unit: float) -> QImage:
    """Return a still with the parts of a caption in a strip below: beside each other, or in rows where that is full."""
    font = label_font(unit, CAPTION_PIXELS)
    metrics = QFontMetricsF(font)
    margin = CAPTION_PIXELS * unit
    beside = sum(metrics.horizontalAdvance(part) + margin for part in caption) + margin <= still.width()
    rows = 1 if beside else len(caption)
    row_high = 1.8 * metrics.height()
    strip_high = round(rows * row_high + 0.4 * metrics.height())
    whole = QImage(still.width(), still.height() + strip_high, QImage.Format.Format_RGB888)
    whole.fill(palette.of("label-ground"))
    painter = QPainter(whole)
    painter.drawImage(0, 0, still)
    painter.setFont(font)
    painter.setPen(palette.of("label"))
    inside = QRectF(margin, still.height() + 0.2 * metrics.height(), still.width() - 2 * margin, rows * row_high)
    for number, part in enumerate(caption):
        box = inside if beside else QRectF(inside.left(), inside.top() + number * row_high, inside.width(), row_high)
        side = SIDES[number % len(SIDES)] if beside else Qt.AlignmentFlag.AlignLeft
        painter.drawText(box, side | Qt.AlignmentFlag.AlignVCenter, part)
    painter.end()
    return whole
