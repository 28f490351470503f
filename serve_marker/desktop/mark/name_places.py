"""Where names stand on the half court so that they stay readable: beside passers and landings, never on them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from PySide6.QtCore import QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import QFont, QFontMetricsF

from serve_marker.desktop.widgets.text_sizes import pixels

LEAST_PX, MOST_PX = 9, 14
"""Sizes of the letters of an area's name; smaller ones nobody reads."""
EDGE = 3.0


def first_free(candidates: Iterable[QRectF], taken: Sequence[QRectF]) -> QRectF | None:
    """Return the first box that touches none of those taken.

    Examples
    --------
    >>> boxes = [QRectF(0, 0, 10, 10), QRectF(20, 0, 10, 10)]
    >>> first_free(boxes, [QRectF(5, 5, 2, 2)]) == boxes[1], first_free(boxes, [QRectF(0, 0, 40, 40)])
    (True, None)
    """
    return next((box for box in candidates if not any(box.intersects(one) for one in taken)), None)


def places_within(room: QRectF, size: QSizeF) -> list[QRectF]:
    """Return boxes of a size within a room, the best first: up, below, in the middle, then at the sides."""
    if size.width() > room.width() or size.height() > room.height():
        return []
    across, down = room.width() - size.width(), room.height() - size.height()
    shares = [(0.5, 0.0), (0.5, 1.0), (0.5, 0.5), *((x, y) for y in (0.0, 1.0, 0.5) for x in (0.0, 1.0))]
    return [QRectF(room.topLeft() + QPointF(x * across, y * down), size) for x, y in shares]


def letters_of_areas(column: float, font: QFont) -> QFont:
    """Return the letters of area names for columns of that width."""
    letters = QFont(font)
    letters.setPixelSize(round(min(pixels(MOST_PX), max(LEAST_PX, column / 5.4))))
    return letters


def area_names_placed(
    rooms: dict[str, QRectF], taken: Sequence[QRectF], letters: QFont
) -> dict[str, tuple[QRectF, str]]:
    """Return box and words of each area's name that has a free place in its room, on one line or two."""
    metrics = QFontMetricsF(letters)
    found = {}
    for name, room in rooms.items():
        for words in (name, name.replace(" ", "\n", 1)):
            size = metrics.boundingRect(QRectF(0, 0, 999, 999), int(Qt.AlignmentFlag.AlignLeft), words).size()
            box = first_free(places_within(room.adjusted(EDGE, EDGE, -EDGE, -EDGE), size), taken)
            if box is not None:
                found[name] = box, words
                break
    return found
