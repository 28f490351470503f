"""What a still tells of one serve: the ball's way through the air, its height at the net, and how far it missed."""

from __future__ import annotations

import math

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.confidence_level import NORMAL_95
from serve_marker.court.aims import Aim, aim_words
from serve_marker.court.dimensions import Floats, from_half
from serve_marker.logbook.records import Half
from serve_marker.marking.judging import Judgement
from serve_marker.report.overlay_items import DisplayList, Item, Label, Pixel, Polyline, Region
from serve_marker.study.flight_path import FlightPath

ARC_POINTS = 120
ARROW_HEAD_M, ARROW_TURN = 0.45, math.radians(28)
LEAST_ARROW_M = 0.15


def flight_overlay(view: View, path: FlightPath | None, over_net: str = "") -> DisplayList:
    """Return the arc of a serve with its band, and at the tape in words what it had ``over_net``; else nothing."""
    if path is None or view.camera_position_m is None:
        return ()
    arc_px, half_wide_px = arc_and_band_px(view, path)
    across = _across(arc_px) * half_wide_px[:, None]
    band_px = np.vstack([arc_px + across, (arc_px - across)[::-1]])
    role = "flight" if path.told else "flight-estimated"
    items: list[Item] = [Region(_pixels(band_px), "flight-band"), Polyline(_pixels(arc_px), role)]
    over_m = path.above_floor_at_net_m()
    if over_net and np.isfinite(over_m):
        at_net = path.likely_m[np.argmin(np.abs(path.likely_m[:, 1]))]
        ball_px, tape_px = view.project([(at_net[0], 0.0, over_m), (at_net[0], 0.0, view.net_height_m)])
        items += [Polyline(_pixels(np.array([tape_px, ball_px])), "over-net"), Label(over_net, _pixel(ball_px))]
    return tuple(items)


def arc_and_band_px(view: View, path: FlightPath) -> tuple[Floats, Floats]:
    """Return points (ARC_POINTS, 2) [px] evenly along a flight as the camera sees it, and the half width of its band.

    The band reaches 1.96 deviations, across the arc, of the ways the marks leave possible.
    """
    moments = np.linspace(0, len(path.likely_m) - 1, ARC_POINTS)
    ways_m = np.stack([_at(way_m, moments) for way_m in path.possible_m])
    arc_px = view.project(_at(path.likely_m, moments))
    ways_px = view.project(ways_m.reshape(-1, 3)).reshape(*ways_m.shape[:2], 2)
    away_px = np.einsum("dsi,si->ds", ways_px - arc_px, _across(arc_px))
    return arc_px, NORMAL_95 * np.sqrt(np.nanmean(away_px**2, axis=0))


def miss_overlay(view: View, aim: Aim | None, judgement: Judgement) -> DisplayList:
    """Return an arrow on the floor from the nearest place of the aim to a landing beside it."""
    start = nearest_of_aim(aim, judgement)
    if start is None or judgement.half not in ("a", "b"):
        return ()
    half: Half = "a" if judgement.half == "a" else "b"
    end = np.array([judgement.half_x_m, judgement.half_y_m])
    way = end - start
    length_m = float(np.hypot(*way))
    if length_m < LEAST_ARROW_M:
        return ()
    back = -way / length_m * min(ARROW_HEAD_M, 0.4 * length_m)
    turns = [np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]]) for a in (ARROW_TURN, -ARROW_TURN)]
    head = [end + turn @ back for turn in turns]
    lines = (np.array([start, end]), np.array([head[0], end, head[1]]))
    ends = [view.project(from_half(line, half, view.court)) for line in lines]
    return tuple(Polyline(_pixels(line_px), "miss") for line_px in ends if np.isfinite(line_px).all())


def nearest_of_aim(aim: Aim | None, judgement: Judgement) -> Floats | None:
    """Return the place of an aim, in the half frame, nearest to a landing; None where either is not known."""
    from shapely import Point
    from shapely.ops import nearest_points

    if aim is None or not np.isfinite(judgement.half_x_m + judgement.half_y_m):
        return None
    nearest, _ = nearest_points(aim.polygon, Point(judgement.half_x_m, judgement.half_y_m))
    return np.array([nearest.x, nearest.y])


def miss_words(aim: Aim | None, judgement: Judgement, shape: str) -> str:
    """Return how far a landing of that ``shape`` lies from its aim, as the server sees it.

    With it stands what the landing may be off that way, 1.96 deviations. "" where either is not known, for other shapes
    than those of a landing on the floor, and where an aim reaches beyond the court and the landing is out within it.
    """
    nearest = nearest_of_aim(aim, judgement)
    if aim is None or nearest is None or shape not in ("disc", "half-disc", "square", "ring", "cross"):
        return ""
    name = aim_words(aim.text)
    if shape in ("disc", "half-disc", "square"):
        told = {"disc": "on target", "half-disc": "on target or just beside", "square": "too close to a line"}[shape]
        return f"{told}: {name}"
    way_m = np.array([judgement.half_x_m, judgement.half_y_m]) - nearest
    across_m, along_m = way_m
    away_m = float(np.hypot(across_m, along_m))
    if not away_m:
        return ""
    if abs(along_m) >= abs(across_m):
        where = "beyond" if along_m > 0 else "short of"
    else:
        where = "right of" if across_m > 0 else "left of"
    out = ", out" if shape == "cross" else ""
    off_m = NORMAL_95 * float(np.sqrt(way_m @ judgement.cov_half_m2 @ way_m)) / away_m
    return f"{away_m:.1f}\N{NO-BREAK SPACE}m (±{off_m:.1f}) {where} {name}{out}"


def _at(way_m: Floats, moments: Floats) -> Floats:
    """Places (M, 3) of a way (S, 3) at moments between its steps."""
    steps = np.arange(len(way_m))
    return np.column_stack([np.interp(moments, steps, part) for part in way_m.T])


def _across(arc_px: Floats) -> Floats:
    """Unit vectors (N, 2) across a line through points (N, 2)."""
    along = np.gradient(arc_px, axis=0)
    return np.asarray(np.column_stack([-along[:, 1], along[:, 0]]) / np.maximum(np.hypot(*along.T), 1e-9)[:, None])


def _pixels(points_px: Floats) -> tuple[Pixel, ...]:
    return tuple(_pixel(point) for point in points_px)


def _pixel(point_px: Floats) -> Pixel:
    return float(point_px[0]), float(point_px[1])
