"""In, out or too close to call: the ball touches a disc, not a point.

A ball is in when any part of its contact with the floor touches the court, lines included (FIVB Official
Volleyball Rules 2025-2028, 8.3), compression too (FIVB Refereeing Guidelines 2024, rule 8.1). The disc's radius is
computed from the rule pressure, as no published figure was found: 0.065 +- 0.02 m.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from serve_marker.court.areas import (
    AREAS,
    AreaScheme,
    WordArray,
    area_at,
    border_distances_m,
    clamp_onto,
    front_border_m,
    seam_lines_m,
)
from serve_marker.court.dimensions import Court, Floats

CONTACT_RADIUS_M = 0.065
CONTACT_RADIUS_SD_M = 0.02
SURE_SD = 2.45
"""Standard deviations along a border's normal beyond which a side is told for sure."""


@dataclass(frozen=True, eq=False)
class Calls:
    """Calls of N landings.

    ``verdict`` is "in", "out", "too close", or "" where the landing is unknown; ``line_margin_m`` is how far the
    contact disc reaches inside the nearest outer line (+ in); ``missed`` is "long" or "wide" for balls called out.
    """

    verdict: WordArray
    line_margin_m: Floats
    missed: WordArray


def call_lines(points_half_m: ArrayLike, cov_half_m2: ArrayLike, court: Court) -> Calls:
    """Call landings (N, 2) [m] with covariances (N, 2, 2) [m2] in the half frame against the three outer lines.

    Out when the disc clears any line by more than 2.45 standard deviations along that line's normal, in when it
    lies inside all of them by as much, too close otherwise. A landing surely on the server's own side is out.

    Examples
    --------
    >>> import numpy as np
    >>> from serve_marker.court.dimensions import court_named
    >>> cov = np.broadcast_to(np.eye(2) * 0.03**2, (3, 2, 2))
    >>> calls = call_lines([(4.5, 8.0), (4.5, 9.3), (9.05, 4.0)], cov, court_named("indoor"))
    >>> calls.verdict.tolist(), calls.missed.tolist()
    (['in', 'out', 'too close'], ['', 'long', ''])
    """
    points, cov = _checked(points_half_m, cov_half_m2)
    x_m, y_m = points[:, 0], points[:, 1]
    var_x, var_y = cov[:, 0, 0], cov[:, 1, 1]
    margins_m = np.column_stack([x_m, court.width_m - x_m, court.half_length_m - y_m]) + CONTACT_RADIUS_M
    room_m = SURE_SD * np.sqrt(np.column_stack([var_x, var_x, var_y]) + CONTACT_RADIUS_SD_M**2)
    own_side_m = y_m + CONTACT_RADIUS_M
    own_side = own_side_m < -room_m[:, 2]
    known = np.isfinite(margins_m.sum(axis=1)) & np.isfinite(room_m.sum(axis=1))
    out = (margins_m < -room_m).any(axis=1) | own_side
    inside = (margins_m > room_m).all(axis=1) & (own_side_m > room_m[:, 2])
    verdict = np.select([~known, out, inside], ["", "out", "in"], "too close").astype(object)
    surplus = np.where(known[:, None], margins_m + room_m, 0.0)
    missed = np.where(surplus.argmin(axis=1) == 2, "long", "wide").astype(object)
    missed[~(known & out) | (own_side & (surplus >= 0).all(axis=1))] = ""
    line_margin_m = np.where(own_side, np.minimum(margins_m.min(axis=1), own_side_m), margins_m.min(axis=1))
    return Calls(verdict, np.where(known, line_margin_m, np.nan), missed)


def area_sure(points_half_m: ArrayLike, cov_half_m2: ArrayLike, court: Court, scheme: AreaScheme) -> NDArray[np.bool_]:
    """Whether each landing (N, 2) is clear of every border between areas by 2.45 standard deviations, (N,) bool.

    Examples
    --------
    >>> from serve_marker.court.areas import default_scheme
    >>> from serve_marker.court.dimensions import court_named
    >>> court = court_named("indoor")
    >>> area_sure([(3.1, 7.0), (4.5, 7.5)], [[[0.01, 0], [0, 0.01]]] * 2, court, default_scheme(court)).tolist()
    [False, True]
    """
    points, cov = _checked(points_half_m, cov_half_m2)
    away_m = np.abs(border_distances_m(clamp_onto(points, court), scheme))
    sd_m = np.sqrt(cov[:, (0, 0, 1, 1), (0, 0, 1, 1)])
    return np.asarray((away_m > SURE_SD * sd_m).all(axis=1))


@dataclass(frozen=True, eq=False)
class Possible:
    """What N landings may have hit, given their errors; arrays (N,).

    ``areas``, ``bands`` and ``seams`` hold one bit for each name of `area_names`, DEPTH_BANDS and `seam_names`: 0
    where the landing is unknown, one bit where there is no doubt. ``seam_sure``: wholly within one seam.
    """

    areas: NDArray[np.int64]
    bands: NDArray[np.int64]
    seams: NDArray[np.int64]
    seam_sure: NDArray[np.bool_]


def possible_places(points_half_m: ArrayLike, cov_half_m2: ArrayLike, court: Court, scheme: AreaScheme) -> Possible:
    """Return what landings (N, 2) [m] may have hit: all that lies within 2.45 standard deviations along either axis.

    Examples
    --------
    >>> from serve_marker.court.areas import default_scheme
    >>> from serve_marker.court.dimensions import court_named
    >>> court = court_named("indoor")
    >>> found = possible_places([(3.1, 7.0), (4.5, 7.5)], [[[0.01, 0], [0, 0.01]]] * 2, court, default_scheme(court))
    >>> [[name for bit, name in enumerate(AREAS) if may >> bit & 1] for may in found.areas.tolist()]
    [['deep 1', 'deep 6'], ['deep 6']]
    """
    points, cov = _checked(points_half_m, cov_half_m2)
    on_court = clamp_onto(points, court)
    reach_m = SURE_SD * np.sqrt(np.maximum(cov[:, (0, 1), (0, 1)], 0.0))
    low_m, high_m = on_court - reach_m, on_court + reach_m
    known = np.isfinite(low_m).all(axis=1)
    columns = _parts(low_m[:, 0], high_m[:, 0], scheme.column_borders_m)
    rows = _parts(low_m[:, 1], high_m[:, 1], scheme.row_borders_m)
    areas = np.zeros(len(points), dtype=np.int64)
    for row in range(3):
        for column in range(3):
            areas |= (rows[row] & columns[column]).astype(np.int64) << AREAS.index(area_at(row, column))
    bands = np.zeros(len(points), dtype=np.int64)
    for band, may in enumerate(_parts(low_m[:, 1], high_m[:, 1], scheme.depth_borders_m)):
        bands |= may.astype(np.int64) << band
    front_m, half_seam_m = front_border_m(court, scheme), scheme.seam_width_m / 2
    seams, seam_sure = np.zeros(len(points), dtype=np.int64), np.zeros(len(points), dtype=bool)
    for seam, border_m in enumerate(seam_lines_m(court, scheme).values()):
        left_m, right_m = border_m - half_seam_m, border_m + half_seam_m
        may = (low_m[:, 0] <= right_m) & (high_m[:, 0] >= left_m) & (high_m[:, 1] >= front_m)
        seams |= may.astype(np.int64) << seam
        seam_sure |= (low_m[:, 0] >= left_m) & (high_m[:, 0] <= right_m) & (low_m[:, 1] >= front_m)
    areas, bands, seams = (np.where(known, bits, 0) for bits in (areas, bands, seams))
    return Possible(areas, bands, seams, known & seam_sure)


def _parts(low_m: Floats, high_m: Floats, borders_m: tuple[float, float]) -> list[NDArray[np.bool_]]:
    """Whether spans (N,) reach into each of the three parts that two borders make."""
    first, last = np.searchsorted(borders_m, low_m, side="left"), np.searchsorted(borders_m, high_m, side="right")
    return [(first <= part) & (part <= last) for part in range(3)]


def _checked(points_half_m: ArrayLike, cov_half_m2: ArrayLike) -> tuple[Floats, Floats]:
    points = np.asarray(points_half_m, dtype=float)
    cov = np.asarray(cov_half_m2, dtype=float)
    if points.ndim != 2 or points.shape[1] != 2:
        raise ValueError(f"points must have shape (N, 2), not {points.shape}")
    if cov.shape != (len(points), 2, 2):
        raise ValueError(f"covariances must have shape ({len(points)}, 2, 2), not {cov.shape}")
    return points, cov
