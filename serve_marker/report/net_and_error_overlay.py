"""What checks a view on the picture: the net with its antennas, and the error on the floor."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely

from serve_marker.camera.fitting.error_map import ErrorMap
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import ANTENNA_ABOVE_NET_M
from serve_marker.report.overlay_items import DisplayList, Item, Label, Legend, Pixel, Polyline, Region

NET_DEPTH_M = 1.0
"""From the net's top to its lower edge, FIVB Official Volleyball Rules 2025-2028, 2.2."""
NET_STEPS = 24
ERROR_LEVELS_M = (0.05, 0.10, 0.20, 0.50)
LABELS_APART_SHARE = 1 / 14
LABEL_EVERY_M = 1.5


def net_overlay(view: View) -> DisplayList:
    """Return the net's lower edge and side bands, and the antennas; nothing where the camera's place is not known."""
    if view.camera_position_m is None:
        return ()
    x_m, top_m = view.court.half_width_m, view.net_height_m
    low_m, tip_m = top_m - NET_DEPTH_M, top_m + ANTENNA_ABOVE_NET_M
    ways_m = [
        ((-x_m, low_m), (x_m, low_m)),
        ((-x_m, low_m), (-x_m, tip_m)),
        ((x_m, low_m), (x_m, tip_m)),
    ]
    lines: list[Item] = []
    for (x0, z0), (x1, z1) in ways_m:
        points_m = np.linspace((x0, 0.0, z0), (x1, 0.0, z1), NET_STEPS)
        points_px = view.project(points_m)
        if np.isfinite(points_px).all():
            lines.append(Polyline(tuple((float(x), float(y)) for x, y in points_px), "net"))
    return tuple(lines)


def error_overlay(view: View, found: ErrorMap) -> DisplayList:
    """Return the error of a click over the court: bands with borders, its value down the middle, and a legend."""
    items: list[Item] = []
    entries = []
    for number, (low_m, high_m) in enumerate(pairwise((0.0, *ERROR_LEVELS_M, np.inf)), start=1):
        role = f"error-{number}"
        shape = _band(found, low_m, high_m)
        if shape.is_empty:
            continue
        entries.append((role, _band_words(low_m, high_m)))
        for part in shapely.get_parts(shape):
            rings_px = [_ring_px(view, ring) for ring in (part.exterior, *part.interiors)]
            items.append(Region(_joined(rings_px), role))
            items.extend(Polyline(ring_px, role, closed=True) for ring_px in rings_px)
    heading = ("", "19 of 20 clicks are nearer than")
    return (*items, *_numbers(view, found), Legend((heading, *entries)))


def _band(found: ErrorMap, low_m: float, high_m: float) -> shapely.Geometry:
    """The part of the court whose error lies between two levels, of the map's cells."""
    error_m = found.error_m
    cells_m = (error_m[:-1, :-1] + error_m[1:, :-1] + error_m[:-1, 1:] + error_m[1:, 1:]) / 4
    within = np.pad((cells_m > low_m) & (cells_m <= high_m), ((0, 0), (1, 1))).astype(int)
    rows, first = np.nonzero(np.diff(within, axis=1) == 1)
    _, beyond = np.nonzero(np.diff(within, axis=1) == -1)
    return shapely.union_all(shapely.box(found.x_m[first], found.y_m[rows], found.x_m[beyond], found.y_m[rows + 1]))


def _ring_px(view: View, ring: shapely.LinearRing) -> tuple[Pixel, ...]:
    corners_m = shapely.get_coordinates(shapely.segmentize(ring, 0.5))
    return tuple((float(x), float(y)) for x, y in view.project(corners_m))


def _joined(rings_px: list[tuple[Pixel, ...]]) -> tuple[Pixel, ...]:
    """Rings as one line that goes from the outer one to each hole and back the same way, which leaves holes open."""
    outer = rings_px[0]
    return (*outer, *(pixel for hole in rings_px[1:] for pixel in (*hole, outer[0])))


def _band_words(low_m: float, high_m: float) -> str:
    return f"{100 * high_m:.0f} cm" if np.isfinite(high_m) else f"more than {100 * low_m:.0f} cm"


def _numbers(view: View, found: ErrorMap) -> list[Label]:
    """The error down the middle of the court, as dense as it can be read; at the end lines always."""
    end_m = view.court.half_length_m
    at_ends = {-end_m: ("near", found.end_a_m), end_m: ("far", found.end_b_m)}
    between_m = np.arange(-end_m + LABEL_EVERY_M, end_m, LABEL_EVERY_M)
    middle = found.error_m[:, len(found.x_m) // 2]
    labels: list[Label] = []
    for y_m in (*at_ends, *between_m):
        (pixel,) = view.project([(0.0, float(y_m))])
        inside = ((pixel >= 0) & (pixel <= view.image_size)).all()
        apart_px = min((abs(label.at_px[1] - pixel[1]) for label in labels), default=np.inf)
        error_m = at_ends[y_m][1] if y_m in at_ends else float(np.interp(y_m, found.y_m, middle))
        crowded = y_m not in at_ends and apart_px < LABELS_APART_SHARE * view.image_size[1]
        if inside and np.isfinite(error_m) and not crowded:
            words = f"{100 * error_m:.0f} cm"
            text = f"{at_ends[y_m][0]} end line: {words}" if y_m in at_ends else words
            labels.append(Label(text, (float(pixel[0]), float(pixel[1]))))
    return labels
