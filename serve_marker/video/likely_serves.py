"""Which sudden sounds of a clip are likely a serve's hit, and which its landing.

A serve is a hit and, after a likely flight, a landing. Hits of one clip come from one end and are about as loud as each
other, and so are its landings; how loud is found by taking those two levels at which the most serves are heard. What
bounces on, or rises slowly as shoes, voices and whistles do, is neither.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from serve_marker.video.sudden_sounds import Spikes

SHORTEST_FLIGHT_S, TYPICAL_FLIGHT_S, LONGEST_FLIGHT_S = 0.5, 1.15, 2.5
"""Serves of 12 to 28 m/s fly 0.65 to 1.34 s (quadratic drag, `flight/forces.py`'s equations); lobs fly longer."""
FLIGHT_SPREAD = 0.3
"""Standard deviation of the logarithm of a flight (own estimate: two of it reach from 0.6 to 2.1 s)."""
APART_S = 1.0
"""From a landing to the next hit at least: it is tossed first."""
LEVEL_SD_DB, COMMON_SD_DB = 4.0, 4.0
"""How far hits of one clip differ in level (own estimate: servers' strength and place); smoothing of all levels."""
UNEXPECTED = 1e-3
LEVEL_GUESSES = 10
SUDDEN_S = 0.0125
"""Hits and bounces are at their loudest sooner than this; shoes, voices and whistles later."""
SERVE, BOUNCES_ON, LANDS, SLOW = 0.5, 1.5, 2.0, 1.5
"""What a serve as such, a rebound, the first touch before rebounds (for a landing) and a slow rise say, as
log-likelihood (own estimates; what is found hardly moves with any of them)."""
SERVE_IN_GAP, LONG_GAP, FEWEST_FOR_RHYTHM = 3.5, 1.6, 4
"""What a serve says where one is due: where the next comes so many times later than usual, told from so many serves."""
LEAST_REBOUND, MOST_REBOUND = 0.62, 0.86
"""Of two intervals between touches of a bouncing ball the later is this share: its restitution is about 0.7 to 0.8."""
SHORTEST_BOUNCE_S, LONGEST_BOUNCE_S = 0.25, 1.4
BOUNCE_OFF_S = 0.02
THREE_TOUCHES, THREE_FROM_FIRST = 0.3, 0.5
LOUDER_DB = 2.0
SAME_S = 0.3
"""A mark so near a likely hit or landing is of the same."""
EARLY_S, LATE_S, MARKED = 0.03, 0.12, 4.0
"""A moment is heard at most so much before its mark (a frame off) or after it (40 m away); what its sound says."""


@dataclass(frozen=True)
class LikelyServe:
    """When a serve is likely hit and when it likely lands, by the sound of both or of one [s on the clip's time]."""

    hit_s: float
    landing_s: float


def likely_serves(
    spikes: Spikes, time_scale: float = 1.0, contacts_s: Sequence[float] = (), landings_s: Sequence[float] = ()
) -> tuple[LikelyServe, ...]:
    """Return the serves that explain the spikes best, in order; none where nothing can be told.

    ``time_scale`` is what the clip's time has to be multiplied by to be true. Contacts and landings marked already
    tell how loud the others are, and each where its serve's other end is.

    Examples
    --------
    Two serves, the first with two rebounds after 0.9 and 0.7 s:

    >>> times_s = np.array([1.0, 2.1, 3.0, 3.65, 6.0, 7.2])
    >>> level_db = np.array([-20.0, -15.0, -25.0, -30.0, -20.0, -15.0])
    >>> for serve in likely_serves(Spikes(times_s, level_db, np.zeros(6))):
    ...     print(serve.hit_s, serve.landing_s)
    1.0 2.1
    6.0 7.2
    """
    life_s, level_db = spikes.times_s * time_scale, spikes.level_db
    if len(life_s) < 2:
        return ()
    first, later = rebounds(life_s, level_db)
    guesses_db = np.unique(np.quantile(level_db, np.linspace(0.1, 1.0, LEVEL_GUESSES)))
    level = _as_loud_as(guesses_db, level_db) - SLOW * (spikes.rise_s > SUDDEN_S)
    hits = level - BOUNCES_ON * later
    landings = level + LANDS * first - BOUNCES_ON * later
    hits[:, _sounds_of(contacts_s, spikes.times_s)] += MARKED
    landings[:, _sounds_of(landings_s, spikes.times_s)] += MARKED
    pairs, (hit_level, landing_level) = _best_pairs(life_s, hits, landings, SERVE)
    serves = _serves(spikes.times_s, pairs)
    for since_s, until_s in _long_gaps(serves):
        rest_s = APART_S / time_scale
        gap = slice(*np.searchsorted(spikes.times_s, (since_s + rest_s, until_s - rest_s)))
        found, _ = _best_pairs(
            life_s[gap], hits[hit_level, None, gap], landings[landing_level, None, gap], SERVE_IN_GAP
        )
        serves += _serves(spikes.times_s[gap], found) or _by_one_end(
            spikes.times_s[gap], hits[hit_level, gap], landings[landing_level, gap], _flight_s(serves), since_s, until_s
        )
    return tuple(sorted(serves, key=lambda serve: serve.hit_s))


def rebounds(life_s: NDArray[np.float64], level_db: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    """How much each spike (S,) looks like the first touch of a bouncing ball, and like a later one: 0, or up to 1.

    Touches grow softer and follow each other faster and faster: four that do are sure, three may be chance.

    Examples
    --------
    >>> first, later = rebounds(np.array([1.0, 2.0, 2.7, 3.19]), np.array([-10.0, -13.0, -16.0, -19.0]))
    >>> first.tolist(), later.tolist()
    ([1.0, 0.5, 0.0, 0.0], [0.0, 1.0, 1.0, 1.0])
    """
    first, later = np.zeros(len(life_s)), np.zeros(len(life_s))
    times_s, levels_db = life_s.tolist(), level_db.tolist()
    for i, start_s in enumerate(times_s):
        for j in _between(times_s, start_s + SHORTEST_BOUNCE_S, start_s + LONGEST_BOUNCE_S):
            bounce_s = times_s[j] - start_s
            if levels_db[j] > levels_db[i] + LOUDER_DB:
                continue
            for k in _between(times_s, times_s[j] + LEAST_REBOUND * bounce_s, times_s[j] + MOST_REBOUND * bounce_s):
                if levels_db[k] > levels_db[j] + LOUDER_DB:
                    continue
                next_s = times_s[k] + (times_s[k] - times_s[j]) ** 2 / bounce_s
                fourth = [
                    m
                    for m in _between(times_s, next_s - BOUNCE_OFF_S, next_s + BOUNCE_OFF_S)
                    if m > k and levels_db[m] <= levels_db[k] + LOUDER_DB
                ]
                first[i] = max(first[i], 1.0 if fourth else THREE_FROM_FIRST)
                for touch in (j, k, *fourth):
                    later[touch] = max(later[touch], 1.0 if fourth else THREE_TOUCHES)
    return first, later


def lag_s(heard_s: Sequence[float], marked_s: Sequence[float]) -> float:
    """Return how late what was marked is heard, in the median [s]; 0 before anything was marked.

    Sound takes its time from the far end, and sound and pictures of a film need not agree.

    Examples
    --------
    >>> round(lag_s([1.06, 4.07, 9.0], [1.0, 4.0, 6.0]), 3)
    0.065
    """
    late_s = np.array(heard_s)[None] - np.array(marked_s)[:, None]
    if not late_s.size:
        return 0.0
    nearest_s = np.take_along_axis(late_s, np.abs(late_s).argmin(axis=1, keepdims=True), axis=1)
    told_s = nearest_s[np.abs(nearest_s) <= SAME_S]
    return float(np.median(told_s)) if len(told_s) else 0.0


def stops_s(
    likely: Sequence[LikelyServe], contacts_s: Sequence[float], landings_s: Sequence[float]
) -> NDArray[np.float64]:
    """Return where the film is worth stopping [s], in order: likely hits and landings, or what was marked near them.

    What was marked tells how late hits and landings are heard; those not yet marked are looked for as much earlier.

    Examples
    --------
    >>> likely = (LikelyServe(1.06, 2.04), LikelyServe(5.06, 6.04))
    >>> stops_s(likely, [1.0], [2.0]).round(2).tolist()
    [1.0, 2.0, 5.0, 6.0]
    """
    landings = _stops_s([serve.landing_s for serve in likely], landings_s)
    return np.sort(np.concatenate([hit_stops_s(likely, contacts_s), landings]))


def hit_stops_s(likely: Sequence[LikelyServe], contacts_s: Sequence[float]) -> NDArray[np.float64]:
    """Return those of the stops that are hits [s], in order."""
    return _stops_s([serve.hit_s for serve in likely], contacts_s)


def _stops_s(heard_s: Sequence[float], marked_s: Sequence[float]) -> NDArray[np.float64]:
    expected_s, known_s = np.array(heard_s) - lag_s(heard_s, marked_s), np.array(marked_s)
    marked_by_now = (np.abs(expected_s[:, None] - known_s[None]) <= SAME_S).any(axis=1)
    return np.sort(np.concatenate([known_s, expected_s[~marked_by_now]]))


def _sounds_of(marked_s: Sequence[float], times_s: NDArray[np.float64]) -> list[int]:
    """Indices of the spikes that are nearest to what was marked, where one is near."""
    late_s = times_s[None] - np.array(marked_s)[:, None]
    near = np.where((late_s >= -EARLY_S) & (late_s <= LATE_S), np.abs(late_s), np.inf)
    return sorted({int(row.argmin()) for row in near if np.isfinite(row).any()})


def _between(times_s: list[float], from_s: float, to_s: float) -> range:
    return range(bisect_left(times_s, from_s), bisect_right(times_s, to_s))


def _as_loud_as(guesses_db: NDArray[np.float64], level_db: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log of how much more usual each level (S,) is among sounds about as loud as a guess than among all (G, S)."""
    reach_db = 4 * COMMON_SD_DB
    edges_db = np.arange(level_db.min() - reach_db, level_db.max() + reach_db, 0.5)
    counts, _ = np.histogram(level_db, edges_db)
    kernel = np.exp(-0.5 * (np.arange(-reach_db, reach_db + 0.5, 0.5) / COMMON_SD_DB) ** 2)
    half = len(kernel) // 2
    smooth = np.convolve(counts, kernel)[half : half + len(counts)] / len(level_db) / COMMON_SD_DB
    common = np.interp(level_db, edges_db[:-1] + 0.25, smooth)
    off = (level_db[None] - guesses_db[:, None]) / LEVEL_SD_DB
    return np.asarray(np.log((np.exp(-0.5 * off**2) / LEVEL_SD_DB + UNEXPECTED) / np.maximum(common, UNEXPECTED)))


def _serves(times_s: NDArray[np.float64], pairs: Sequence[tuple[int, int]]) -> list[LikelyServe]:
    return [LikelyServe(float(times_s[hit]), float(times_s[landing])) for hit, landing in pairs]


def _flight_s(serves: Sequence[LikelyServe]) -> float:
    return float(np.median([serve.landing_s - serve.hit_s for serve in serves]))


def _long_gaps(serves: Sequence[LikelyServe]) -> list[tuple[float, float]]:
    """Landings and next hits [s] of serves that follow each other much later than usual: one was likely missed."""
    if len(serves) < FEWEST_FOR_RHYTHM:
        return []
    every_s = float(np.median(np.diff([serve.hit_s for serve in serves])))
    return [
        (before.landing_s, after.hit_s)
        for before, after in pairwise(serves)
        if after.hit_s - before.hit_s > LONG_GAP * every_s
    ]


def _by_one_end(
    times_s: NDArray[np.float64],
    hits: NDArray[np.float64],
    landings: NDArray[np.float64],
    flight_s: float,
    since_s: float,
    until_s: float,
) -> list[LikelyServe]:
    """Return the serve of which one end sounds right, the other the usual flight apart; none where no sound does."""
    as_hit = np.where(times_s + flight_s < until_s, hits, -np.inf)
    as_landing = np.where(times_s - flight_s > since_s, landings, -np.inf)
    says = np.concatenate([as_hit, as_landing])
    if not len(says) or says.max() <= 0:
        return []
    hit_s = float(np.concatenate([times_s, times_s - flight_s])[says.argmax()])
    return [LikelyServe(hit_s, hit_s + flight_s)]


def _best_pairs(
    life_s: NDArray[np.float64], hits: NDArray[np.float64], landings: NDArray[np.float64], serve: float
) -> tuple[list[tuple[int, int]], tuple[int, int]]:
    """Indices of hits and landings, one serve after the other, that together say most, and the levels that say most.

    ``hits`` and ``landings`` (G, S) are what each spike says as either, at each guess of the level; ``serve`` is what a
    serve says as such.
    """
    times_s = life_s.tolist()
    ready = np.searchsorted(life_s, life_s - APART_S, side="right").tolist()
    best = [np.zeros((len(hits), len(landings)))]

    def with_serve(hit: int, landing: int) -> NDArray[np.float64]:
        unusual = math.log((times_s[landing] - times_s[hit]) / TYPICAL_FLIGHT_S) / FLIGHT_SPREAD
        gain = hits[:, hit, None] + landings[None, :, landing] + serve - 0.5 * unusual**2
        return np.asarray(best[ready[hit]] + gain)

    def hits_before(landing: int) -> range:
        return _between(times_s, times_s[landing] - LONGEST_FLIGHT_S, times_s[landing] - SHORTEST_FLIGHT_S)

    for landing in range(len(times_s)):
        best.append(np.maximum.reduce([best[-1], *(with_serve(hit, landing) for hit in hits_before(landing))]))
    hit_level, landing_level = np.unravel_index(int(best[-1].argmax()), best[-1].shape)
    levels = int(hit_level), int(landing_level)
    pairs: list[tuple[int, int]] = []
    spike = len(times_s)
    while spike > 0:
        spike -= 1
        if best[spike + 1][levels] > best[spike][levels]:
            hit = max(hits_before(spike), key=lambda i: float(with_serve(i, spike)[levels]))
            pairs.append((hit, spike))
            spike = ready[hit]
    return pairs[::-1], levels
