"""The words below a still: its caption, and what the marks in it mean."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QPainter

from serve_marker.desktop.widgets.draw_shape import draw_shape
from serve_marker.desktop.widgets.overlay_sizes import CAPTION_PIXELS, HALO, label_font
from serve_marker.desktop.widgets.theme import Palette

SIDES = (Qt.AlignmentFlag.AlignLeft, Qt.AlignmentFlag.AlignHCenter, Qt.AlignmentFlag.AlignRight)
CAPTION_ROW, LEGEND_ROW = 1.5, 1.4
"""Heights of rows in heights of their letters."""
SHAPE_ROOM, BETWEEN = 1.4, 1.6
"""Room for a shape and between two entries of a legend, in heights of its letters."""


@dataclass(frozen=True)
class Words:
    """Words at a place below a still [px], with the shape before them where they tell what one means."""

    text: str
    box: QRectF
    font: QFont
    side: Qt.AlignmentFlag = SIDES[0]
    shape: str = ""


def words_below(
    caption: Sequence[str], entries: Sequence[tuple[str, str]], still_wide: int, unit: float
) -> tuple[list[Words], int]:
    """Return the parts of a caption and the entries of a legend in rows no wider than a still, and how high they are.

    Entries are pairs (shape, words) as in ``Legend``.
    """
    margin = CAPTION_PIXELS * unit
    room = QRectF(margin, 0.4 * margin, still_wide - 2 * margin, 0)
    placed = list(_caption(caption, room, unit))
    room.setTop(max((words.box.bottom() for words in placed), default=0.0))
    placed += _legend(entries, room, unit)
    return placed, round(max((words.box.bottom() for words in placed), default=0.0) + 0.5 * margin)


def draw_words(painter: QPainter, placed: Sequence[Words], palette: Palette, top: float) -> None:
    """Draw words below a picture that ends at ``top``."""
    painter.save()
    painter.translate(0, top)
    for words in placed:
        high = QFontMetricsF(words.font).height()
        if words.shape:
            centre = QPointF(words.box.left() + 0.5 * high, words.box.center().y())
            draw_shape(painter, words.shape, centre, 0.4 * high, palette.of(words.shape), HALO)
        painter.setFont(words.font)
        painter.setPen(palette.of("label"))
        box = words.box.adjusted(SHAPE_ROOM * high if words.shape else 0.0, 0, 0, 0)
        painter.drawText(box, words.side | Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextWordWrap, words.text)
    painter.restore()


def _caption(caption: Sequence[str], room: QRectF, unit: float) -> Iterator[Words]:
    """Beside each other where there is room, else in a row each."""
    font = label_font(unit, CAPTION_PIXELS)
    metrics = QFontMetricsF(font)
    row = CAPTION_ROW * metrics.height()
    if sum(metrics.horizontalAdvance(part) + metrics.height() for part in caption) <= room.width():
        box = QRectF(room.left(), room.top(), room.width(), row)
        yield from (Words(part, box, font, side) for part, side in zip(caption, SIDES, strict=False))
        return
    top = room.top()
    for part in caption:
        wrapped = metrics.boundingRect(QRectF(0, 0, room.width(), 0), Qt.TextFlag.TextWordWrap, part)
        box = QRectF(room.left(), top, room.width(), row - metrics.height() + wrapped.height())
        yield Words(part, box, font)
        top = box.bottom()


def _legend(entries: Sequence[tuple[str, str]], room: QRectF, unit: float) -> Iterator[Words]:
    """One after the other, in as many rows as they need."""
    font = label_font(unit)
    metrics = QFontMetricsF(font)
    high = metrics.height()
    left, top = room.left(), room.top()
    for shape, text in entries:
        wide = metrics.horizontalAdvance(text) + (SHAPE_ROOM * high if shape else 0.0) + 0.1 * high
        if left > room.left() and left + wide > room.right():
            left, top = room.left(), top + LEGEND_ROW * high
        yield Words(text, QRectF(left, top, wide, LEGEND_ROW * high), font, shape=shape)
        left += wide + BETWEEN * high
