"""What a formation makes of a serve: whose ball it is, the gap, her way, and whether anybody gets there in time.

A passer does not wait for the floor: she meets the ball on its flight, at the height of her forearms. A ball belongs
to the passer who is nearest to it there (nearest passers took 95 of 100 of 182 serves: Paulo et al., J. Sports Sci.
2018, 36, 2621-2630)::

             o_  1.2 m high: first played
             : `-_
             :    `-o  0.3 m: last played
        gap  :      :`.
      P ---> *------+--x landing         * is where P best meets it; the floor gap is from P to x
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from serve_marker.court.areas import SEAM_WIDTH_M, WordArray
from serve_marker.court.dimensions import Court, Floats
from serve_marker.court.formations import Formation
from serve_marker.court.passer_movement import Movement
from serve_marker.court.seams import SAME_PLACE_M, places_of, seams_at

if TYPE_CHECKING:
    from shapely import Geometry, Polygon

MOMENTS = 11
"""Along the playable stretch of a flight, at which it is asked who gets there in time: every 0.13 m of a float's."""
ON_THE_SPOT_M = 0.5
"""A passer who has to move less than this takes the ball where she stands (own choice)."""
DISC_SEGMENTS = 64


@dataclass(frozen=True, eq=False)
class Playable:
    """The stretch of N flights in which a passer can play the ball; NaN where a flight is not solved.

    Over these last metres a ball flies straight as seen from above, and at an even speed.

    Parameters
    ----------
    before_m : (N, 2), how far before its landing it is where it is first and last played: high, and low.
    at_s : (N, 2), how long after contact it is there.
    course : (N, 2), unit vectors of its way in the half frame.
    """

    before_m: Floats
    at_s: Floats
    course: Floats

    def __getitem__(self, rows: Any) -> Playable:
        return Playable(self.before_m[rows], self.at_s[rows], self.course[rows])

    @property
    def solved(self) -> NDArray[np.bool_]:
        """Which flights (N,) are known."""
        return np.asarray(np.isfinite(np.hstack([self.before_m, self.at_s, self.course])).all(axis=1), dtype=bool)

    def usual(self) -> Playable | None:
        """Return one flight that is the median of the known ones in every number; None where none is known."""
        known = self[self.solved]
        if not len(known.course):
            return None
        return Playable(*(np.median(part, axis=0)[None] for part in (known.before_m, known.at_s, known.course)))


@dataclass(frozen=True, eq=False)
class Received:
    """What N serves ask of a formation; "" and NaN where nothing can be told.

    Parameters
    ----------
    passer : label of the passer with the smallest gap, or floor gap; of two equally near the one listed first.
    seam : that of the landing, as in `seam_polygons`.
    floor_gap_m : distance from the landing on the floor to the nearest passer.
    gap_m : the least way of any passer to the ball's flight, where it can be played.
    forward_m, right_m : the passer's way there as she faces the net: + towards the net, + to her own right.
    way : that way in words: "forward", "back and left", ..., "on the spot" for gaps up to 0.5 m.
    demand : the least share of the way she can cover in time that a passer has to go to any point of the playable
        flight; over 1 nobody gets there.
    reached : whether any passer does; False where that is not known.
    """

    passer: WordArray
    seam: WordArray
    floor_gap_m: Floats
    gap_m: Floats
    forward_m: Floats
    right_m: Floats
    way: WordArray
    demand: Floats
    reached: NDArray[np.bool_]


_WAYS = np.array(
    [
        *("forward", "forward and right", "right", "back and right"),
        *("back", "back and left", "left", "forward and left"),
    ],
    dtype=object,
)


def receive(
    points_half_m: ArrayLike,
    formation: Formation,
    court: Court,
    seam_width_m: float = SEAM_WIDTH_M,
    playable: Playable | None = None,
    movement: Movement | None = None,
) -> Received:
    """Tell for landings (N, 2) [m] in the half frame whose ball each was, and what it asked of her.

    She meets the ball on its flight, up to 2 m before its landing: gap, way and reach are those of the ``playable``
    stretch of it, and unknown without. All hold for balls outside the court too; for the seam the landings are moved
    onto its nearest edge first, as for areas.

    Examples
    --------
    A float to (7.5, 8.4), 1.3 m before its landing when it is 1.2 m high:

    >>> from serve_marker.court.dimensions import court_named
    >>> from serve_marker.court.formations import preset
    >>> court = court_named("indoor")
    >>> flight = Playable(np.array([[1.3, 0.2]]), np.array([[1.0, 1.09]]), np.array([[0.0, 1.0]]))
    >>> told = receive([(7.5, 8.4)], preset(3, "up", court), court, playable=flight)
    >>> told.passer.tolist(), told.way.tolist(), told.reached.tolist()
    (['left back'], ['back'], [True])
    >>> told.floor_gap_m.round(2).tolist(), told.gap_m.round(2).tolist()
    ([3.0], [1.7])
    """
    points = np.asarray(points_half_m, dtype=float)
    seam = seams_at(points, formation, court, seam_width_m)
    count, passers = len(points), formation.passers
    nothing, unknown = np.full(count, "", dtype=object), np.full(count, np.nan)
    flight = playable or Playable(*np.full((3, count, 2), np.nan))
    if not passers:
        return Received(
            nothing, seam, unknown, unknown, unknown, unknown, nothing, unknown, np.zeros(count, dtype=bool)
        )
    places, rows, known = places_of(passers), np.arange(count), np.isfinite(points).all(axis=1)
    first_m, last_m = _ends(points, flight)
    solved = known & flight.solved
    floor_m = np.where(known[:, None], np.hypot(*(points[:, None] - places).transpose(2, 0, 1)), np.nan)
    met_m = _nearest_on(first_m, last_m, places)
    to_ball_m = np.hypot(*(met_m - places).transpose(2, 0, 1))
    nearest = np.argmin(np.nan_to_num(np.where(solved[:, None], to_ball_m, floor_m)), axis=1)
    gap_m = np.where(solved, to_ball_m[rows, nearest], np.nan)
    forward_m, right_m = np.where(solved, (places[nearest] - met_m[rows, nearest])[:, ::-1].T, np.nan)
    demand = _demand(first_m, last_m, flight.at_s, places, movement or Movement())
    sector = np.round(np.degrees(np.arctan2(right_m, forward_m)) / 45.0)
    way = np.where(gap_m <= ON_THE_SPOT_M, "on the spot", _WAYS[np.where(solved, sector, 0).astype(int) % 8])
    labels = np.array([passer.label for passer in passers], dtype=object)
    return Received(
        passer=np.where(known, labels[nearest], "").astype(object),
        seam=seam,
        floor_gap_m=floor_m.min(axis=1),
        gap_m=gap_m,
        forward_m=forward_m,
        right_m=right_m,
        way=np.where(solved, way, "").astype(object),
        demand=np.where(solved, demand, np.nan),
        reached=solved & (demand <= 1.0),
    )


def _ends(points: Floats, flight: Playable) -> tuple[Floats, Floats]:
    """Floor points (N, 2) under the first and the last point of a playable stretch, never before the net."""
    with np.errstate(all="ignore"):
        net_m = np.maximum(points[:, 1] / flight.course[:, 1], 0.0)
        before_m = np.where(flight.course[:, 1:] > 0, np.minimum(flight.before_m, net_m[:, None]), flight.before_m)
    return points - flight.course * before_m[:, :1], points - flight.course * before_m[:, 1:]


def _nearest_on(first_m: Floats, last_m: Floats, places: Floats) -> Floats:
    """The point (N, P, 2) of each stretch, from ``first_m`` to ``last_m`` (N, 2), that is nearest to each place."""
    way = (last_m - first_m)[:, None]
    with np.errstate(all="ignore"):
        share = ((places - first_m[:, None]) * way).sum(axis=2) / np.maximum((way**2).sum(axis=2), SAME_PLACE_M**2)
    return np.asarray(first_m[:, None] + np.clip(share, 0.0, 1.0)[..., None] * way)


def _demand(first_m: Floats, last_m: Floats, at_s: Floats, places: Floats, movement: Movement) -> Floats:
    """The least share (N,) of what somebody at ``places`` (P, 2) can cover to any of MOMENTS along each stretch."""
    least = np.full(len(first_m), np.inf)
    for share in np.linspace(0.0, 1.0, MOMENTS):
        ball_m = first_m + share * (last_m - first_m)
        away_m = np.hypot(*(ball_m[:, None] - places).transpose(2, 0, 1)).min(axis=1)
        radius_m = movement.radius_m(at_s[:, 0] + share * (at_s[:, 1] - at_s[:, 0]))
        least = np.fmin(least, away_m / np.maximum(radius_m, SAME_PLACE_M))
    return np.where(np.isfinite(least), least, np.nan)


def out_of_reach(formation: Formation, court: Court, flight: Playable, movement: Movement | None = None) -> Geometry:
    """Return where balls of one ``flight`` land that no passer gets to: the half without `floor_in_reach`.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> flight = Playable(np.array([[1.3, 0.2]]), np.array([[1.0, 1.09]]), np.array([[0.0, 1.0]]))
    >>> out_of_reach(Formation("empty floor"), court_named("indoor"), flight).area
    81.0
    """
    return _half_floor(court).difference(floor_in_reach(formation, court, flight, movement))


def floor_in_reach(formation: Formation, court: Court, flight: Playable, movement: Movement | None = None) -> Geometry:
    """Return where on the half balls of one ``flight`` (N = 1) land that some passer gets to in time.

    About every passer, a disc for each moment of the playable flight, moved on by as far as the ball flies yet.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> from serve_marker.court.formations import Passer
    >>> still = Playable(np.zeros((1, 2)), np.full((1, 2), 1.0), np.array([[0.0, 1.0]]))
    >>> alone, slow = Formation("one", (Passer(4.5, 4.5, "Ines"),)), Movement(0.5, 1.0, 0.5)
    >>> round(floor_in_reach(alone, court_named("indoor"), still, slow).area, 2)
    3.14
    """
    from shapely import Point, union_all

    if not (flight.solved.all() and len(flight.course) == 1):
        raise ValueError("floor is in or out of reach of one known flight")
    discs = []
    for share in np.linspace(0.0, 1.0, MOMENTS):
        before_m, at_s = (float(part[0] @ (1 - share, share)) for part in (flight.before_m, flight.at_s))
        on_x_m, on_y_m = (flight.course[0] * before_m).tolist()
        radius_m = float((movement or Movement()).radius_m(at_s))
        for passer in formation.passers:
            discs.append(Point(passer.x_m + on_x_m, passer.y_m + on_y_m).buffer(radius_m, quad_segs=DISC_SEGMENTS))
    return _half_floor(court).intersection(union_all(discs))


def _half_floor(court: Court) -> Polygon:
    from shapely import box

    return box(0.0, 0.0, court.width_m, court.half_length_m)
