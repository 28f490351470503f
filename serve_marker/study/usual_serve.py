"""How a server usually serves, and how that serve would fly to any other place of the half.

To a nearer place no ball flies as fast: it would not clear the net. Hence a serve goes there at her usual pace where
it crosses the net as high as she usually does, and slower, in a higher arc, where it would cross lower.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from serve_marker.court.dimensions import Court, Floats
from serve_marker.court.passer_movement import Movement
from serve_marker.court.reception import Playable
from serve_marker.flight.contact_height import usual_contact_height_m
from serve_marker.flight.forces import likely_drag, likely_lift
from serve_marker.flight.launch import solve_launch
from serve_marker.flight.trajectory import BALL_RADIUS_M, PER_METRE, Motion, before_the_end, track
from serve_marker.study.fewest_serves import FEWEST

if TYPE_CHECKING:
    import pandas

SLOWER = np.linspace(1.0, 4.0, 61)
"""Times of flight that are tried, as multiples of that at her usual pace; between them the height is interpolated."""
DEPTH_STEP_M = 0.25
DEEP_SHARE = 2 / 3
USUAL_SD, USUAL_WEIGHS = 0.04, 10.0
"""Times of flight of one server's serves differ by so much of their median; weighs as so many serves (own choices)."""
MEDIAN_DOUBT = 0.02
"""What her deep serves landing nearer or farther does to their median (simulated: `tests/benchmarks/match_day.py`)."""
NODES = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
"""Flights faster and slower than usual that are looked at, in deviations."""
STEPS = 24


@dataclass(frozen=True)
class UsualServe:
    """A usual serve of ``n`` timed ones.

    Parameters
    ----------
    way_m, flight_s : how far it flies straight ahead, and how long.
    from_x_m : where across the half she hits it [m].
    serve_type : the one most of them had, "" where none is known.
    sd : by how much times of flight differ from serve to serve, as a share of the usual one.
    over_net_m : how high the ball's centre usually crosses the net's plane, NaN where this serve alone tells it.
    """

    way_m: float
    flight_s: float
    from_x_m: float
    serve_type: str
    n: int
    sd: float = USUAL_SD
    over_net_m: float = math.nan

    @property
    def doubt(self) -> float:
        """Deviation of the usual time of flight itself, as a share of it."""
        return math.hypot(self.sd / math.sqrt(self.n), MEDIAN_DOUBT)

    def shares(self, draws: int, chance: np.random.Generator) -> tuple[Floats, Floats]:
        """Return times of flight (5,) as shares of the usual one, and how often she serves each (1 + draws, 5).

        The likeliest first, then with the usual one as far off as it may be.
        """
        shares = NODES * math.hypot(self.sd, self.doubt)
        off = np.append(0.0, chance.normal(0.0, self.doubt, draws))
        from scipy.special import softmax

        return 1.0 + shares, softmax(-(((shares - off[:, None]) / self.sd) ** 2) / 2, axis=1)

    @classmethod
    def of(cls, table: pandas.DataFrame, court: Court) -> UsualServe | None:
        """Return the median of the timed serves of a table whose flight is solved; None where there is none.

        Of those to the deep third alone where there are any, for shorter ones fly slower. How high they cross the net
        is that of the shorter ones where there are some: the deepest cross higher at the same pace.
        """
        course = table[["course_x", "course_y"]].to_numpy(dtype=float)
        course = np.where((table["half"] == "a").to_numpy()[:, None], -course, course)
        landed_m, flight_s = table[["x_m", "y_m"]].to_numpy(dtype=float), table["flight_s"].to_numpy(dtype=float)
        known = np.isfinite(course.sum(axis=1) + landed_m.sum(axis=1) + flight_s)
        if not known.any():
            return None
        course, landed_m, flight_s = course[known], landed_m[known], flight_s[known]
        deep = landed_m[:, 1] >= court.half_length_m * DEEP_SHARE
        deep = deep if deep.any() else ~deep
        way_m, flight_s = landed_m[:, 1] + court.half_length_m, flight_s * course[:, 1]
        from_x_m = landed_m[:, 0] - way_m * course[:, 0] / course[:, 1]
        usual_way_m, usual_s, usual_x_m = (float(np.median(part[deep])) for part in (way_m, flight_s, from_x_m))
        usual_type = str(table["serve_type"][known][deep].mode().iloc[0])
        sd = _shared_sd(way_m[deep], flight_s[deep] / way_m[deep] / (usual_s / usual_way_m) - 1)
        found = cls(usual_way_m, usual_s, usual_x_m, usual_type, int(deep.sum()), sd)
        shorter = ~deep if (~deep).sum() >= FEWEST else known[known]
        over_m = found._over_net(way_m[shorter], flight_s[shorter], court)
        return replace(found, over_net_m=float(np.nanmedian(over_m)))

    def slower(self, share: float, court: Court) -> UsualServe:
        """Return the serve that takes ``share`` times as long, and crosses the net as much higher."""
        times_s = np.array([self.flight_s, share * self.flight_s])
        usual_m, there_m = self._over_net(np.full(2, self.way_m), times_s, court)
        return replace(self, flight_s=share * self.flight_s, over_net_m=self.over_net_m + float(there_m - usual_m))

    def to(self, places_m: Floats, court: Court, movement: Movement) -> Playable:
        """Return the flights to places (N, 2) of the half frame, as far as passers can play them; NaN beyond reach.

        Examples
        --------
        A float that flies 16 m in 1 s takes longer to the attack line, in a higher arc:

        >>> from serve_marker.court.dimensions import court_named
        >>> usual = UsualServe(16.0, 1.0, 4.5, "float", 20)
        >>> flights = usual.to(np.array([(4.5, 7.0), (4.5, 3.0)]), court_named("indoor"), Movement())
        >>> flights.at_s.round(2).tolist(), flights.before_m.round(1).tolist()
        ([[0.82, 0.98], [1.14, 1.28]], [[2.5, 0.4], [1.2, 0.2]])
        """
        depths_m = np.arange(DEPTH_STEP_M / 2, court.half_length_m, DEPTH_STEP_M)
        before_m, at_s = self._by_depth(depths_m, court, movement)
        way_m = places_m - (self.from_x_m, -court.half_length_m)
        length_m = np.hypot(*way_m.T)[:, None]
        before_m, at_s = (
            np.column_stack([np.interp(places_m[:, 1], depths_m, part) for part in parts.T])
            for parts in (before_m, at_s)
        )
        return Playable(before_m, at_s * length_m / way_m[:, 1:], way_m / length_m)

    def _by_depth(self, depths_m: Floats, court: Court, movement: Movement) -> tuple[Floats, Floats]:
        """How far before its landing a ball straight ahead to each depth (D,) is played, high and low, and when."""
        pace_mps = self.way_m / self.flight_s
        usual_m = self.over_net_m
        if math.isnan(usual_m):
            usual_m = float(self._over_net(np.array([self.way_m]), np.array([self.flight_s]), court)[0])
        ways_m = depths_m + court.half_length_m
        flights_s = SLOWER[:, None] * ways_m / pace_mps
        over_m = self._over_net(np.broadcast_to(ways_m, flights_s.shape), flights_s, court)
        over_m = np.nan_to_num(over_m, nan=np.inf)
        flight_s = np.array([np.interp(usual_m, *one) for one in zip(over_m.T, flights_s.T, strict=True)])
        start, drag, lift = self._launch(ways_m, flight_s)
        end = track(start, flight_s, drag, lift, STEPS).motion
        last = Motion(end.along_m[-1], end.height_m[-1], end.along_mps[-1], end.rise_mps[-1])
        found = [before_the_end(last, drag, lift, height_m) for height_m in (movement.highest_m, movement.lowest_m)]
        before_m, before_s = (np.column_stack(parts) for parts in zip(*found, strict=True))
        return before_m, flight_s[:, None] - before_s

    def _over_net(self, ways_m: Floats, flights_s: Floats, court: Court) -> Floats:
        """How high the ball crosses the net's plane, in the shape of the ways and times given; NaN for no flight."""
        start, drag, lift = self._launch(ways_m.ravel(), flights_s.ravel())
        height_m = track(start, flights_s.ravel(), drag, lift, STEPS).height_at(court.half_length_m)
        return np.asarray(height_m.reshape(ways_m.shape))

    def _launch(self, ways_m: Floats, flights_s: Floats) -> tuple[Motion, Floats, Floats]:
        drag, _ = likely_drag(ways_m / flights_s)
        lift = np.broadcast_to(likely_lift([self.serve_type])[0], drag.shape)
        height_m = usual_contact_height_m(self.serve_type)
        start = solve_launch(ways_m, flights_s, height_m, drag, lift, BALL_RADIUS_M, STEPS)
        return start, drag * PER_METRE, lift * PER_METRE


def _shared_sd(way_m: Floats, slower: Floats) -> float:
    """By how much times of flight differ beside what the way (N,) explains, drawn towards what is usual."""
    line = np.column_stack([np.ones(len(way_m)), way_m - way_m.mean()])
    rest = slower - line @ np.linalg.lstsq(line, slower, rcond=None)[0] if len(slower) > FEWEST else slower
    return math.sqrt((USUAL_WEIGHS * USUAL_SD**2 + float(rest @ rest)) / (USUAL_WEIGHS + len(rest)))
