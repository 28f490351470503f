"""The part of the film's picture that a still shows."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from serve_marker.court.dimensions import Floats
from serve_marker.report.overlay_items import DisplayList, Item, Label, Legend, Pixel, Spot

SHOWN_ROLES = ("landing", "aim", "miss", "over-net")
MARGIN_SHARE = 0.04


class Cut(NamedTuple):
    """A part of the film's picture [px]."""

    left: int
    top: int
    width: int
    height: int

    def holds(self, point_px: Pixel) -> bool:
        """Return whether a point lies in it."""
        x, y = point_px
        return self.left <= x <= self.left + self.width and self.top <= y <= self.top + self.height


def cut_for(items: DisplayList, film_px: tuple[int, int], room_px: tuple[float, float]) -> Cut:
    """Return the part of a film's picture to show in a room of another shape.

    It has the room's shape, is as large as the film allows and lies about what is drawn. It always holds the landing,
    the aim, the arrow and the tape's crossing: where they are wider or higher apart, it is as wide or high as they.

    Examples
    --------
    >>> cut_for((Spot("disc", (1100.0, 500.0)),), (1280, 720), (1080, 1620))
    Cut(left=800, top=0, width=480, height=720)
    """
    film, room = np.array(film_px, dtype=float), np.array(room_px, dtype=float)
    needed = _box([item for item in items if item.role in SHOWN_ROLES], film)
    wished = _box([item for item in items if item.role not in ("court-line", "net")], film)
    size = np.maximum(room * (film / room).min(), needed[1] - needed[0])
    about = wished.mean(axis=0) - size / 2
    size = np.minimum(np.ceil(size - 1e-6), film)
    low = np.round(np.clip(np.clip(about, needed[1] - size, needed[0]), 0.0, film - size))
    return Cut(*(int(part) for part in (*low, *size)))


def _box(items: list[Item], film: Floats) -> Floats:
    """Low and high corner (2, 2) of what is drawn, with a margin, inside the film; its middle where nothing is."""
    points = [point for item in items for point in _points(item)]
    points_px = np.array(points).reshape(-1, 2) if points else film[None] / 2
    margin = MARGIN_SHARE * film.max()
    return np.asarray(np.clip([points_px.min(axis=0) - margin, points_px.max(axis=0) + margin], 0.0, film))


def _points(item: Item) -> tuple[Pixel, ...]:
    if isinstance(item, Legend):
        return ()
    if isinstance(item, Spot):
        return (item.centre_px,)
    return (item.at_px,) if isinstance(item, Label) else item.points_px
