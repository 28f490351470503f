"""What a server was asked to hit, read from the words a coach writes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from serve_marker.court.areas import (
    AREAS,
    BEACH_COLUMNS,
    AreaScheme,
    area_names,
    area_polygon,
    clamp_onto,
    column_polygon,
    seam_names,
    seam_polygon,
    zone_polygon,
)
from serve_marker.court.dimensions import Court
from serve_marker.court.line_calls import CONTACT_RADIUS_M, SURE_SD
from serve_marker.errors import UserError

if TYPE_CHECKING:
    from shapely import Polygon

ZONES = ("1", "2", "3", "4", "5", "6")
OUTLINE = "outline "
OWN_POINT = " at "
MOST_CORNERS = 24
SMALLEST_OUTLINE_M2 = 0.01
BESIDE_COURT_M = 0.5
"""A mat laid on the line may stick out this far (own choice)."""
UPRIGHT_RADIUS_M = 0.5
"""Reach of an upright target about its foot (own choice: about an arm's length)."""


@dataclass(frozen=True)
class Aim:
    """An aim as an outline in the half frame [m], the point meant in it, and its radius where it is a point.

    The point is the middle where the coach names no other. A seam and a whole column have no middle in depth:
    unless she names one, their point lies in the middle of the deep part and ``has_depth`` is False.
    """

    text: str
    kind: Literal["area", "zone", "seam", "point", "outline"]
    polygon: Polygon
    centre_m: tuple[float, float]
    radius_m: float | None = None
    has_depth: bool = True


def parse_aim(text: str, court: Court, scheme: AreaScheme) -> Aim | None:
    """Read an aim: an area, ``zone 1``..``zone 6``, a seam, ``x,y,radius`` or ``outline x,y x,y x,y``; None for "".

    The last two are in the half frame [m]: a point with its radius, and the corners of a target as it was placed. The
    first three may have a point of their own: ``deep 1 at 8`` is meant 8 m from the net, ``deep 1 at 1,8`` there.

    Examples
    --------
    >>> from serve_marker.court.areas import default_scheme
    >>> from serve_marker.court.dimensions import court_named
    >>> court = court_named("indoor")
    >>> parse_aim("Deep 1", court, default_scheme(court)).centre_m
    (1.5, 7.5)
    >>> parse_aim("2, 8, 0.5", court, default_scheme(court)).text
    '2,8,0.5'
    >>> parse_aim("outline 1,7 2,7 2,8 1,8", court, default_scheme(court)).centre_m
    (1.5, 7.5)
    """
    words = " ".join(text.lower().split())
    if not words:
        return None
    name, has_own, own = words.partition(OWN_POINT)
    named = _named(name, court, scheme)
    if named is not None:
        return _with_own_point(named, own) if has_own else named
    if words.startswith(OUTLINE):
        return _placed(text, words, court)
    if words.count(",") == 2:
        return _point(text, words, court)
    raise UserError(
        f"The aim {shown(text)!r} is not known. Write an area ({area_names(court.name)[0]!r}), 'zone 1' to "
        f"'zone 6' or {', '.join(map(repr, seam_names(court.name)))}. A name may have a point: 'deep 1 at 8'. "
        "A spot is x,y,radius in metres from the server's left and the net."
    )


def _named(name: str, court: Court, scheme: AreaScheme) -> Aim | None:
    """An area, a zone or a seam; None where it is none of them."""
    if name in (*area_names(court.name), *AREAS):
        return _outlined(name, "area", area_polygon(name, court, scheme))
    if name in BEACH_COLUMNS and court.name == "beach":
        return _without_depth(_outlined(name, "area", column_polygon(name, court, scheme)), court, scheme)
    if name.startswith("zone ") and name[5:] in ZONES:
        return _outlined(name, "zone", zone_polygon(name[5:], court, scheme))
    if name not in seam_names(court.name):
        return None
    return _without_depth(_outlined(name, "seam", seam_polygon(name, court, scheme)), court, scheme)


def _without_depth(aim: Aim, court: Court, scheme: AreaScheme) -> Aim:
    middle_of_deep_m = (scheme.depth_borders_m[1] + court.half_length_m) / 2
    return replace(aim, centre_m=(aim.centre_m[0], middle_of_deep_m), has_depth=False)


def _with_own_point(aim: Aim, own: str) -> Aim:
    """The aim with the point a coach names: how far from the net, or x,y."""
    from shapely import intersects_xy

    try:
        numbers = [float(part) for part in own.split(",")]
    except ValueError:
        numbers = []
    x_m, y_m = numbers if len(numbers) == 2 else (aim.centre_m[0], numbers[0] if len(numbers) == 1 else math.nan)
    if not intersects_xy(aim.polygon, x_m, y_m):
        raise UserError(
            f"The point {shown(own)!r} is none of {aim.text}. Write its metres from the net, such as "
            f"'{aim.text} at {aim.centre_m[1]:g}', or x,y."
        )
    plain = ",".join(f"{number:g}" for number in numbers)
    return replace(aim, text=f"{aim.text}{OWN_POINT}{plain}", centre_m=(x_m, y_m), has_depth=True)


def _outlined(text: str, kind: Literal["area", "zone", "seam", "outline"], polygon: Polygon) -> Aim:
    return Aim(text, kind, polygon, (float(polygon.centroid.x), float(polygon.centroid.y)))


def _point(text: str, words: str, court: Court) -> Aim:
    from shapely import Point

    try:
        x_m, y_m, radius_m = (float(part) for part in words.split(","))
    except ValueError:
        raise UserError(f"The aim {text!r} needs three numbers: x,y,radius in metres.") from None
    reach_m = (court.width_m, court.half_length_m)
    if not all(map(math.isfinite, (x_m, y_m, radius_m))) or not 0 < radius_m <= max(reach_m):
        raise UserError(f"The aim {text!r} needs a radius above 0 that fits on the court.")
    if not (0 <= x_m <= reach_m[0] and 0 <= y_m <= reach_m[1]):
        raise UserError(
            f"The aim {text!r} lies off the court. Keep x below {reach_m[0]:g} m and y below {reach_m[1]:g} m."
        )
    plain = f"{x_m:g},{y_m:g},{radius_m:g}"
    return Aim(plain, "point", Point(x_m, y_m).buffer(radius_m, quad_segs=32), (x_m, y_m), radius_m)


def _placed(text: str, words: str, court: Court) -> Aim:
    """The outline of a target, its corners in the order they were clicked; one that crosses itself is refused."""
    from shapely import Polygon

    try:
        corners = [tuple(float(part) for part in corner.split(",")) for corner in words.removeprefix(OUTLINE).split()]
        flat = np.array(corners, dtype=float).reshape(-1, 2)
    except ValueError:
        raise UserError(f"The aim {shown(text)!r} needs its corners as x,y in metres, apart by blanks.") from None
    if not 3 <= len(flat) <= MOST_CORNERS or not np.isfinite(flat).all():
        raise UserError(f"The outline of a target needs 3 to {MOST_CORNERS} corners, not {len(flat)}.")
    polygon = Polygon(flat)
    if not polygon.is_valid or polygon.area < SMALLEST_OUTLINE_M2:
        raise UserError("The outline of a target goes round it once. Click its corners in order.")
    beyond_m = np.abs(flat - clamp_onto(flat, court)).max()
    if beyond_m > BESIDE_COURT_M:
        raise UserError("The target lies off the court; click it on the half served to.")
    return _outlined(outline_text(flat), "outline", polygon)


def outline_text(corners_half_m: ArrayLike) -> str:
    """Return the outline (K, 2) of a target in the half frame as an aim is written, to the centimetre.

    Examples
    --------
    >>> outline_text([(1, 7), (2.004, 7), (2, 8.5)])
    'outline 1,7 2,7 2,8.5'
    """
    corners = np.round(np.asarray(corners_half_m, dtype=float).reshape(-1, 2), 2)
    return OUTLINE + " ".join(f"{x:g},{y:g}" for x, y in corners.tolist())


def foot_text(foot_half_m: ArrayLike, radius_m: float = UPRIGHT_RADIUS_M) -> str:
    """Return an upright target by its foot (2,) in the half frame, as an aim is written.

    Examples
    --------
    >>> foot_text((1.499, 8.0))
    '1.5,8,0.5'
    """
    x_m, y_m = np.round(np.asarray(foot_half_m, dtype=float), 2).tolist()
    return f"{x_m:g},{y_m:g},{radius_m:g}"


def aim_words(text: str) -> str:
    """Return an aim as a coach says it: areas by their names, targets as what they are.

    Examples
    --------
    >>> aim_words("deep 1"), aim_words("outline 1,7 2,7 2,8 1,8"), aim_words("1.5,8,0.5")
    ('deep 1', 'target at 1.5, 7.5 m', 'spot at 1.5, 8 m')
    >>> aim_words("deep 1 at 8")
    'deep 1 at 8 m'
    """
    words = " ".join(text.lower().split())
    if words.startswith(OUTLINE):
        try:
            pairs = [corner.split(",") for corner in words.removeprefix(OUTLINE).split()]
            x_m, y_m = np.array(pairs, dtype=float).reshape(-1, 2).mean(axis=0)
        except ValueError:
            return text
        return f"target at {x_m:.1f}, {y_m:.1f} m"
    if words.count(",") == 2:
        x_text, y_text, _ = words.split(",")
        return f"spot at {x_text.strip()}, {y_text.strip()} m"
    return f"{text} m" if OWN_POINT in words else text


def aim_name(text: str) -> str:
    """Return an aim in a word or two, as it is named in a sentence or on a map.

    Examples
    --------
    >>> aim_name("deep 1 at 8"), aim_name("outline 1,7 2,7 2,8 1,8"), aim_name("1.5,8,0.5")
    ('deep 1', 'the target', 'the spot')
    """
    words = " ".join(text.lower().split()).partition(OWN_POINT)[0]
    if words.startswith(OUTLINE):
        return "the target"
    return "the spot" if words.count(",") == 2 else words


def shown(text: str) -> str:
    """Return the start of a text, for a sentence about it."""
    return text if len(text) <= 40 else f"{text[:37]}…"


def aim_hit(points_half_m: ArrayLike, aim: Aim, court: Court) -> NDArray[np.bool_]:
    """Whether each landing (N, 2) [m] in the half frame hit the aim, (N,) bool; NaN did not.

    A ball that touches a line belongs to the floor inside it; one that clears the court hit nothing.

    Examples
    --------
    >>> from serve_marker.court.areas import default_scheme
    >>> from serve_marker.court.dimensions import court_named
    >>> court = court_named("indoor")
    >>> aim = parse_aim("deep 1", court, default_scheme(court))
    >>> aim_hit([(1.0, 9.03), (1.0, 9.5), (4.0, 8.0)], aim, court).tolist()
    [True, False, False]
    """
    points = np.asarray(points_half_m, dtype=float)
    on_court = clamp_onto(points, court)
    touched = np.abs(points - on_court).max(axis=1) <= CONTACT_RADIUS_M
    return np.asarray(touched & _within(on_court, aim), dtype=bool)


def aim_bounds(
    points_half_m: ArrayLike, cov_half_m2: ArrayLike, aim: Aim, court: Court
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Whether each landing (N, 2) hit the aim for sure and whether it may have, provided that it was in.

    A landing whose 95 % ellipse reaches the aim's border may have and is not sure. Where the border runs along the
    court's own lines, the call in or out decides instead.

    Examples
    --------
    >>> from serve_marker.court.areas import default_scheme
    >>> from serve_marker.court.dimensions import court_named
    >>> court = court_named("indoor")
    >>> aim = parse_aim("deep 1", court, default_scheme(court))
    >>> sure, may = aim_bounds([(2.9, 7.0), (1.5, 8.9), (6.0, 7.0)], [[[0.01, 0], [0, 0.01]]] * 3, aim, court)
    >>> sure.tolist(), may.tolist()
    ([False, True, False], [True, True, False])
    """
    from shapely import distance, linestrings, points, union_all

    on_court, cov = clamp_onto(points_half_m, court), np.asarray(cov_half_m2, dtype=float)
    within = _within(on_court, aim)
    corners = np.asarray(aim.polygon.exterior.coords)
    edges = np.stack([corners[:-1], corners[1:]], axis=1)
    edges = edges[~_along_lines(edges, court)]
    if not len(edges) or not len(on_court):
        return within, within
    mean, apart = (cov[:, 0, 0] + cov[:, 1, 1]) / 2, (cov[:, 0, 0] - cov[:, 1, 1]) / 2
    longest_m = SURE_SD * np.sqrt(np.maximum(mean + np.hypot(apart, cov[:, 0, 1]), 0.0))
    clear = np.asarray(distance(union_all(linestrings(edges)), points(on_court)) > longest_m)
    near = np.flatnonzero(~clear & np.isfinite(on_court).all(axis=1))
    clear[near] = _deviations_away(on_court[near], cov[near], edges) > SURE_SD
    return within & clear, within | ~clear


def _within(on_court: NDArray[np.float64], aim: Aim) -> NDArray[np.bool_]:
    from shapely import intersects_xy, prepare

    if aim.radius_m is not None:
        return np.asarray(np.hypot(*(on_court - aim.centre_m).T) <= aim.radius_m)
    prepare(aim.polygon)
    return np.asarray(intersects_xy(aim.polygon, on_court[:, 0], on_court[:, 1]))


def _along_lines(edges: NDArray[np.float64], court: Court) -> NDArray[np.bool_]:
    """Whether edges (E, 2, 2) run along the net or one of the outer lines, or beyond them."""
    x_m, y_m = edges[..., 0], edges[..., 1]
    beyond = [x_m <= 0, x_m >= court.width_m, y_m <= 0, y_m >= court.half_length_m]
    return np.asarray(np.any([side.all(axis=1) for side in beyond], axis=0))


def _deviations_away(
    points: NDArray[np.float64], cov: NDArray[np.float64], edges: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How many standard deviations (N,) points (N, 2) lie from the nearest of edges (E, 2, 2)."""
    roots = np.linalg.cholesky(cov + np.eye(2) * 1e-12)
    away = np.linalg.solve(roots[:, None, None], (edges[None] - points[:, None, None])[..., None])[..., 0]
    start, way = away[:, :, 0], away[:, :, 1] - away[:, :, 0]
    share = np.clip(-(start * way).sum(axis=2) / np.maximum((way**2).sum(axis=2), 1e-30), 0.0, 1.0)
    return np.asarray(np.hypot(*np.moveaxis(start + share[..., None] * way, 2, 0)).min(axis=1))
