"""Whose floor is whose among passers, and the seams between them.

A ball belongs to the nearest passer: so it was in 95 of 100 of 182 serves (Paulo et al., J. Sports Sci. 2018, 36,
2621-2630). Hence the cells are those of Voronoi, and a seam is the strip along the border of two cells::

        +-----------:---:---------+        cell of A | cell of B
        |           : | :         |        the seam: within half its width of the border, where A and B
        |     A     : | :    B    |        are the two nearest passers
        |           : | :         |
        +-----------:---:---------+
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.court.areas import SEAM_WIDTH_M, WordArray, clamp_onto
from serve_marker.court.dimensions import Court, Floats
from serve_marker.court.formations import Formation, Passer

if TYPE_CHECKING:
    from shapely import Geometry, Polygon

SAME_PLACE_M = 1e-6


def seam_between(first: Passer, second: Passer) -> str:
    """Name of the seam of two passers.

    Examples
    --------
    >>> seam_between(Passer(1.5, 6, "Noor"), Passer(4.5, 6, "Ines"))
    'between Noor and Ines'
    """
    return f"between {first.label} and {second.label}"


def sideline_seam(passer: Passer, side: str) -> str:
    """Name of the seam of a passer and the sideline on her own "right" or "left"."""
    return f"between {passer.label} and the {side} sideline"


def cells(formation: Formation, court: Court) -> dict[str, Polygon]:
    """Floor of each passer by label: the part of the half nearer to her than to any other.

    Together they cover the half. A passer who stands where another does, later in the list, owns nothing.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> from serve_marker.court.formations import preset
    >>> court = court_named("indoor")
    >>> {label: round(cell.area, 6) for label, cell in cells(preset(3, "up", court), court).items()}
    {'right back': 27.0, 'middle back': 27.0, 'left back': 27.0}
    """
    owners = _owners(formation.passers)
    outlines = {owner: _cell(owner, owners, court) for owner in owners}
    return {passer.label: _polygon(outlines.get(passer, np.empty((0, 2)))) for passer in formation.passers}


def seam_polygons(formation: Formation, court: Court, seam_width_m: float = SEAM_WIDTH_M) -> dict[str, Geometry]:
    """Strips of a formation by name, those that hold floor: between neighbours, then along the sidelines.

    A seam of two passers lies within half its width of the border of their cells, where both are nearer than all
    others. A sideline's reaches one width inwards from it, at most to the passer whose cell touches it, without
    what is already a seam of two passers.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> from serve_marker.court.formations import preset
    >>> court = court_named("indoor")
    >>> list(seam_polygons(preset(2, "up", court), court))[:2]
    ['between right passer and left passer', 'between right passer and the right sideline']
    """
    from shapely import union_all

    owners = _owners(formation.passers)
    seams: dict[str, Geometry] = {}
    for first, second in combinations(owners, 2):
        strip = _polygon(_seam(first, second, owners, court, seam_width_m))
        if strip.area > 0:
            seams[seam_between(first, second)] = strip
    shared = union_all(list(seams.values()))
    for passer in owners if court.name != "beach" else ():
        cell = _cell(passer, owners, court)
        for side, inwards, line_m in (("right", 1.0, 0.0), ("left", -1.0, court.width_m)):
            depth_m = min(seam_width_m, inwards * (passer.x_m - line_m))
            outline = _clip(cell, np.array([inwards, 0.0]), inwards * line_m + depth_m)
            beside = _polygon(outline).difference(shared)
            if depth_m > 0 and beside.area > 0:
                seams[sideline_seam(passer, side)] = beside
    return seams


def seams_at(
    points_half_m: ArrayLike, formation: Formation, court: Court, seam_width_m: float = SEAM_WIDTH_M
) -> WordArray:
    """Return the seam (N,) each landing (N, 2) [m] fell into, as in `seam_polygons`; "" where in none or unknown.

    Landings outside the court are moved onto its nearest edge first, as for areas.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> from serve_marker.court.formations import preset
    >>> court = court_named("indoor")
    >>> seams_at([(3.2, 6.4), (7.5, 8.4)], preset(3, "up", court), court).tolist()
    ['between right back and middle back', '']
    """
    points = np.asarray(points_half_m, dtype=float)
    on_court, names = clamp_onto(points, court), np.full(len(points), "", dtype=object)
    known = np.isfinite(points).all(axis=1)
    if formation.passers:
        names[known] = _seams(on_court[known], _owners(formation.passers), court, seam_width_m)
    return names


def _seams(on_court: Floats, owners: Sequence[Passer], court: Court, seam_width_m: float) -> WordArray:
    places = places_of(owners)
    squared = ((on_court[:, None] - places) ** 2).sum(axis=2)
    order = np.argsort(squared, axis=1, kind="stable")
    nearest, rows = order[:, 0], np.arange(len(on_court))
    x_m = places[nearest, 0]
    names = np.full(len(on_court), "", dtype=object)
    for side, from_line, passer_m in (
        ("right", on_court[:, 0], x_m),
        ("left", court.width_m - on_court[:, 0], court.width_m - x_m),
    ):
        beside = (court.name != "beach") & (passer_m > 0) & (from_line <= np.minimum(seam_width_m, passer_m))
        told = np.array([sideline_seam(owner, side) for owner in owners], dtype=object)
        names[beside] = told[nearest[beside]]
    if len(owners) > 1:
        second = order[:, 1]
        apart = np.hypot(*(places[second] - places[nearest]).T)
        between = squared[rows, second] - squared[rows, nearest] <= seam_width_m * apart
        told = np.full((len(owners), len(owners)), "", dtype=object)
        for i, j in combinations(range(len(owners)), 2):
            told[i, j] = told[j, i] = seam_between(owners[i], owners[j])
        names[between] = told[nearest[between], second[between]]
    return names


def _owners(passers: Sequence[Passer]) -> list[Passer]:
    """Those who own floor: of passers at one spot the one listed first."""
    owners: list[Passer] = []
    for passer in passers:
        if all(np.hypot(passer.x_m - other.x_m, passer.y_m - other.y_m) > SAME_PLACE_M for other in owners):
            owners.append(passer)
    return owners


def places_of(passers: Sequence[Passer]) -> Floats:
    """Where passers stand (P, 2) [m]."""
    return np.array([(passer.x_m, passer.y_m) for passer in passers], dtype=float).reshape(-1, 2)


def _half(court: Court) -> Floats:
    x_m, y_m = court.width_m, court.half_length_m
    return np.array([(0.0, 0.0), (x_m, 0.0), (x_m, y_m), (0.0, y_m)])


def _cell(owner: Passer, owners: Sequence[Passer], court: Court) -> Floats:
    """Corners (K, 2) of the floor nearer to one passer than to any other; (0, 2) where there is none."""
    outline, here = _half(court), places_of([owner])[0]
    for other in owners:
        if other is not owner:
            outline = _nearer(outline, here, places_of([other])[0])
    return outline


def _seam(first: Passer, second: Passer, owners: Sequence[Passer], court: Court, width_m: float) -> Floats:
    """Corners (K, 2) of the strip between two passers where both are nearer than all others."""
    here, there = places_of([first, second])
    apart_m = np.hypot(*(there - here))
    across, middle = (there - here) / apart_m, (here + there) / 2
    outline = _clip(_half(court), across, float(across @ middle) + width_m / 2)
    outline = _clip(outline, -across, width_m / 2 - float(across @ middle))
    for other in owners:
        if other is not first and other is not second:
            place = places_of([other])[0]
            outline = _nearer(_nearer(outline, here, place), there, place)
    return outline


def _nearer(outline: Floats, here: Floats, there: Floats) -> Floats:
    """The part of a convex outline that is nearer to one place than to another."""
    return _clip(outline, there - here, float(there @ there - here @ here) / 2)


def _clip(outline: Floats, normal: Floats, reach: float) -> Floats:
    """The part of a convex outline (K, 2) with ``normal . point <= reach`` (Sutherland and Hodgman 1974)."""
    beyond = outline @ normal - reach
    kept: list[Floats] = []
    for k, corner in enumerate(outline):
        before = k - 1
        if (beyond[before] > 0) != (beyond[k] > 0):
            share = beyond[before] / (beyond[before] - beyond[k])
            kept.append(outline[before] + share * (corner - outline[before]))
        if beyond[k] <= 0:
            kept.append(corner)
    return np.array(kept).reshape(-1, 2)


def _polygon(outline: Floats) -> Polygon:
    from shapely import Polygon

    return Polygon(outline) if len(outline) > 2 else Polygon()
