"""A still: a picture with a display list drawn over it, and words below that cover none of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QImage, QPainter, QTransform

from serve_marker.desktop.widgets.overlay_painter import paint, picture_to_image, qimage
from serve_marker.desktop.widgets.still_words import draw_words, words_below
from serve_marker.desktop.widgets.theme import FILM, Palette
from serve_marker.report.overlay_items import DisplayList, Item, Label, Legend
from serve_marker.report.still_cut import Cut, cut_for
from serve_marker.report.still_sizes import DEFAULT_SIZE, REFERENCE_PX, STILL_SIZES, StillSize
from serve_marker.video.pixel_shape import stretch_of


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
    high_px, wide_px = image.shape[:2]
    wider, higher = stretch_of(pixel_aspect)
    true_px = (round(wide_px * wider), round(high_px * higher))
    whole = Cut(0, 0, wide_px, high_px)
    return _painted(image, items, palette, whole, true_px, unit or max(true_px) / REFERENCE_PX)


def captioned_still(
    image: NDArray[np.uint8],
    items: DisplayList,
    caption: Sequence[str],
    size: StillSize = STILL_SIZES[DEFAULT_SIZE],
    pixel_aspect: float = 1.0,
    palette: Palette = FILM,
) -> QImage:
    """Return a still to share: as much of the picture as its size has room for, with caption and legend below it."""
    high_px, wide_px = image.shape[:2]
    wider, higher = stretch_of(pixel_aspect)
    true_px = (round(wide_px * wider), round(high_px * higher))
    still_wide = size.size_px[0] if size.size_px else true_px[0]
    unit = size.letters or max(true_px) / REFERENCE_PX
    drawn = tuple(item for item in items if not isinstance(item, Legend))
    entries = [entry for item in items if isinstance(item, Legend) for entry in item.entries]
    words, words_high = words_below(caption, entries, still_wide, unit)
    still_high = size.size_px[1] if size.size_px else true_px[1] + words_high
    room = (still_wide, still_high - words_high)
    cut = cut_for(drawn, (wide_px, high_px), (room[0] / wider, room[1] / higher))
    seen = [item for item in drawn if not isinstance(item, Label) or cut.holds(item.at_px)]
    scale = min(room[0] / (cut.width * wider), room[1] / (cut.height * higher))
    shown_px = (round(cut.width * wider * scale), round(cut.height * higher * scale))
    above = (room[1] - shown_px[1]) // 2

    still = QImage(still_wide, still_high, QImage.Format.Format_RGB888)
    still.fill(palette.of("label-ground"))
    painter = QPainter(still)
    painter.drawImage((still_wide - shown_px[0]) // 2, above, _painted(image, seen, palette, cut, shown_px, unit))
    draw_words(painter, words, palette, above + shown_px[1])
    painter.end()
    return still


def _painted(
    image: NDArray[np.uint8],
    items: Sequence[Item],
    palette: Palette,
    cut: Cut,
    shown_px: tuple[int, int],
    unit: float,
) -> QImage:
    """A part of the picture in its size on a still, with what is drawn over it."""
    part = qimage(image).copy(*cut)
    shown = part.scaled(*shown_px, Qt.AspectRatioMode.IgnoreAspectRatio, Qt.TransformationMode.SmoothTransformation)
    to_shown = picture_to_image() * QTransform.fromTranslate(-cut.left, -cut.top)
    to_shown *= QTransform.fromScale(shown_px[0] / cut.width, shown_px[1] / cut.height)
    painter = QPainter(shown)
    paint(painter, items, palette, to_shown, QRectF(shown.rect()), unit)
    painter.end()
    return shown
