"""What a server was asked to hit, read from the words a coach writes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from serve_marker.court.areas import AREAS, SEAMS, AreaScheme, area_polygon, clamp_onto, seam_polygon, zone_polygon
from serve_marker.court.calls import CONTACT_RADIUS_M
from serve_marker.court.dimensions import Court
from serve_marker.errors import UserError

if TYPE_CHECKING:
    from shapely import Polygon

ZONES = ("1", "2", "3", "4", "5", "6")


@dataclass(frozen=True)
class Aim:
    """An aim as an outline in the half frame [m], its centre, and its radius where it is a point."""

    text: str
    kind: Literal["area", "zone", "seam", "point"]
    polygon: Polygon
    centre_m: tuple[float, float]
    radius_m: float | None = None


def parse_aim(text: str, court: Court, scheme: AreaScheme) -> Aim | None:
    """Read an aim: an area, ``zone 1``..``zone 6``, a seam, or ``x,y,radius`` in the half frame; None for "".

    Examples
    --------
    >>> from serve_marker.court.areas import default_scheme
    >>> from serve_marker.court.dimensions import court_named
    >>> court = court_named("indoor")
    >>> parse_aim("Deep 1", court, default_scheme(court)).centre_m
    (1.5, 7.5)
    >>> parse_aim("2, 8, 0.5", court, default_scheme(court)).text
    '2,8,0.5'
    """
    words = " ".join(text.lower().split())
    if not words:
        return None
    if words in AREAS:
        return _outlined(words, "area", area_polygon(words, court, scheme))
    if words in SEAMS:
        return _outlined(words, "seam", seam_polygon(words, court, scheme))
    if words.startswith("zone ") and words[5:] in ZONES:
        return _outlined(words, "zone", zone_polygon(words[5:], court, scheme))
    if words.count(",") == 2:
        return _point(text, words, court)
    raise UserError(
        f"The aim {text!r} is not known; write an area such as 'deep 1', 'zone 1' to 'zone 6', 'seam 5-6', "
        "'seam 6-1', or x,y,radius in metres from the server's left and the net."
    )


def _outlined(text: str, kind: Literal["area", "zone", "seam"], polygon: Polygon) -> Aim:
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
            f"The aim {text!r} lies off the court; x runs from 0 to {reach_m[0]:g} m, y from 0 to {reach_m[1]:g} m."
        )
    plain = f"{x_m:g},{y_m:g},{radius_m:g}"
    return Aim(plain, "point", Point(x_m, y_m).buffer(radius_m, quad_segs=32), (x_m, y_m), radius_m)


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
    from shapely import intersects_xy, prepare

    points = np.asarray(points_half_m, dtype=float)
    on_court = clamp_onto(points, court)
    touched = np.abs(points - on_court).max(axis=1) <= CONTACT_RADIUS_M
    if aim.radius_m is not None:
        within = np.hypot(*(on_court - aim.centre_m).T) <= aim.radius_m
    else:
        prepare(aim.polygon)
        within = np.asarray(intersects_xy(aim.polygon, on_court[:, 0], on_court[:, 1]))
    return np.asarray(touched & within, dtype=bool)
