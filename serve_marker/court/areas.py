"""The nine target areas, the zones of the rules, depth bands and seams, all in the half frame.

No rule sets metre borders for zones: columns at thirds of the width and rows at the attack line and at two
thirds of the depth are common practice, hence editable.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from serve_marker.court.dimensions import COURTS, Court, Floats
from serve_marker.errors import UserError
from serve_marker.plain_json import read_json, told_as

if TYPE_CHECKING:
    from shapely import Polygon

WordArray = NDArray[np.object_]

AREAS = (
    "deep 1",
    "deep 6",
    "deep 5",
    "between 1-2",
    "between 6-3",
    "between 5-4",
    "short 2",
    "short 3",
    "short 4",
)
DEPTH_BANDS = ("short", "between", "deep")
SEAMS = ("seam 5-6", "seam 6-1")
BEACH_COLUMNS = ("cross", "middle", "line")
"""Columns of the beach court from the server's left, as for a server at her right: line is straight ahead of her."""
BEACH_AREAS = tuple(f"{band} {column}" for band in ("deep", "between", "short") for column in BEACH_COLUMNS)
SEAM_WIDTH_M = 1.0
"""Across a seam of passers and of the areas where nothing else is set."""
BEACH_SEAMS = ("seam middle",)
"""Two passers have one seam, the middle."""
ANY_COURT = ""
"""Stands in a logbook's setting for every court without areas of its own there."""

_ZONE_BY_ROW_AND_COLUMN = np.array([("2", "3", "4"), ("1", "6", "5")], dtype=object)


def area_names(court_name: str) -> tuple[str, ...]:
    """Return what the nine areas are called on a court, in the order of AREAS.

    Examples
    --------
    >>> area_names("beach")[:3], area_names("indoor") == AREAS
    (('deep cross', 'deep middle', 'deep line'), True)
    """
    return BEACH_AREAS if court_name == "beach" else AREAS


def seam_names(court_name: str) -> tuple[str, ...]:
    """Return what the seams are called on a court where no passers are set."""
    return BEACH_SEAMS if court_name == "beach" else SEAMS


@dataclass(frozen=True)
class AreaScheme:
    """Borders [m] in the half frame: columns by x, rows and depth bands by y.

    ``depth_borders_m`` part short | between | deep in the depth study and may differ from the rows of areas.
    """

    column_borders_m: tuple[float, float]
    row_borders_m: tuple[float, float]
    depth_borders_m: tuple[float, float]
    seam_width_m: float = SEAM_WIDTH_M

    def to_dict(self) -> dict[str, Any]:
        """Return plain values fit for JSON."""
        return {
            "column_borders_m": list(self.column_borders_m),
            "row_borders_m": list(self.row_borders_m),
            "depth_borders_m": list(self.depth_borders_m),
            "seam_width_m": self.seam_width_m,
        }

    @classmethod
    def from_dict(cls, plain: object) -> AreaScheme:
        """Make a scheme of plain values.

        Raises
        ------
        UserError : where borders are missing, not numbers or not in rising order.
        """
        if not isinstance(plain, Mapping):
            raise UserError("The area borders are not a set of named values; set them again.")
        pairs = [_pair(plain, key) for key in ("column_borders_m", "row_borders_m", "depth_borders_m")]
        seam_width_m = plain.get("seam_width_m", SEAM_WIDTH_M)
        if not _is_number(seam_width_m) or seam_width_m <= 0:
            raise UserError("The seam width must be a positive number of metres.")
        return cls(pairs[0], pairs[1], pairs[2], float(seam_width_m))


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _pair(plain: Mapping[Any, Any], key: str) -> tuple[float, float]:
    value = plain.get(key)
    if not isinstance(value, list | tuple) or len(value) != 2 or not all(map(_is_number, value)):
        raise UserError(f"The area borders {key} must be two numbers in metres.")
    if not 0 < value[0] < value[1]:
        raise UserError(f"The area borders {key} must be above 0 and rise, not {value[0]:g} and {value[1]:g}.")
    return float(value[0]), float(value[1])


def default_scheme(court: Court) -> AreaScheme:
    """Columns at thirds of the width; rows at the attack line and two thirds of the depth, else at thirds.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> default_scheme(court_named("indoor")).row_borders_m
    (3.0, 6.0)
    """
    depth_m = court.half_length_m
    rows_m = (depth_m / 3 if court.attack_line_m is None else court.attack_line_m, 2 * depth_m / 3)
    return AreaScheme((court.width_m / 3, 2 * court.width_m / 3), rows_m, rows_m)


def scheme_from_setting(text: str, court: Court) -> AreaScheme:
    """Return the areas a team uses on a court, from the setting a logbook keeps; the court's own where it has none.

    ``text`` is JSON, {name of a court: scheme}. A setting of one scheme alone holds for every court it fits on.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> indoor, beach = court_named("indoor"), court_named("beach")
    >>> own = AreaScheme((2.0, 7.0), (2.5, 6.0), (3.0, 6.0))
    >>> text = setting_with_scheme("", indoor, own)
    >>> scheme_from_setting(text, indoor) == own, scheme_from_setting(text, beach) == default_scheme(beach)
    (True, True)
    """
    return _scheme_from_setting(text, court)


@lru_cache(maxsize=64)
def _scheme_from_setting(text: str, court: Court) -> AreaScheme:
    schemes = _schemes(text)
    scheme = schemes.get(_scheme_key(court), schemes.get(ANY_COURT))
    return scheme if scheme is not None and _fits(scheme, court) else default_scheme(court)


def setting_with_scheme(text: str, court: Court, scheme: AreaScheme | None) -> str:
    """Return the setting ``text`` with other areas on this court; None stands for the court's own."""
    schemes = _schemes(text)
    if scheme is None and ANY_COURT not in schemes:
        schemes.pop(_scheme_key(court), None)
    else:
        schemes[_scheme_key(court)] = scheme
    plain = {key: kept.to_dict() if kept else None for key, kept in schemes.items()}
    return json.dumps(plain, sort_keys=True) if plain else ""


def _schemes(text: str) -> dict[str, AreaScheme | None]:
    with told_as("The borders of the areas cannot be read; set them again."):
        plain = read_json(text) if text else {}
    if not isinstance(plain, Mapping) or "column_borders_m" in plain:
        return {ANY_COURT: AreaScheme.from_dict(plain)}
    return {str(key): None if kept is None else AreaScheme.from_dict(kept) for key, kept in plain.items()}


def _scheme_key(court: Court) -> str:
    return court.name if court.name in COURTS else f"{court.name} {court.length_m:g} x {court.width_m:g}"


def _fits(scheme: AreaScheme, court: Court) -> bool:
    deepest_m = max(scheme.row_borders_m[1], scheme.depth_borders_m[1])
    return scheme.column_borders_m[1] < court.width_m and deepest_m < court.half_length_m


@dataclass(frozen=True, eq=False)
class Classified:
    """Where N points lie: words per point, "" where nothing can be told, and metres, NaN likewise."""

    area: WordArray
    zone: WordArray
    depth_band: WordArray
    seam: WordArray
    area_margin_m: Floats


def clamp_onto(points_half_m: ArrayLike, court: Court) -> Floats:
    """Move points (N, 2) outside the receiving half onto its nearest edge; NaN stays.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> clamp_onto([(9.05, 4.0)], court_named("indoor")).tolist()
    [[9.0, 4.0]]
    """
    points = np.asarray(points_half_m, dtype=float)
    if points.ndim != 2 or points.shape[1] != 2:
        raise ValueError(f"points must have shape (N, 2), not {points.shape}")
    return np.asarray(np.clip(points, 0.0, (court.width_m, court.half_length_m)), dtype=float)


def classify(points_half_m: ArrayLike, court: Court, scheme: AreaScheme) -> Classified:
    """Name area, zone, depth band and seam of points (N, 2) in the half frame.

    Points outside the court are clamped onto it first: a ball that touches a line belongs to the area inside.
    A point on a border belongs to the deeper area, or to the one further from the server's left.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> court = court_named("indoor")
    >>> found = classify([(0.5, 8.5), (6.2, 7.0)], court, default_scheme(court))
    >>> found.area.tolist(), found.seam.tolist(), found.area_margin_m.round(3).tolist()
    (['deep 1', 'deep 5'], ['', 'seam 5-6'], [2.5, 0.2])
    """
    points = clamp_onto(points_half_m, court)
    known = np.isfinite(points).all(axis=1)
    x_m, y_m = points[:, 0], points[:, 1]
    column = np.searchsorted(scheme.column_borders_m, x_m, side="right")
    row = np.searchsorted(scheme.row_borders_m, y_m, side="right")
    band = np.searchsorted(scheme.depth_borders_m, y_m, side="right")
    front_m = front_border_m(court, scheme)
    in_depth = y_m >= front_m

    def told(words: WordArray) -> WordArray:
        return np.where(known, words, "").astype(object)

    column, row, band = (np.where(known, part, 0) for part in (column, row, band))
    seam = np.full(len(points), "", dtype=object)
    lines_m = seam_lines_m(court, scheme)
    away_m = np.abs(x_m[:, None] - np.array(list(lines_m.values())))
    nearest = len(lines_m) - 1 - away_m[:, ::-1].argmin(axis=1)
    inside = in_depth & (away_m.min(axis=1) <= scheme.seam_width_m / 2)
    seam[inside] = np.array(list(lines_m), dtype=object)[nearest[inside]]
    borders = border_distances_m(points, scheme)
    return Classified(
        area=told(np.array(area_names(court.name), dtype=object)[3 * (2 - row) + column]),
        zone=told(_ZONE_BY_ROW_AND_COLUMN[in_depth.astype(int), column]),
        depth_band=told(np.array(DEPTH_BANDS, dtype=object)[band]),
        seam=told(seam),
        area_margin_m=np.where(known, np.abs(borders).min(axis=1), np.nan),
    )


def border_distances_m(points_half_m: Floats, scheme: AreaScheme) -> Floats:
    """Signed distances (N, 4) [m] of points to the two column and the two row borders between areas."""
    x_m, y_m = points_half_m[:, :1], points_half_m[:, 1:]
    return np.hstack([x_m - np.array(scheme.column_borders_m), y_m - np.array(scheme.row_borders_m)])


def front_border_m(court: Court, scheme: AreaScheme) -> float:
    """The depth [m] that parts front from back zones: the attack line, else the first row border."""
    return scheme.row_borders_m[0] if court.attack_line_m is None else court.attack_line_m


def area_polygon(name: str, court: Court, scheme: AreaScheme) -> Polygon:
    """Outline of a target area in the half frame [m].

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> court = court_named("indoor")
    >>> area_polygon("deep 5", court, default_scheme(court)).bounds
    (6.0, 6.0, 9.0, 9.0)
    """
    names = next((names for names in (area_names(court.name), AREAS) if name in names), None)
    if names is None:
        raise ValueError(f"no area is called {name!r}")
    from_behind, column = divmod(names.index(name), 3)
    y_m = (0.0, *scheme.row_borders_m, court.half_length_m)
    return _column_box(column, y_m[2 - from_behind], y_m[3 - from_behind], court, scheme)


def column_polygon(name: str, court: Court, scheme: AreaScheme) -> Polygon:
    """Outline of one of BEACH_COLUMNS in the half frame [m], from the net to the end line.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> beach = court_named("beach")
    >>> [round(edge, 2) for edge in column_polygon("line", beach, default_scheme(beach)).bounds]
    [5.33, 0.0, 8.0, 8.0]
    """
    return _column_box(BEACH_COLUMNS.index(name), 0.0, court.half_length_m, court, scheme)


def area_at(row: int, column: int) -> str:
    """Name of the area in a row (0 short .. 2 deep) and a column (0 at the server's left).

    Examples
    --------
    >>> area_at(2, 0), area_at(0, 2)
    ('deep 1', 'short 4')
    """
    return AREAS[3 * (2 - row) + column]


def zone_polygon(zone: str | int, court: Court, scheme: AreaScheme) -> Polygon:
    """Outline of a zone "1".."6" in the half frame [m], parted at the attack line."""
    rows, columns = np.nonzero(np.isin(_ZONE_BY_ROW_AND_COLUMN, [str(zone)]))
    if not len(rows):
        raise ValueError(f"no zone is called {zone!r}")
    y_m = (0.0, front_border_m(court, scheme), court.half_length_m)
    return _column_box(int(columns[0]), y_m[rows[0]], y_m[rows[0] + 1], court, scheme)


def seam_lines_m(court: Court, scheme: AreaScheme) -> dict[str, float]:
    """Where the middle of each seam lies across the half [m], by its name, in the order of `seam_names`."""
    across_m = (court.half_width_m,) if court.name == "beach" else reversed(scheme.column_borders_m)
    return dict(zip(seam_names(court.name), across_m, strict=True))


def seam_polygon(name: str, court: Court, scheme: AreaScheme) -> Polygon:
    """Outline of a default seam in the half frame [m], from the attack line to the end line."""
    from shapely import box

    lines_m = seam_lines_m(court, scheme)
    if name not in lines_m:
        raise ValueError(f"no seam is called {name!r}")
    x_m = lines_m[name]
    half_m = scheme.seam_width_m / 2
    return box(x_m - half_m, front_border_m(court, scheme), x_m + half_m, court.half_length_m)


def _column_box(column: int, near_m: float, far_m: float, court: Court, scheme: AreaScheme) -> Polygon:
    from shapely import box

    x_m = (0.0, *scheme.column_borders_m, court.width_m)
    return box(x_m[column], near_m, x_m[column + 1], far_m)
