"""Which free flights are serves, and how each of them ended: on the floor, at a passer or in the net.

All three ends are tried. What the ball does next tells them apart better than the flight does: a floor returns it
onwards and up, a passer up and anywhere, a net lets it fall.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.flight.bounce import REBOUND_SD_MPS
from serve_marker.flight.forces import GRAVITY_MPS2
from serve_marker.flight.pace import FLIGHT_S
from serve_marker.flight.shutter import RESTITUTION
from serve_marker.spotting.candidates import Look
from serve_marker.spotting.free_flights import (
    FEWEST_LOOKS,
    FreeFlight,
    centre_sd_px,
    projected,
    squares_apart,
    straight_of,
    those_served,
)
from serve_marker.spotting.serve_fit import (
    BELOW_TOP_M,
    BELOW_TOP_SD_M,
    FLOOR_SD_M,
    LAST_SEEN_S,
    NET_PLANE_SD_M,
    OUTCOMES,
    RECEIVED_HEIGHT_M,
    RECEIVED_HEIGHT_SD_M,
    Outcome,
    ServeFit,
    serve_through,
    serves_through,
)
from serve_marker.spotting.tracks import PictureTrack

MOST_STRAIN, MOST_END_STRAIN = 20.0, 12.0
"""Squares of six expected values before a flight's end is tried and of seven after: those of 99 and 90 serves in 100
would stay below, were they independent and normal (chi-squared: 16.8 and 12.0); arms and throws do not."""
NEAR_END_SDS = 4.0
FEWEST_SEEN, MOST_COST_PER_LOOK = 10, 1.5
"""Serves cost up to 1.2 a look on rendered film, candidates being nearer the ball than their deviation says; normal
deviates would cost 1.6 (own computation)."""
MOST_SPREAD = 1.5
LAUNCH_MPS, LAUNCH_SLACK_MPS = (8.0, 36.0), 1.5
MOST_FIRST_COST_PER_LOOK = 3.0
NET_SLACK_M = 0.25
"""How far below the net's top a flight over it may seem to pass: depth is told poorly from afar."""
BESIDE_M, BEYOND_M = 3.0, 5.0
"""How far off the court serves come down at most (own choice)."""
SHORTEST_NET_FLIGHT_S = 0.35
SHARED_TIME, SAME_FLIGHT = 0.3, 0.8
STRAIN_AGAIN, LOOK_WORTH = 2.0, 2.0
"""Of two serves at one time, what is unusual counts thrice, and each look that shows the ball for one (own choice)."""
EASY_STRAIN, HOPELESS_STRAIN, TOSS_LOOKS = 8.0, 100.0, (5, 10)
"""A flight strained between these may have begun with its toss, and is tried without its first looks."""
FOLLOWED_FROM_S, HIDDEN_LOOKS = (0.12, 0.03), 12
"""The net's tape can hide a ball for so many looks, seen from behind the servers (own study on rendered film)."""
FOLLOWED_SDS, MOST_SD_PX = 3.0, 15.0
"""Candidates belong to a serve that lie at most so many deviations off its way, where that is told that well."""
AFTER_LOOKS = (4, 10)
AFTER_WITHIN_S = 0.12
END_WITHIN_S, END_MOMENTS = 0.05, 9
"""The moment of an end is known to a look and a half; what follows is tried from so many moments around it."""
AFTER_PX = 2.5
UNSEEN_SQUARES = 9.0
"""What an unseen way on counts, and a way on that does not fit at most: three expected values, each 1.7 deviations
off (own choice)."""
RARER_END = 2.0
"""What an end in the net or at a passer costs more: at practice most serves come down, say e to 1 (own choice)."""
PASSED_UP_MPS, PASSED_SD_MPS = 6.0, (4.0, 4.0, 2.5)
NETTED_BACK, NETTED_UP_MPS, NETTED_SD_MPS = -0.1, -0.5, (1.5, 1.5, 1.2)
"""How a ball leaves a passer's arms, and the net, and how far that strays along, aside and up (own estimates)."""


@dataclass(frozen=True, eq=False)
class FoundServe:
    """A serve before its ends are looked at closely: its flight, the fit of its likeliest end and why it is that one.

    ``after_squares`` is how far what the ball did next lies from what that end makes it do, in squares of deviations;
    NaN where it was not seen. ``rival_cost`` is by how much the next likeliest end fits worse.
    """

    flight: FreeFlight
    fit: ServeFit
    after_squares: float
    rival_cost: float


def found_serves(
    flights: Sequence[FreeFlight], tracks: Sequence[PictureTrack], looks: Sequence[Look], view: View
) -> list[FoundServe]:
    """Return the serves among free flights in order of time, each once."""
    times_s = np.array([look.time_s for look in looks])
    straight = straight_of(looks, view)
    found: list[FoundServe] = []
    for flight, followed, fit in _followed_flights(those_served(flights, times_s, view), times_s, straight, view):
        if any(flight.share_in(serve.flight) > SAME_FLIGHT for serve in found):
            continue
        serve = _as_serve(followed, fit, tracks, times_s, straight, view)
        if serve is not None:
            found.append(serve)
    return each_once(found)


def each_once(found: Sequence[FoundServe]) -> list[FoundServe]:
    """Of serves one way that share some of their time in the air the best told: few are hit while another flies."""
    kept: list[FoundServe] = []
    for serve in sorted(
        found, key=lambda one: one.fit.cost + STRAIN_AGAIN * one.fit.strain - LOOK_WORTH * one.fit.seen
    ):
        span = serve.fit.contact_s, serve.fit.end_s
        same_way = [one.fit for one in kept if one.flight.towards == serve.flight.towards]
        if all(shared_time(span, (fit.contact_s, fit.end_s)) <= SHARED_TIME for fit in same_way):
            kept.append(serve)
    return sorted(kept, key=lambda one: one.fit.contact_s)


def shared_time(one_s: tuple[float, float], other_s: tuple[float, float]) -> float:
    """Return how much of the shorter of two spans lies in the other.

    Examples
    --------
    >>> shared_time((1.0, 2.0), (1.5, 4.0)), shared_time((1.0, 2.0), (3.0, 4.0))
    (0.5, 0.0)
    """
    both_s = min(one_s[1], other_s[1]) - max(one_s[0], other_s[0])
    return max(both_s, 0.0) / min(one_s[1] - one_s[0], other_s[1] - other_s[0])


def _followed_flights(
    flights: Sequence[FreeFlight], times_s: Floats, straight: Floats, view: View
) -> list[tuple[FreeFlight, FreeFlight, ServeFit]]:
    """Flights that may become serves, each also as followed without its toss, and its fit without an end."""
    rows = [
        (flight, trimmed, start)
        for flight, trimmed, start in zip(flights, *_without_toss(flights, times_s, view), strict=True)
        if start is not None
    ]
    for early_s in FOLLOWED_FROM_S:
        going = [
            (flight, _followed(followed, start, early_s, times_s, straight, view), start)
            for flight, followed, start in rows
            if _may_become_serve(start, view)
        ]
        going = [row for row in going if len(row[1].looks) >= FEWEST_SEEN]
        fits = serves_through([row[1] for row in going], times_s, view, None, [row[2] for row in going])
        rows = [(*row[:2], fit) for row, fit in zip(going, fits, strict=True) if fit is not None]
    return rows


def _without_toss(
    flights: Sequence[FreeFlight], times_s: Floats, view: View
) -> tuple[list[FreeFlight], list[ServeFit | None]]:
    """The flights, each from later on where its beginning cannot be a serve's, and their fits."""
    trimmed = list(flights)
    starts = serves_through(trimmed, times_s, view, None, [None] * len(trimmed))
    for late in TOSS_LOOKS:
        strained = [
            row
            for row, (flight, start) in enumerate(zip(trimmed, starts, strict=True))
            if start is not None
            and len(flight.looks) >= late + FEWEST_LOOKS
            and EASY_STRAIN < start.strain < HOPELESS_STRAIN
        ]
        later = [
            replace(trimmed[row], looks=trimmed[row].looks[late:], seen_px=trimmed[row].seen_px[late:])
            for row in strained
        ]
        others = serves_through(later, times_s, view, None, [None] * len(later))
        for row, flight, other in zip(strained, later, others, strict=True):
            start = starts[row]
            if other is not None and start is not None and other.strain < start.strain:
                trimmed[row], starts[row] = flight, other
    return trimmed, starts


def _followed(
    flight: FreeFlight, fit: ServeFit, early_s: float, times_s: Floats, straight: Floats, view: View
) -> FreeFlight:
    """The flight with the candidates along the way of a fit, from about the hit until no look shows one any more."""
    first = int(np.searchsorted(times_s, fit.contact_s - early_s))
    to = min(int(flight.looks[-1]) + HIDDEN_LOOKS, len(times_s) - 1)
    while True:
        numbers = np.arange(first, to + 1)
        if not len(numbers):
            return replace(flight, looks=numbers, seen_px=np.zeros((0, 2)))
        looks, seen_px = _seen_along(fit, numbers, times_s, straight, view)
        if not len(looks) or looks[-1] + HIDDEN_LOOKS <= to or to == len(times_s) - 1:
            return replace(flight, looks=looks, seen_px=seen_px)
        to = min(int(looks[-1]) + HIDDEN_LOOKS, len(times_s) - 1)


def _seen_along(
    fit: ServeFit, numbers: NDArray[np.int_], times_s: Floats, straight: Floats, view: View
) -> tuple[NDArray[np.int_], Floats]:
    """Of some looks those (K,) that show a candidate on a fit's way, and these candidates (K, 2)."""
    expected, cov = fit.expected_px(times_s[numbers], view)
    places = fit.places_m(times_s[numbers], view)
    clear = np.trace(cov, axis1=1, axis2=2) < 2 * MOST_SD_PX**2
    numbers, own = numbers[clear], np.eye(2) * centre_sd_px(places[clear], view)[:, None, None] ** 2
    squared = squares_apart(straight[numbers], expected[clear], cov[clear] + own)
    nearest = squared.argmin(axis=1)
    seen = squared[np.arange(len(numbers)), nearest] < FOLLOWED_SDS**2
    return numbers[seen], straight[numbers[seen], nearest[seen]]


def _as_serve(
    flight: FreeFlight,
    start: ServeFit,
    tracks: Sequence[PictureTrack],
    times_s: Floats,
    straight: Floats,
    view: View,
) -> FoundServe | None:
    if start.end_s - start.contact_s < SHORTEST_NET_FLIGHT_S - END_WITHIN_S:
        return None
    ends = _near_ends(start, view)
    fits = [fit for end in ends if (fit := serve_through(flight, times_s, view, end, start)) is not None]
    possible = [fit for fit in fits if is_possible_serve(fit, view)]
    if not possible:
        return None
    end_s = possible[0].end_s
    near = [
        (times_s[track.looks], straight[track.looks, track.candidates])
        for track in tracks
        if times_s[track.looks[-1]] > end_s > times_s[track.looks[0]] - 2 * AFTER_WITHIN_S
    ]
    squares = [_after_squares(fit, near, view) for fit in possible]
    costs = np.array(
        [
            fit.cost + min(apart, UNSEEN_SQUARES) + (0.0 if fit.outcome == "floor" else RARER_END)
            for fit, apart in zip(possible, squares, strict=True)
        ]
    )
    best = int(costs.argmin())
    others = np.delete(costs, best)
    rival = float(others.min() - costs[best]) if len(others) else np.inf
    told = squares[best] if squares[best] < UNSEEN_SQUARES else np.nan
    return FoundServe(flight, possible[best], told, rival)


def _may_become_serve(fit: ServeFit, view: View) -> bool:
    """Whether a fit without an end is worth going on with."""
    pace_mps = float(np.linalg.norm(fit.moved(fit.contact_s, view)[1]))
    usual = LAUNCH_MPS[0] - LAUNCH_SLACK_MPS <= pace_mps <= LAUNCH_MPS[1] + LAUNCH_SLACK_MPS
    return usual and fit.strain <= MOST_STRAIN and fit.cost - fit.strain <= MOST_FIRST_COST_PER_LOOK * fit.seen


def _near_ends(fit: ServeFit, view: View) -> list[Outcome]:
    """The ends a serve may have had, by where it was last seen: a test before each of them is fitted."""
    place_m, velocity = fit.moved(fit.end_s, view)
    cov_m2 = fit.place_cov_m2(fit.end_s, view)
    along_sd_m, up_sd_m = np.sqrt(cov_m2[[1, 2], [1, 2]]) + LAST_SEEN_S * np.abs(velocity[1:])
    over_floor_m = float(place_m[2] - view.court.ball.radius_m)
    below_top_m = float(view.net_height_m - place_m[2])
    sds = {
        "floor": over_floor_m / np.hypot(up_sd_m, FLOOR_SD_M),
        "received": (place_m[2] - RECEIVED_HEIGHT_M) / np.hypot(up_sd_m, RECEIVED_HEIGHT_SD_M),
        "net": max(
            abs(place_m[1]) / np.hypot(along_sd_m, NET_PLANE_SD_M),
            abs(below_top_m - BELOW_TOP_M) / np.hypot(up_sd_m, BELOW_TOP_SD_M),
        ),
    }
    return [end for end in OUTCOMES if abs(sds[end]) < NEAR_END_SDS]


def is_possible_serve(fit: ServeFit, view: View) -> bool:
    """Whether a serve can be so: hit behind a line, over the net or into it, coming down near the court."""
    _, launch_mps = fit.moved(fit.contact_s, view)
    end_m, _ = fit.moved(fit.end_s, view)
    court, towards = view.court, np.sign(launch_mps[1])
    flight_s = fit.end_s - fit.contact_s
    if not (
        fit.seen >= FEWEST_SEEN
        and fit.strain <= MOST_END_STRAIN
        and fit.cost <= MOST_COST_PER_LOOK * fit.seen
        and fit.spread <= MOST_SPREAD
        and LAUNCH_MPS[0] <= np.linalg.norm(launch_mps) <= LAUNCH_MPS[1]
        and abs(end_m[0]) <= court.half_width_m + BESIDE_M
        and abs(end_m[1]) <= court.half_length_m + BEYOND_M
    ):
        return False
    if fit.outcome == "net":
        return bool(flight_s >= SHORTEST_NET_FLIGHT_S and end_m[2] <= view.net_height_m + court.ball.radius_m)
    return bool(
        FLIGHT_S[0] <= flight_s <= FLIGHT_S[1]
        and end_m[1] * towards > 0
        and height_at_net_m(fit, view) >= view.net_height_m - NET_SLACK_M
    )


def height_at_net_m(fit: ServeFit, view: View) -> float:
    """Height [m] of the ball's centre where a serve crosses the net's plane; NaN where it does not."""
    places = fit.places_m(np.linspace(fit.contact_s, fit.end_s, 60), view)
    along = places[:, 1] * np.sign(places[-1, 1] - places[0, 1])
    if not along[0] < 0 < along[-1]:
        return float("nan")
    return float(np.interp(0.0, along, places[:, 2]))


def _after_squares(fit: ServeFit, pieces: Sequence[tuple[Floats, Floats]], view: View) -> float:
    """How far the likeliest way on lies from what an end makes a ball do, in squares of deviations.

    ``pieces`` are tracks: times (K,) and straight pixels (K, 2).
    """
    near_s, projection, least = fit.ended_s(view), view.projection, np.inf
    for ended_s in near_s + END_WITHIN_S * np.linspace(-1, 1, END_MOMENTS):
        later_s, later_px, counted = _seen_after(float(ended_s), pieces)
        if not len(later_s):
            continue
        end_m, arrival_mps = fit.moved(float(ended_s), view)
        if fit.outcome == "floor":
            end_m = at_height(projected(end_m, projection), view.court.ball.radius_m, projection)
        expected, sd, axes = _left_as_expected(fit, arrival_mps)
        velocities, off_px = _left_with(end_m, later_s - ended_s, later_px, counted, projection)
        squares = (((velocities @ axes.T - expected) / sd) ** 2).sum(axis=1)
        least = min(least, float(squares[off_px <= AFTER_PX].min(initial=np.inf)))
    return least


def _seen_after(ended_s: float, pieces: Sequence[tuple[Floats, Floats]]) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Times (N, K) and pixels (N, K, 2) of tracks that begin soon after a moment, and which count (N, K)."""
    times_s, pixels = np.full((len(pieces), AFTER_LOOKS[1]), ended_s), np.zeros((len(pieces), AFTER_LOOKS[1], 2))
    counts = np.zeros(len(pieces), dtype=int)
    for row, (seen_s, seen_px) in enumerate(pieces):
        first = int(seen_s.searchsorted(ended_s, side="right"))
        some = slice(first, first + AFTER_LOOKS[1])
        if len(seen_s) - first >= AFTER_LOOKS[0] and seen_s[first] <= ended_s + AFTER_WITHIN_S:
            counts[row] = len(seen_s[some])
            times_s[row, : counts[row]], pixels[row, : counts[row]] = seen_s[some], seen_px[some]
    used = counts > 0
    return times_s[used], pixels[used], np.arange(AFTER_LOOKS[1]) < counts[used, None]


def _left_as_expected(fit: ServeFit, arrival_mps: Floats) -> tuple[Floats, Floats, Floats]:
    """How a ball leaves an end (3,) [m/s] along, aside and up, its deviations, and these axes (3, 3)."""
    pace = float(np.hypot(*arrival_mps[:2]))
    along = arrival_mps[:2] / max(pace, 1e-6)
    axes = np.array([(*along, 0.0), (-along[1], along[0], 0.0), (0.0, 0.0, 1.0)])
    if fit.outcome == "floor":
        return np.array([RESTITUTION * pace, 0.0, -RESTITUTION * arrival_mps[2]]), REBOUND_SD_MPS, axes
    if fit.outcome == "received":
        return np.array([0.0, 0.0, PASSED_UP_MPS]), np.array(PASSED_SD_MPS), axes
    return np.array([NETTED_BACK * pace, 0.0, NETTED_UP_MPS]), np.array(NETTED_SD_MPS), axes


def at_height(pixel: Floats, height_m: float, projection: Floats) -> Floats:
    """The place (3,) [m] of that height that is seen at a straight pixel (2,)."""
    plane = np.column_stack([projection[:, :2], projection[:, 2] * height_m + projection[:, 3]])
    x, y, w = np.linalg.solve(plane, np.append(pixel, 1.0))
    return np.array([x / w, y / w, height_m])


def _left_with(
    end_m: Floats, since_s: Floats, seen_px: Floats, counted: NDArray[np.bool_], projection: Floats
) -> tuple[Floats, Floats]:
    """Velocities (N, 3) with which balls left a place to be seen where they were, and how far off they are (N,) [px].

    ``since_s`` (N, K) and ``seen_px`` (N, K, 2) are what was seen of each, of which some are ``counted`` (N, K).
    """
    rows = projection[:2, :3] - seen_px[..., None] * projection[2:, :3]
    falls = np.zeros((*since_s.shape, 3))
    falls[..., 2] = -GRAVITY_MPS2 / 2 * since_s**2
    offsets = projection[:2, 3] - seen_px * projection[2, 3]
    known = np.einsum("nkij,nkj->nki", rows, end_m + falls) + offsets
    A = (rows * (since_s * counted)[..., None, None]).reshape(len(rows), -1, 3)
    back = A.transpose(0, 2, 1)
    velocities = (np.linalg.pinv(back @ A, hermitian=True) @ back @ -known.reshape(len(rows), -1, 1))[..., 0]
    places = end_m + velocities[:, None] * since_s[..., None] + falls
    off = (projected(places, projection) - seen_px) * counted[..., None]
    freedom = np.maximum(2 * counted.sum(axis=1) - 3, 1)
    return velocities, np.sqrt((off**2).sum(axis=(1, 2)) / freedom)
