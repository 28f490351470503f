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
RECENT, AT_ONCE = 12, 256
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


def free_flights(
    looks: Sequence[Look], tracks: Sequence[PictureTrack], view: View, least_px: float
) -> list[FreeFlight]:
    """Return the flights that tracks in the picture begin; ``least_px`` is the radius of the smallest ball."""
    times_s = np.array([look.time_s for look in looks])
    straight = [view.lens.straighten(look.centres_px) for look in looks]
    found: list[FreeFlight] = []
    for begun in _begun(times_s, tracks, view, least_px):
        if any(begun.share_in(flight) > MOST_SHARED for flight in found[-RECENT:]):
            continue
        flight = _grown(begun, times_s, straight, view)
        if len(flight.looks) >= FEWEST_LOOKS and is_possible_flight(flight, view):
            found.append(flight)
    return found


def _begun(times_s: Floats, tracks: Sequence[PictureTrack], view: View, least_px: float) -> list[FreeFlight]:
    """Pieces of tracks that may be a ball in flight, by when they begin."""
    pieces = [
        (track.looks[start : start + WINDOW_LOOKS], track.centres_px[start : start + WINDOW_LOOKS])
        for track in tracks
        for start in range(0, max(len(track.looks) - WINDOW_LOOKS, 0) + 1, WINDOW_STEP)
    ]
    if not pieces:
        return []
    numbers = np.array([np.resize(piece[0], WINDOW_LOOKS) for piece in pieces])
    shown = np.array([np.resize(piece[1], (WINDOW_LOOKS, 2)) for piece in pieces])
    counts = np.array([len(piece[0]) for piece in pieces])
    seen = np.arange(WINDOW_LOOKS) < counts[:, None]
    smooth = _moves_smoothly(times_s[numbers], shown, seen, least_px)
    numbers, shown, seen, counts = numbers[smooth], shown[smooth], seen[smooth], counts[smooth]
    straight = view.lens.straighten(shown.reshape(-1, 2)).reshape(shown.shape)
    flights = []
    for towards in (-1.0, 1.0):
        start = np.tile(_expected(towards), (len(numbers), 1))
        for first in range(0, len(numbers), AT_ONCE):
            some = slice(first, first + AT_ONCE)
            told = _fitted(times_s[numbers[some]], straight[some], seen[some], start[some], view, FIRST_PASSES)
            for k, (time_s, state, cov, spread) in enumerate(zip(*told, strict=True), start=first):
                those = slice(counts[k])
                seen_there = numbers[k, those], straight[k, those]
                flights.append(FreeFlight(float(time_s), towards, state, cov, float(spread), *seen_there))
    possible = those_served([flight for flight in flights if is_possible_flight(flight, view)], times_s, view)
    return sorted(possible, key=lambda flight: (flight.time_s, flight.spread))


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
) -> tuple[Floats, Floats, Floats, Floats]:
    """Times (G,), states (G, 6), covariances (G, 6, 6) and spreads (G,) of flights seen at pixels (G, K, 2).

    The picture's equations are linear in place and velocity once depth and the way of drag and lift are known; these
    come from the pass before (Hartley, Zisserman, Multiple View Geometry, 2nd ed., 4.1 and 12.2). ``seen`` (G, K) says
    which of the looks count, ``start`` (G, 6) are first guesses at the mean time, all one way along the court.
    """
    projection, weight = view.projection, seen.astype(float)
    middle_s = (times_s * weight).sum(axis=1) / weight.sum(axis=1)
    since_s = times_s - middle_s[:, None]
    rows = projection[None, None, :2] - seen_px[..., None] * projection[None, None, 2:]
    prior = 1 / np.array([*PLACE_SD_M, *VELOCITY_SD_MPS])
    prior_mean = _expected(float(np.sign(start[0, 4])) if len(start) else 1.0)
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
    return middle_s, state, np.asarray(np.linalg.inv(normal), dtype=np.float64), np.asarray(off)


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


def is_possible_flight(flight: FreeFlight, view: View) -> bool:
    """Whether a serve could fly like that: fast enough, along the court, above its floor."""
    x_m, y_m, z_m, across, along, _ = flight.state
    depth = float(flight.state[:3] @ view.projection[2, :3] + view.projection[2, 3])
    return bool(
        np.isfinite(flight.state).all()
        and PACE_MPS[0] <= np.hypot(across, along) <= PACE_MPS[1]
        and along * flight.towards >= max(SLOWEST_ALONG_MPS, abs(across))
        and abs(x_m) < ASIDE_M
        and abs(y_m) < FARTHEST_M
        and LOWEST_M < z_m < HIGHEST_M
        and depth > LEAST_DEPTH
        and flight.spread < MOST_SPREAD
    )


def _grown(flight: FreeFlight, times_s: Floats, straight: Sequence[Floats], view: View) -> FreeFlight:
    """The flight with all candidates that lie where it leads, on looks before and after those it began with."""
    possible = flight
    for way in (1, -1, 1, -1):
        edge = int(flight.looks[-1 if way > 0 else 0])
        while True:
            ahead = [
                number for number in range(edge + way, edge + way * (AHEAD + 1), way) if 0 <= number < len(times_s)
            ]
            looks, seen_px = _next_seen(flight, ahead, times_s, straight, view)
            if not len(looks):
                break
            order = np.argsort(np.append(flight.looks, looks))
            numbers = np.append(flight.looks, looks)[order]
            pixels = np.concatenate([flight.seen_px, seen_px])[order]
            middle_s = float(times_s[numbers].mean())
            place = flight.places_m(np.array([middle_s]), view)[0]
            start = np.concatenate([place, flight.state[3:]])[None]
            every = np.ones((1, len(numbers)), dtype=bool)
            told = _fitted(times_s[numbers][None], pixels[None], every, start, view, PASSES)
            (time_s,), (state,), (cov,), (spread,) = told
            flight, edge = FreeFlight(time_s, flight.towards, state, cov, spread, numbers, pixels), int(looks[-1])
            if not np.isfinite(state).all() or state[4] * flight.towards <= 0:
                return possible
            if is_possible_flight(flight, view):
                possible = flight
    return possible


def _next_seen(
    flight: FreeFlight, ahead: Sequence[int], times_s: Floats, straight: Sequence[Floats], view: View
) -> tuple[NDArray[np.int_], Floats]:
    """Of looks ahead those (K,) that show a candidate where a flight leads, and these candidates (K, 2)."""
    numbers: list[int] = []
    nearest: list[Floats] = []
    at_a_time = max(AT_A_TIME, len(flight.looks) // PATIENCE)
    if ahead:
        since_s = times_s[list(ahead)] - flight.time_s
        places, projection = flight.places_m(times_s[list(ahead)], view), view.projection
        depth = np.maximum(places @ projection[2, :3] + projection[2, 3], LEAST_DEPTH)
        expected = projected(places, projection)
        by_place = (projection[:2, :3] - expected[..., None] * projection[2, :3]) / depth[:, None, None]
        by_state = np.concatenate([by_place, by_place * since_s[:, None, None]], axis=2)
        own = np.eye(2) * centre_sd_px(places, view)[:, None, None] ** 2
        cov = by_state @ flight.cov @ by_state.transpose(0, 2, 1) + own
        for number, seen, back in zip(ahead, expected, np.linalg.inv(cov), strict=True):
            if len(numbers) == at_a_time:
                break
            apart = straight[number] - seen
            squared = np.einsum("ki,ij,kj->k", apart, back, apart)
            if len(squared) and squared.min() < GATE_SDS**2:
                numbers.append(number)
                nearest.append(straight[number][int(squared.argmin())])
    return np.array(numbers, dtype=int), np.array(nearest).reshape(-1, 2)
