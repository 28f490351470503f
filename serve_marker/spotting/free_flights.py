"""Free flights in space: gravity alone tells how far away a ball is that is seen to fall.

A place and a velocity explain a piece of a track in the picture; what explains it is carried on, look by look, for as
long as candidates lie where it leads. Drag and lift enter as usual serves have them (`serve_marker.flight.forces`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.spotting.candidates import NEAREST_M, Look, pixels_per_radian
from serve_marker.spotting.tracks import PictureTrack
from serve_marker.spotting.usual_serves import carried, may_be_served

WINDOW_LOOKS = 8
"""So many looks, a quarter of a second, begin a flight: a ball falls 0.3 m in that time (own choice)."""
WINDOW_STEP = 3
SMOOTH_PX, SMOOTH_SHARE = 1.5, 0.015
"""How far a ball may stray from a parabola in the picture over one window, and over its length (own choice)."""
LEAST_WAY_RADII = 4.0
"""A serve's slowest way over a window, in radii of the smallest ball: straight away from a camera low behind it."""
PLACE_M, PLACE_SD_M = (0.0, 0.0, 2.5), (4.0, 8.0, 1.2)
ALONG_MPS, VELOCITY_SD_MPS = 13.0, (4.0, 5.0, 5.0)
"""What is known of a serve's ball before it is seen: over the court, fast along it, hardly across (own estimate)."""
CENTRE_SD_PX, CENTRE_SD_RADII = 1.5, 0.15
"""How far the middle of a candidate strays from the ball's, and over its radius: parts of it go missing (own study)."""
GATE_SDS = 3.5
FIRST_PASSES, PASSES = 4, 2
AHEAD, AT_A_TIME, PATIENCE = 6, 2, 4
"""A flight ends where none of so many looks shows it, behind the net's tape maybe; after two that do it is fitted
again, later after a quarter as many as it has."""
FEWEST_LOOKS = 10
MOST_SPREAD = 1.6
"""Deviation of candidates from a flight, beyond which it is none: parts of a ball go missing (own choice)."""
RECENT, AT_ONCE, GROWN_AT_ONCE = 12, 256, 64
FAR_PX = 1e9
MOST_SHARED, SAME_PX = 0.5, 1e-6
"""A beginning is part of a flight that has more than half of its candidates."""
LEAST_DEPTH = 1e-6
PACE_MPS = (5.0, 40.0)
SLOWEST_ALONG_MPS = 4.0
ASIDE_M, FARTHEST_M, LOWEST_M, HIGHEST_M = 9.0, 16.0, -1.0, 9.0
"""Where the middle of a flight may seem to be: depth is told poorly at first (own choice)."""


@dataclass(frozen=True, eq=False)
class FreeFlight:
    """A ball in the air at ``time_s``: place and velocity (6,) [m, m/s], covariance (6, 6), and the candidates seen.

    ``towards`` is 1 where it flies from end a to end b, else -1; ``spread`` is how far the candidates lie off, in
    deviations of their centres. ``looks`` (K,) number the looks, ``seen_px`` (K, 2) are straight pixels.
    """

    time_s: float
    towards: float
    state: Floats
    cov: Floats
    spread: float
    looks: NDArray[np.int_]
    seen_px: Floats

    def places_m(self, times_s: Floats, view: View) -> Floats:
        """Where the ball is (K, 3) [m] at times (K,)."""
        return np.asarray(carried(self.state[None], (times_s - self.time_s)[None], view)[0])

    def share_in(self, other: FreeFlight) -> float:
        """Which share of its candidates another flight has too."""
        if not len(self.looks) or self.looks[0] > other.looks[-1] or other.looks[0] > self.looks[-1]:
            return 0.0
        _, mine, its = np.intersect1d(self.looks, other.looks, return_indices=True)
        same = np.abs(self.seen_px[mine] - other.seen_px[its]).max(axis=1, initial=0.0) < SAME_PX
        return float(same.sum() / len(self.looks))


@dataclass(frozen=True, eq=False)
class _Fitted:
    """Times (G,), states (G, 6), covariances (G, 6, 6) and spreads (G,) of flights."""

    times_s: Floats
    states: Floats
    covs: Floats
    spreads: Floats

    def flight(self, k: int, towards: float, looks: NDArray[np.int_], seen_px: Floats) -> FreeFlight:
        """One of them, with the candidates seen."""
        return FreeFlight(
            float(self.times_s[k]), towards, self.states[k], self.covs[k], float(self.spreads[k]), looks, seen_px
        )


def free_flights(
    looks: Sequence[Look], tracks: Sequence[PictureTrack], view: View, least_px: float
) -> list[FreeFlight]:
    """Return the flights that tracks in the picture begin; ``least_px`` is the radius of the smallest ball."""
    times_s = np.array([look.time_s for look in looks])
    straight = straight_of(looks, view)
    begun = _begun(times_s, tracks, view, least_px)
    found: list[FreeFlight] = []
    for first in range(0, len(begun), GROWN_AT_ONCE):
        some = [one for one in begun[first : first + GROWN_AT_ONCE] if not _is_part(one, found)]
        for one, flight in zip(some, _grown(some, times_s, straight, view), strict=True):
            if len(flight.looks) >= FEWEST_LOOKS and not _is_part(one, found):
                found.append(flight)
    return found


def _is_part(begun: FreeFlight, found: Sequence[FreeFlight]) -> bool:
    """Whether a beginning is part of a flight found lately."""
    return any(begun.share_in(flight) > MOST_SHARED for flight in found[-RECENT:])


def straight_of(looks: Sequence[Look], view: View) -> Floats:
    """Straight pixels (L, C, 2) of the candidates of all looks; where a look has fewer, places far off."""
    counts = np.array([len(look.centres_px) for look in looks])
    filled = np.arange(max(counts.max(initial=0), 1)) < counts[:, None]
    straight = np.full((*filled.shape, 2), FAR_PX)
    straight[filled] = view.lens.straighten(np.concatenate([look.centres_px for look in looks]))
    return straight


def _begun(times_s: Floats, tracks: Sequence[PictureTrack], view: View, least_px: float) -> list[FreeFlight]:
    """Pieces of tracks that may be a ball in flight, by when they begin."""
    pieces = [
        (track.looks[start : start + WINDOW_LOOKS], track.centres_px[start : start + WINDOW_LOOKS])
        for track in tracks
        for start in range(0, max(len(track.looks) - WINDOW_LOOKS, 0) + 1, WINDOW_STEP)
    ]
    if not pieces:
        return []
    numbers, shown, seen = side_by_side(pieces)
    smooth = _moves_smoothly(times_s[numbers], shown, seen, least_px)
    numbers, shown, seen = numbers[smooth], shown[smooth], seen[smooth]
    straight = view.lens.straighten(shown.reshape(-1, 2)).reshape(shown.shape)
    flights = []
    for towards in (-1.0, 1.0):
        start = np.tile(_expected(towards), (len(numbers), 1))
        for first in range(0, len(numbers), AT_ONCE):
            some = slice(first, first + AT_ONCE)
            told = _fitted(times_s[numbers[some]], straight[some], seen[some], start[some], view, FIRST_PASSES)
            for k in np.flatnonzero(_are_possible(told, np.full(len(told.times_s), towards), view)).tolist():
                those = seen[some][k]
                flights.append(told.flight(k, towards, numbers[some][k, those], straight[some][k, those]))
    return sorted(those_served(flights, times_s, view), key=lambda flight: (flight.time_s, flight.spread))


def side_by_side(
    pieces: Sequence[tuple[NDArray[np.int_], Floats]],
) -> tuple[NDArray[np.int_], Floats, NDArray[np.bool_]]:
    """Looks (N, K) and pixels (N, K, 2) of pieces, and which of them count; those too short repeat their last look."""
    counts = np.array([len(looks) for looks, _ in pieces])
    seen = np.arange(counts.max()) < counts[:, None]
    which = np.minimum(np.arange(counts.max()), counts[:, None] - 1) + (np.cumsum(counts) - counts)[:, None]
    numbers = np.concatenate([looks for looks, _ in pieces])
    pixels = np.concatenate([seen_px for _, seen_px in pieces])
    return numbers[which], pixels[which], seen


def those_served(flights: Sequence[FreeFlight], times_s: Floats, view: View) -> list[FreeFlight]:
    """Return the flights that may have been hit behind an end line; ``times_s`` are those of all looks."""
    if not flights:
        return []
    states, covs = np.array([one.state for one in flights]), np.array([one.cov for one in flights])
    first_seen_s = np.array([times_s[one.looks[0]] - one.time_s for one in flights])
    return [one for one, may in zip(flights, may_be_served(states, covs, first_seen_s, view), strict=True) if may]


def _moves_smoothly(times_s: Floats, shown_px: Floats, seen: NDArray[np.bool_], least_px: float) -> NDArray[np.bool_]:
    """Which pieces (N,) of tracks, seen on looks (N, K), move far enough along a parabola in the picture."""
    rows = np.arange(len(seen))
    last = seen.sum(axis=1) - 1
    way_px = np.hypot(*(shown_px[rows, last] - shown_px[:, 0]).T)
    since = (times_s - times_s[:, :1]) / (times_s[rows, last] - times_s[:, 0])[:, None]
    powers = np.stack([np.ones_like(since), since, since**2], axis=2) * seen[:, :, None]
    values = shown_px * seen[:, :, None]
    back = powers.transpose(0, 2, 1)
    parabola = np.linalg.solve(back @ powers + 1e-9 * np.eye(3), back @ values)
    off = ((values - powers @ parabola) ** 2).sum(axis=(1, 2)) / (2 * last - 4)
    return np.asarray((way_px >= LEAST_WAY_RADII * least_px) & (np.sqrt(off) < SMOOTH_PX + SMOOTH_SHARE * way_px))


def _fitted(
    times_s: Floats, seen_px: Floats, seen: NDArray[np.bool_], start: Floats, view: View, passes: int
) -> _Fitted:
    """The flights that are seen at pixels (G, K, 2).

    The picture's equations are linear in place and velocity once depth and the way of drag and lift are known; these
    come from the pass before (Hartley, Zisserman, Multiple View Geometry, 2nd ed., 4.1 and 12.2). ``seen`` (G, K) says
    which of the looks count, ``start`` (G, 6) are first guesses at the mean time.
    """
    projection, weight = view.projection, seen.astype(float)
    middle_s = (times_s * weight).sum(axis=1) / weight.sum(axis=1)
    since_s = times_s - middle_s[:, None]
    rows = projection[None, None, :2] - seen_px[..., None] * projection[None, None, 2:]
    prior = 1 / np.array([*PLACE_SD_M, *VELOCITY_SD_MPS])
    prior_mean = np.array([_expected(towards) for towards in np.sign(start[:, 4]).tolist()]).reshape(-1, 6)
    state, normal = start, np.zeros((len(start), 6, 6))
    places = carried(state, since_s, view)
    with np.errstate(all="ignore"):
        for _ in range(passes):
            depth = np.maximum(places @ projection[2, :3] + projection[2, 3], LEAST_DEPTH)
            scale = weight / depth / centre_sd_px(places, view)
            air_m = places - state[:, None, :3] - state[:, None, 3:] * since_s[..., None]
            known = np.einsum("gkij,gkj->gki", rows[..., :3], air_m) + rows[..., 3]
            by_state = np.concatenate([rows[..., :3], rows[..., :3] * since_s[..., None, None]], axis=3)
            A = (by_state * scale[..., None, None]).reshape(len(state), -1, 6)
            b = -(known * scale[..., None]).reshape(len(state), -1)
            normal = A.transpose(0, 2, 1) @ A + np.diag(prior**2)
            pull = np.einsum("gri,gr->gi", A, b) + prior**2 * prior_mean
            state = np.linalg.solve(normal, pull[..., None])[..., 0]
            places = carried(state, since_s, view)
        off_px = (projected(places, projection) - seen_px) * weight[..., None]
        freedom = np.maximum(2 * weight.sum(axis=1) - 6, 1)
        off = np.sqrt(((off_px / centre_sd_px(places, view)[..., None]) ** 2).sum(axis=(1, 2)) / freedom)
    return _Fitted(middle_s, state, np.asarray(np.linalg.inv(normal), dtype=np.float64), np.asarray(off))


def centre_sd_px(places_m: Floats, view: View) -> Floats:
    """Deviation (...,) per axis [px] of a candidate's middle from that of a ball at places (..., 3)."""
    away_m = np.linalg.norm(places_m - np.array(view.camera_position_m), axis=-1)
    radius_px = view.court.ball.radius_m * pixels_per_radian(view) / np.maximum(away_m, NEAREST_M)
    return np.asarray(np.hypot(CENTRE_SD_PX, CENTRE_SD_RADII * radius_px))


def _expected(towards: float) -> Floats:
    """Place and velocity (6,) of a serve's ball before it is seen."""
    return np.array([*PLACE_M, 0.0, towards * ALONG_MPS, 0.0])


def projected(places_m: Floats, projection: Floats) -> Floats:
    """Straight pixels (..., 2) of places (..., 3)."""
    q = places_m @ projection[:, :3].T + projection[:, 3]
    return np.asarray(q[..., :2] / q[..., 2:])


def _are_possible(told: _Fitted, towards: Floats, view: View) -> NDArray[np.bool_]:
    """Whether a serve could fly as each of the flights (G,): fast enough, along the court, above its floor."""
    x_m, y_m, z_m, across, along, _ = told.states.T
    depth = told.states[:, :3] @ view.projection[2, :3] + view.projection[2, 3]
    pace = np.hypot(across, along)
    return np.asarray(
        np.isfinite(told.states).all(axis=1)
        & (PACE_MPS[0] <= pace)
        & (pace <= PACE_MPS[1])
        & (along * towards >= np.maximum(SLOWEST_ALONG_MPS, np.abs(across)))
        & (np.abs(x_m) < ASIDE_M)
        & (np.abs(y_m) < FARTHEST_M)
        & (z_m > LOWEST_M)
        & (z_m < HIGHEST_M)
        & (depth > LEAST_DEPTH)
        & (told.spreads < MOST_SPREAD)
    )


@dataclass(eq=False)
class _Growing:
    """A flight that is carried on in each of ``ways``, 1 being later, from its look at that edge."""

    flight: FreeFlight
    possible: FreeFlight
    ways: tuple[int, ...] = (1, -1, 1, -1)
    edge: int = 0

    def __post_init__(self) -> None:
        self._face()

    def _face(self) -> None:
        if self.ways:
            self.edge = int(self.flight.looks[-1 if self.ways[0] > 0 else 0])

    def turn(self) -> None:
        """Go on the next way."""
        self.ways = self.ways[1:]
        self._face()

    def grow(self, flight: FreeFlight, edge: int, is_possible: bool) -> None:
        """Take up the flight with more looks, as far as one."""
        self.flight, self.edge = flight, edge
        if is_possible:
            self.possible = flight
        elif not np.isfinite(flight.state).all() or flight.state[4] * flight.towards <= 0:
            self.ways = ()


def _grown(begun: Sequence[FreeFlight], times_s: Floats, straight: Floats, view: View) -> list[FreeFlight]:
    """Flights with all candidates that lie where they lead, on looks before and after those they began with."""
    growing = [_Growing(flight, flight) for flight in begun]
    while live := [one for one in growing if one.ways]:
        led = []
        for one, (looks, seen_px) in zip(live, _next_seen(live, times_s, straight, view), strict=True):
            if len(looks):
                led.append((one, looks, seen_px))
            else:
                one.turn()
        if led:
            _fit_again(led, times_s, view)
    return [one.possible for one in growing]


def _fit_again(led: Sequence[tuple[_Growing, NDArray[np.int_], Floats]], times_s: Floats, view: View) -> None:
    """Fit flights with the looks and candidates they led to."""
    pieces = []
    for one, looks, seen_px in led:
        numbers = np.append(one.flight.looks, looks)
        order = np.argsort(numbers)
        pieces.append((numbers[order], np.concatenate([one.flight.seen_px, seen_px])[order]))
    numbers, pixels, seen = side_by_side(pieces)
    middle_s = np.array([times_s[looks].mean() for looks, _ in pieces])
    states = np.array([one.flight.state for one, _, _ in led])
    since_s = middle_s - np.array([one.flight.time_s for one, _, _ in led])
    start = np.concatenate([carried(states, since_s[:, None], view)[:, 0], states[:, 3:]], axis=1)
    told = _fitted(times_s[numbers], pixels, seen, start, view, PASSES)
    possible = _are_possible(told, np.array([one.flight.towards for one, _, _ in led]), view)
    for k, ((one, looks, _), piece) in enumerate(zip(led, pieces, strict=True)):
        one.grow(told.flight(k, one.flight.towards, *piece), int(looks[-1]), bool(possible[k]))


def _next_seen(
    growing: Sequence[_Growing], times_s: Floats, straight: Floats, view: View
) -> list[tuple[NDArray[np.int_], Floats]]:
    """Of the looks ahead of each flight those (K,) that show a candidate on its way, and these candidates (K, 2)."""
    flights = [one.flight for one in growing]
    ahead = np.array([one.edge + one.ways[0] * np.arange(1, AHEAD + 1) for one in growing])
    inside = (ahead >= 0) & (ahead < len(times_s))
    ahead = np.clip(ahead, 0, len(times_s) - 1)
    since_s = times_s[ahead] - np.array([flight.time_s for flight in flights])[:, None]
    places, projection = carried(np.array([flight.state for flight in flights]), since_s, view), view.projection
    with np.errstate(all="ignore"):
        depth = np.maximum(places @ projection[2, :3] + projection[2, 3], LEAST_DEPTH)
        expected = projected(places, projection)
        by_place = (projection[:2, :3] - expected[..., None] * projection[2, :3]) / depth[..., None, None]
        by_state = np.concatenate([by_place, by_place * since_s[..., None, None]], axis=3)
        own = np.eye(2) * centre_sd_px(places, view)[..., None, None] ** 2
        covs = np.array([flight.cov for flight in flights])[:, None]
        squared = squares_apart(straight[ahead], expected, by_state @ covs @ by_state.swapaxes(2, 3) + own)
    nearest = squared.argmin(axis=2)
    near = (np.take_along_axis(squared, nearest[..., None], axis=2)[..., 0] < GATE_SDS**2) & inside
    at_a_time = np.array([max(AT_A_TIME, len(flight.looks) // PATIENCE) for flight in flights])
    near &= near.cumsum(axis=1) <= at_a_time[:, None]
    return [
        (looks[led], straight[looks[led], those[led]]) for looks, those, led in zip(ahead, nearest, near, strict=True)
    ]


def squares_apart(straight: Floats, expected: Floats, covs: Floats) -> Floats:
    """How far candidates (..., C, 2) lie from where one is expected (..., 2), in squares of deviations (..., C)."""
    backs = np.linalg.inv(covs)[..., None, :, :]
    across, down = np.moveaxis(straight - expected[..., None, :], -1, 0)
    mixed = backs[..., 0, 1] + backs[..., 1, 0]
    return np.asarray(backs[..., 0, 0] * across**2 + mixed * across * down + backs[..., 1, 1] * down**2)
