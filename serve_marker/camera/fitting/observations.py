"""Marks and traces as observations: which point of the court each click shows, and how far it may be off."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.fitting.bundle_adjustment import Observations
from serve_marker.camera.view.homography import map_points
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Court, Floats, landmarks

BEYOND_M = 0.5
"""How far past a line's ends a traced point may be taken to lie."""
PLACES_ALONG = 181
OTHER_LINE_SHARE = 0.03
"""A trace this share of the picture off its line is not of that line: no lens bends that much."""


def line_ends(court: Court) -> dict[str, Floats]:
    """Ends (2, 2) [m] of the edge that is traced of each line: outer edge, attack line's rear edge, centre's axis.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> line_ends(court_named("indoor"))["right"].tolist()
    [[4.5, -9.0], [4.5, 9.0]]
    """
    places = {name: np.array(place[:2]) for name, place in landmarks(court).items()}
    lines = dict.fromkeys(name.split("/")[0] for name in places)
    ends = {line: np.array([places[f"{line}/left"], places[f"{line}/right"]]) for line in lines}
    return ends | {side: np.array([places[f"end-a/{side}"], places[f"end-b/{side}"]]) for side in ("left", "right")}


def line_under(view: View, pixel: tuple[float, float], reach_px: float) -> str | None:
    """Return the line nearest to a pixel, None where none is within reach [px]."""
    shares = np.linspace(0.0, 1.0, PLACES_ALONG)[:, None]
    away_px = {
        line: float(np.nanmin(np.hypot(*(view.project(start + shares * (stop - start)) - pixel).T), initial=np.inf))
        for line, (start, stop) in line_ends(view.court).items()
    }
    nearest = min(away_px, key=lambda line: away_px[line])
    return nearest if away_px[nearest] <= reach_px else None


def of_marks(
    places_m: Floats, pixels_px: Floats, sd_px: Floats, crossing: NDArray[np.bool_] | None = None
) -> Observations:
    """Observations of known points (N, 3) at pixels (N, 2): clicks, but for those that are a ``crossing`` (N,)."""
    count = len(places_m)
    moved = np.zeros(count, dtype=bool) if crossing is None else crossing
    return Observations(places_m, np.zeros((count, 3)), pixels_px, sd_px, np.zeros((count, 2)), moved)


def of_traces(
    traces: Mapping[str, tuple[tuple[float, float], ...]], court: Court, H: Floats, sd_px: float, gross_px: float
) -> Observations:
    """Observations of points clicked along lines; a homography H tells roughly where along its line each lies.

    A trace more than ``gross_px`` from its line by H is of another line, and left out.
    """
    ends = line_ends(court)
    points, along, reach, pixels = [], [], [], []
    for line, clicked in traces.items():
        if line not in ends or not clicked:
            continue
        start, stop = ends[line]
        length = float(np.hypot(*(stop - start)))
        direction = (stop - start) / length
        clicked_px = np.array(clicked, dtype=float)
        with np.errstate(all="ignore"):
            floor = map_points(np.asarray(np.linalg.inv(H), dtype=np.float64), clicked_px)
        far = np.clip(np.nan_to_num((floor - start) @ direction, nan=length / 2), 0.0, length)
        foot = start + far[:, None] * direction
        if float(np.median(np.hypot(*(map_points(H, foot) - clicked_px).T))) > gross_px:
            continue
        points.append(np.column_stack([foot, np.zeros(len(far))]))
        along.append(np.tile([*direction, 0.0], (len(far), 1)))
        reach.append(np.column_stack([-far - BEYOND_M, length - far + BEYOND_M]))
        pixels.append(clicked_px)
    if not points:
        return of_marks(np.zeros((0, 3)), np.zeros((0, 2)), np.zeros(0))
    joined = np.concatenate(pixels)
    return Observations(
        np.concatenate(points),
        np.concatenate(along),
        joined,
        np.full(len(joined), sd_px),
        np.concatenate(reach),
        np.zeros(len(joined), dtype=bool),
    )


def together(*parts: Observations) -> Observations:
    """Several sets of observations as one."""
    return Observations(
        *(np.concatenate([getattr(part, field.name) for part in parts]) for field in fields(Observations))
    )
