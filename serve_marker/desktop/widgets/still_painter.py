"""A still: a picture with a display list drawn over it at full resolution."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QImage, QPainter, QTransform

from serve_marker.desktop.widgets.overlay_painter import paint, picture_to_image, qimage
from serve_marker.desktop.widgets.theme import FILM, Palette
from serve_marker.report.overlay_items import Item
from serve_marker.video.pixel_shape import stretch_of

STILL_REFERENCE_PX = 1280.0
"""On a still letters, lines and marks have their design sizes where its longer side has as many pixels."""


def render_still(
    image: NDArray[np.uint8],
    items: Sequence[Item],
    palette: Palette = FILM,
    unit: float | None = None,
    pixel_aspect: float = 1.0,
) -> QImage:
    """Return the picture, array (H, W, 3) RGB, with the display list drawn over it at full resolution.

    Pixels that are not square (``pixel_aspect``, width over height) are made so by widening or heightening the picture.
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
    return still
