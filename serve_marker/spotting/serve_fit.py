"""One flight held at both ends: hit behind an end line, and ended on the floor, at a passer or in the net.

From where a free flight was seen the whole serve is fitted again with its own drag and lift. What serves are known for
enters as expected values with deviations: where and how high they are hit, that they are seen from about the hit on,
and what their end is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.flight.forces import DRAG_SD, UNKNOWN_LIFT, likely_drag
from serve_marker.flight.trajectory import PER_METRE, Motion, advance, against_indoor
from serve_marker.spotting.free_flights import FreeFlight, centre_sd_px, projected, side_by_side
from serve_marker.spotting.usual_serves import (
    AIR_STEPS,
    BEHIND_LINE_M,
    BEHIND_LINE_SD_M,
    CONTACT_HEIGHT_M,
    CONTACT_HEIGHT_SD_M,
    carried,
)

Outcome = Literal["floor", "received", "net"]
OUTCOMES: tuple[Outcome, ...] = ("floor", "received", "net")

SEEN_AFTER_S, SEEN_AFTER_SD_S, TOSS_SD_S = 0.03, 0.12, 0.2
"""How long after the hit a flight is first seen, as a body hides its beginning; or before, as a toss runs into it."""
LAST_SEEN_S = 0.05
"""Deviation of a flight's end from the middle of the last look that shows it and the next one (own choice)."""
FLOOR_SD_M = 0.05
RECEIVED_HEIGHT_M, RECEIVED_HEIGHT_SD_M = 0.8, 0.4
"""Passes are played at 0.4 to 1.2 m (`serve_marker.marking.landing`), some higher."""
NET_PLANE_SD_M = 0.25
BELOW_TOP_M, BELOW_TOP_SD_M = 0.3, 0.3
"""A ball that stays in the net meets it so far below its top."""
STRAY_SDS = 2.5
"""Candidates farther off count less and less (Cauchy weights)."""
PASSES, DAMPING = 9, 1e-3
SETTLED, FITTED_AT_ONCE, BRIEF_S = 0.02, 64, 0.02
NUDGES = np.array([1e-3, 1e-3, 1e-3, 1e-3, 1e-3, 1e-3, 1e-3, 1e-3, 1e-4])
CONTACT, END = -2, -1
NEWTON_STEPS, SLOWEST_FALL_MPS = 6, 1.0
MOST_SEEN_ON_S = 0.15
"""A rebound's first looks may lie on the flight's way still (own choice)."""
MEDIAN_OF_NORMAL = 1.177
"""Median distance of normal deviates in a plane from their mean."""


@dataclass(frozen=True, eq=False)
class ServeFit:
    """A serve told by one flight.

    ``unknowns`` (9,) are place and velocity (6) at ``time_s``, Cd, CL, and the hit's time after ``time_s``; ``cov``
    (9, 9) is their covariance. ``cost`` is the sum of squares in deviations, of candidates and of what is expected;
    ``strain`` that of the expected alone. ``end_s`` is when it ended, ``spread`` how far candidates lie off, in
    deviations of their centres.
    """

    outcome: Outcome | None
    time_s: float
    unknowns: Floats
    cov: Floats
    cost: float
    strain: float
    end_s: float
    spread: float
    seen: int

    @property
    def contact_s(self) -> float:
        """When it was hit."""
        return self.time_s + float(self.unknowns[8])

    def moved(self, time_s: float, view: View) -> tuple[Floats, Floats]:
        """Place (3,) [m] and velocity (3,) [m/s] at a time."""
        places, velocities = _moved(self.unknowns[None], np.array([[time_s - self.time_s]]), view)
        return places[0, 0], velocities[0, 0]

    def ended_s(self, view: View) -> float:
        """When it ended: where it comes down to the floor as it flies, if that is its end, else when last seen."""
        if self.outcome != "floor":
            return self.end_s
        end_s = self.end_s
        for _ in range(NEWTON_STEPS):
            place_m, velocity = self.moved(end_s, view)
            end_s -= (place_m[2] - view.court.ball.radius_m) / min(velocity[2], -SLOWEST_FALL_MPS)
        return float(np.clip(end_s, self.end_s - MOST_SEEN_ON_S, self.end_s + MOST_SEEN_ON_S))

    def places_m(self, times_s: Floats, view: View) -> Floats:
        """Places (K, 3) [m] at times (K,)."""
        return np.asarray(_moved(self.unknowns[None], (times_s - self.time_s)[None], view)[0][0])

    def expected_px(self, times_s: Floats, view: View) -> tuple[Floats, Floats]:
        """Where the ball is seen (K, 2) [straight px] at times (K,), and covariances (K, 2, 2) [px2]."""
        seen = projected(self._nudged_places(times_s, view), view.projection)
        by_unknowns = (seen[1:] - seen[0]).transpose(1, 2, 0) / NUDGES
        return seen[0], np.asarray(by_unknowns @ self.cov @ by_unknowns.transpose(0, 2, 1))

    def place_cov_m2(self, time_s: float, view: View) -> Floats:
        """Covariance (3, 3) [m2] of the place at a time."""
        places = self._nudged_places(np.array([time_s]), view)[:, 0]
        by_unknowns = (places[1:] - places[0]).T / NUDGES
        return np.asarray(by_unknowns @ self.cov @ by_unknowns.T)

    def _nudged_places(self, times_s: Floats, view: View) -> Floats:
        """Places (10, K, 3) at times (K,): first as fitted, then with each unknown nudged."""
        nudged = np.concatenate([self.unknowns[None], self.unknowns + np.diag(NUDGES)])
        since_s = np.broadcast_to(times_s - self.time_s, (len(nudged), len(times_s)))
        return _moved(nudged, since_s, view)[0]


@dataclass(frozen=True, eq=False)
class SeenEnds:
    """When a serve was hit and ended, and where (3,) [m] the ball's centre then was, each with its deviation."""

    contact_s: float
    contact_sd_s: float
    end_s: float
    end_m: Floats
    end_sd_m: Floats


def serve_through(
    flight: FreeFlight,
    times_s: Floats,
    view: View,
    outcome: Outcome | None,
    start: ServeFit | None = None,
    ends: SeenEnds | None = None,
) -> ServeFit | None:
    """Return the flight as a serve with that outcome, None where none settles.

    ``times_s`` are those of all looks; without an outcome nothing is expected of the end. A fit of the same flight to
    ``start`` from saves time. What was seen of its ``ends`` stands for what is expected of them.
    """
    return serves_through([flight], times_s, view, outcome, [start], ends)[0]


def serves_through(
    flights: Sequence[FreeFlight],
    times_s: Floats,
    view: View,
    outcome: Outcome | None,
    starts: Sequence[ServeFit | None],
    ends: SeenEnds | None = None,
) -> list[ServeFit | None]:
    """As `serve_through`, of many flights at once."""
    found: list[ServeFit | None] = []
    for first in range(0, len(flights), FITTED_AT_ONCE):
        some = slice(first, first + FITTED_AT_ONCE)
        with np.errstate(all="ignore"):
            found += _Fits(flights[some], times_s, view, outcome, starts[some], ends).settled()
    return found


class _Fits:
    def __init__(
        self,
        flights: Sequence[FreeFlight],
        times_s: Floats,
        view: View,
        outcome: Outcome | None,
        starts: Sequence[ServeFit | None],
        ends: SeenEnds | None,
    ) -> None:
        self._view, self._outcome, self._ends, self._projection = view, outcome, ends, view.projection
        numbers, self._seen_px, self._counted = side_by_side([(one.looks, one.seen_px) for one in flights])
        self._first_s = times_s[numbers[:, 0]]
        self._since_s = times_s[numbers] - self._first_s[:, None]
        last = numbers[:, -1]
        gaps_s = times_s[np.minimum(last + 1, len(times_s) - 1)] - times_s[last]
        self._end_s = times_s[last] - self._first_s + gaps_s / 2
        if ends is not None:
            self._end_s = ends.end_s - self._first_s
        states, state_s = np.array([one.state for one in flights]), np.array([one.time_s for one in flights])
        along = carried(states, (times_s[numbers].T - state_s).T, view)
        first_m, later_m = carried(
            states, np.column_stack([self._first_s, self._first_s + BRIEF_S]) - state_s[:, None], view
        ).transpose(1, 0, 2)
        velocities = (later_m - first_m) / BRIEF_S
        self._towards = np.where(states[:, 4] > 0, 1.0, -1.0)
        self._drag = likely_drag(np.hypot(*velocities[:, :2].T))[0]
        lift, late_s = np.full(len(flights), UNKNOWN_LIFT[0]), np.full(len(flights), -SEEN_AFTER_S)
        self._start = np.column_stack([first_m, velocities, self._drag, lift, late_s])
        self._sd_px = centre_sd_px(along, view)[..., None]
        for row, (start, first_s) in enumerate(zip(starts, self._first_s.tolist(), strict=True)):
            if start is not None:
                moved = np.concatenate(start.moved(first_s, view))
                self._start[row] = [*moved, *start.unknowns[6:8], start.contact_s - first_s]

    def settled(self) -> list[ServeFit | None]:
        unknowns, damping = self._start.copy(), np.full(len(self._start), DAMPING)
        going = np.arange(len(unknowns))
        residual = self._residual(unknowns[:, None], going)[:, 0]
        weight, cost = self._weights(residual), self._cost(residual)
        normal = np.full((len(unknowns), 9, 9), np.nan)
        for _ in range(PASSES):
            nudged = self._residual(unknowns[going, None] + np.diag(NUDGES), going)
            jacobian = (nudged - residual[going, None]) / NUDGES[:, None] * weight[going, None]
            normal[going] = jacobian @ jacobian.transpose(0, 2, 1)
            finite = np.isfinite(normal[going]).all(axis=(1, 2))
            cost[going[~finite]] = np.nan
            going, jacobian = going[finite], jacobian[finite]
            if not len(going):
                break
            pull = jacobian @ (residual[going] * weight[going])[..., None]
            damped = normal[going] * (1 + np.eye(9) * damping[going, None, None])
            tried = unknowns[going] - np.linalg.solve(damped, pull)[..., 0]
            tried_residual = self._residual(tried[:, None], going)[:, 0]
            tried_cost = self._cost(tried_residual)
            better = np.isfinite(tried_cost) & (tried_cost < cost[going])
            damping[going] = np.where(better, damping[going] / 5, damping[going] * 20)
            settled = better & (cost[going] - tried_cost < SETTLED)
            taken = going[better]
            unknowns[taken], residual[taken], cost[taken] = tried[better], tried_residual[better], tried_cost[better]
            weight[taken] = self._weights(residual[taken])
            going = going[~settled]
        return [
            self._fit(row, unknowns[row], normal[row], residual[row], float(cost[row]))
            if np.isfinite(cost[row])
            else None
            for row in range(len(unknowns))
        ]

    def _fit(self, row: int, unknowns: Floats, normal: Floats, residual: Floats, cost: float) -> ServeFit:
        pixels, expected = self._split(residual)
        away = np.hypot(*pixels[self._counted[row]].T)
        return ServeFit(
            self._outcome,
            float(self._first_s[row]),
            unknowns,
            np.asarray(np.linalg.pinv(normal), dtype=np.float64),
            cost,
            float((expected**2).sum()),
            float(self._first_s[row] + self._end_s[row]),
            float(np.median(away)) / MEDIAN_OF_NORMAL,
            len(away),
        )

    def _split(self, residual: Floats) -> tuple[Floats, Floats]:
        """Residuals (..., R) of pixels (..., K, 2) and of what is expected."""
        looks = self._since_s.shape[1]
        return residual[..., : 2 * looks].reshape(*residual.shape[:-1], looks, 2), residual[..., 2 * looks :]

    def _cost(self, residual: Floats) -> Floats:
        pixels, expected = self._split(residual)
        away = (pixels**2).sum(axis=-1)
        strain = (expected**2).sum(axis=-1)
        return np.asarray(STRAY_SDS**2 * np.log1p(away / STRAY_SDS**2).sum(axis=-1) + strain)

    def _weights(self, residual: Floats) -> Floats:
        """Square roots of the Cauchy weights of all residuals, those of what is expected being 1."""
        pixels, expected = self._split(residual)
        away = (pixels**2).sum(axis=-1)
        of_pixels = np.repeat(np.sqrt(1 / (1 + away / STRAY_SDS**2)), 2, axis=-1)
        return np.concatenate([of_pixels, np.ones_like(expected)], axis=-1)

    def _residual(self, unknowns: Floats, rows: NDArray[np.int_]) -> Floats:
        """What is off (G, N, R), in deviations, for unknowns (G, N, 9) of some flights (G,)."""
        count = unknowns.shape[1]
        since_s = np.concatenate(
            [
                np.repeat(self._since_s[rows, None], count, axis=1),
                unknowns[..., 8:],
                np.repeat(self._end_s[rows, None, None], count, axis=1),
            ],
            axis=2,
        )
        places, velocities = (
            one.reshape(*since_s.shape, 3)
            for one in _moved(unknowns.reshape(-1, 9), since_s.reshape(-1, since_s.shape[2]), self._view)
        )
        off_px = projected(places[..., :CONTACT, :], self._projection) - self._seen_px[rows, None]
        pixels = np.where(self._counted[rows, None, :, None], off_px / self._sd_px[rows, None], 0.0)
        expected = self._expected_of_serves(unknowns, places[..., CONTACT, :], rows)
        expected += self._expected_of_end(places[..., END, :], velocities[..., END, :])
        return np.concatenate(
            [pixels.reshape(*since_s.shape[:2], 2 * pixels.shape[2]), np.stack(expected, axis=2)], axis=2
        )

    def _expected_of_serves(self, unknowns: Floats, hit: Floats, rows: NDArray[np.int_]) -> list[Floats]:
        court, late_s = self._view.court, unknowns[..., 8]
        seen_after = (late_s + SEEN_AFTER_S) / np.where(late_s > 0, TOSS_SD_S, SEEN_AFTER_SD_S)
        if self._ends is not None:
            seen_after = (late_s + self._first_s[rows, None] - self._ends.contact_s) / self._ends.contact_sd_s
        return [
            (hit[..., 2] - CONTACT_HEIGHT_M) / CONTACT_HEIGHT_SD_M,
            (-self._towards[rows, None] * hit[..., 1] - court.half_length_m - BEHIND_LINE_M) / BEHIND_LINE_SD_M,
            hit[..., 0] / court.half_width_m,
            seen_after,
            (unknowns[..., 6] - self._drag[rows, None]) / DRAG_SD,
            (unknowns[..., 7] - UNKNOWN_LIFT[0]) / UNKNOWN_LIFT[1],
        ]

    def _expected_of_end(self, end: Floats, velocity: Floats) -> list[Floats]:
        if self._ends is not None:
            return list(np.moveaxis((end - self._ends.end_m) / self._ends.end_sd_m, -1, 0))
        if self._outcome == "floor":
            fall_m = LAST_SEEN_S * np.abs(velocity[..., 2])
            return [(end[..., 2] - self._view.court.ball.radius_m) / np.hypot(FLOOR_SD_M, fall_m)]
        if self._outcome == "received":
            return [(end[..., 2] - RECEIVED_HEIGHT_M) / RECEIVED_HEIGHT_SD_M]
        if self._outcome == "net":
            below_top = (end[..., 2] - self._view.net_height_m + BELOW_TOP_M) / BELOW_TOP_SD_M
            return [end[..., 1] / np.hypot(NET_PLANE_SD_M, LAST_SEEN_S * np.abs(velocity[..., 1])), below_top]
        return []


def _moved(unknowns: Floats, since_s: Floats, view: View) -> tuple[Floats, Floats]:
    """Places and velocities (G, K, 3) of balls (G, 9) so long (G, K) after their state."""
    air = PER_METRE * against_indoor(view.court.ball)
    level = unknowns[:, 3:5]
    pace = np.maximum(np.hypot(*level.T), 1e-6)[:, None]
    zero = np.zeros_like(since_s)
    start = Motion(zero, zero, zero + pace, zero + unknowns[:, 5:6])
    there = advance(start, since_s, unknowns[:, 6:7] * air, unknowns[:, 7:8] * air, AIR_STEPS)
    heading = (level / pace)[:, None]
    places = np.concatenate(
        [unknowns[:, None, :2] + there.along_m[..., None] * heading, (unknowns[:, 2:3] + there.height_m)[..., None]],
        axis=2,
    )
    velocities = np.concatenate([there.along_mps[..., None] * heading, there.rise_mps[..., None]], axis=2)
    return places, velocities
