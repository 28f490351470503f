"""One flight held at both ends: hit behind an end line, and ended on the floor, at a passer or in the net.

From where a free flight was seen the whole serve is fitted again with its own drag and lift. What serves are known for
enters as expected values with deviations: where and how high they are hit, that they are seen from about the hit on,
and what their end is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.flight.forces import DRAG_SD, UNKNOWN_LIFT, likely_drag
from serve_marker.flight.trajectory import PER_METRE, Motion, advance, against_indoor
from serve_marker.spotting.free_flights import FreeFlight, centre_sd_px, projected
from serve_marker.spotting.usual_serves import (
    AIR_STEPS,
    BEHIND_LINE_M,
    BEHIND_LINE_SD_M,
    CONTACT_HEIGHT_M,
    CONTACT_HEIGHT_SD_M,
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
SETTLED = 0.02
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
    fit = _Fit(flight, times_s, view, outcome, start, ends)
    with np.errstate(all="ignore"):
        return fit.settled()


class _Fit:
    def __init__(
        self,
        flight: FreeFlight,
        times_s: Floats,
        view: View,
        outcome: Outcome | None,
        start: ServeFit | None,
        ends: SeenEnds | None,
    ) -> None:
        self._flight, self._view, self._outcome, self._ends = flight, view, outcome, ends
        self._first_s = float(times_s[flight.looks[0]])
        self._since_s = times_s[flight.looks] - self._first_s
        gaps_s = np.diff(times_s[flight.looks[-1] : flight.looks[-1] + 2])
        self._end_s = float(self._since_s[-1]) + (float(gaps_s[0]) / 2 if len(gaps_s) else 0.0)
        if ends is not None:
            self._end_s = ends.end_s - self._first_s
        self._projection = view.projection
        state = flight.state
        place_m = flight.places_m(np.array([self._first_s]), view)[0]
        later_m = flight.places_m(np.array([self._first_s + 0.02]), view)[0]
        self._towards = 1.0 if state[4] > 0 else -1.0
        velocity = (later_m - place_m) / 0.02
        pace = float(np.hypot(*velocity[:2]))
        self._drag = float(likely_drag(pace)[0])
        self._start = np.array([*place_m, *velocity, self._drag, UNKNOWN_LIFT[0], -SEEN_AFTER_S])
        self._sd_px = centre_sd_px(flight.places_m(times_s[flight.looks], view), view)[:, None]
        if start is not None:
            moved = np.concatenate(start.moved(self._first_s, view))
            self._start = np.array([*moved, *start.unknowns[6:8], start.contact_s - self._first_s])

    def settled(self) -> ServeFit | None:
        unknowns, damping = self._start, DAMPING
        residual, weight = self._residual(unknowns[None])[0], np.ones(2 * len(self._since_s))
        weight = self._weights(residual)
        cost = self._cost(residual)
        for _ in range(PASSES):
            jacobian = (self._residual(unknowns + np.diag(NUDGES)) - residual).T / NUDGES
            rows, value = jacobian * weight[:, None], residual * weight
            normal = rows.T @ rows
            if not np.isfinite(normal).all():
                return None
            step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), -rows.T @ value)
            tried = self._residual((unknowns + step)[None])[0]
            tried_cost = self._cost(tried)
            if np.isfinite(tried_cost) and tried_cost < cost:
                unknowns, residual, damping = unknowns + step, tried, damping / 5
                gained, cost = cost - tried_cost, tried_cost
                weight = self._weights(residual)
                if gained < SETTLED:
                    break
            else:
                damping *= 20
        if not np.isfinite(cost):
            return None
        pixels = residual[: 2 * len(self._since_s)]
        strain = float((residual[2 * len(self._since_s) :] ** 2).sum())
        spread = float(np.median(np.hypot(*pixels.reshape(-1, 2).T))) / MEDIAN_OF_NORMAL
        return ServeFit(
            self._outcome,
            self._first_s,
            unknowns,
            np.linalg.pinv(normal),
            cost,
            strain,
            self._first_s + self._end_s,
            spread,
            len(self._since_s),
        )

    def _cost(self, residual: Floats) -> float:
        pixels = 2 * len(self._since_s)
        away = (residual[:pixels].reshape(-1, 2) ** 2).sum(axis=1)
        strain = (residual[pixels:] ** 2).sum()
        return float(STRAY_SDS**2 * np.log1p(away / STRAY_SDS**2).sum() + strain)

    def _weights(self, residual: Floats) -> Floats:
        """Square roots of the Cauchy weights of all residuals, those of what is expected being 1."""
        pixels = 2 * len(self._since_s)
        away = (residual[:pixels].reshape(-1, 2) ** 2).sum(axis=1)
        weight = np.ones(len(residual))
        weight[:pixels] = np.repeat(np.sqrt(1 / (1 + away / STRAY_SDS**2)), 2)
        return weight

    def _residual(self, unknowns: Floats) -> Floats:
        """What is off (G, R), in deviations, for unknowns (G, 9)."""
        count = len(unknowns)
        since_s = np.column_stack(
            [np.broadcast_to(self._since_s, (count, len(self._since_s))), unknowns[:, 8], np.full(count, self._end_s)]
        )
        places, velocities = _moved(unknowns, since_s, self._view)
        pixels = (projected(places[:, :CONTACT], self._projection) - self._flight.seen_px) / self._sd_px
        expected = self._expected_of_serves(unknowns, places[:, CONTACT])
        expected += self._expected_of_end(places[:, END], velocities[:, END])
        return np.concatenate([pixels.reshape(count, -1), np.column_stack(expected)], axis=1)

    def _expected_of_serves(self, unknowns: Floats, hit: Floats) -> list[Floats]:
        court, late_s = self._view.court, unknowns[:, 8]
        seen_after = (late_s + SEEN_AFTER_S) / np.where(late_s > 0, TOSS_SD_S, SEEN_AFTER_SD_S)
        if self._ends is not None:
            seen_after = (late_s + self._first_s - self._ends.contact_s) / self._ends.contact_sd_s
        return [
            (hit[:, 2] - CONTACT_HEIGHT_M) / CONTACT_HEIGHT_SD_M,
            (-self._towards * hit[:, 1] - court.half_length_m - BEHIND_LINE_M) / BEHIND_LINE_SD_M,
            hit[:, 0] / court.half_width_m,
            seen_after,
            (unknowns[:, 6] - self._drag) / DRAG_SD,
            (unknowns[:, 7] - UNKNOWN_LIFT[0]) / UNKNOWN_LIFT[1],
        ]

    def _expected_of_end(self, end: Floats, velocity: Floats) -> list[Floats]:
        if self._ends is not None:
            return list(((end - self._ends.end_m) / self._ends.end_sd_m).T)
        if self._outcome == "floor":
            fall_m = LAST_SEEN_S * np.abs(velocity[:, 2])
            return [(end[:, 2] - self._view.court.ball.radius_m) / np.hypot(FLOOR_SD_M, fall_m)]
        if self._outcome == "received":
            return [(end[:, 2] - RECEIVED_HEIGHT_M) / RECEIVED_HEIGHT_SD_M]
        if self._outcome == "net":
            below_top = (end[:, 2] - self._view.net_height_m + BELOW_TOP_M) / BELOW_TOP_SD_M
            return [end[:, 1] / np.hypot(NET_PLANE_SD_M, LAST_SEEN_S * np.abs(velocity[:, 1])), below_top]
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
