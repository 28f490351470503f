"""Tracks in the picture: candidates of following looks that move as one thing with hardly any change of speed.

Three looks begin a track where the second step goes on as the first; then a Kalman filter with constant acceleration
carries it (the same one for x and y; Bar-Shalom, Li, Kirubarajan, Estimation with Applications to Tracking and
Navigation, 2001, section 6.2). Any number of tracks live at once: a limit would starve new ones on noisy film.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import Floats
from serve_marker.spotting.candidates import Look

CENTRE_SD_PX = 2.0
"""How far a candidate's centre strays from the ball's: parts of it are missing (own estimate)."""
FASTEST_RADII_PER_S = 380.0
"""A ball at 40 m/s, in ball radii: the fastest serves are hit at some 36 m/s (Hayrinen et al. 2011, from memory)."""
STEP_SHARE = 0.25
"""A step may differ from the one before by this share of it, as a ball nears the camera (own choice)."""
JERK_RADII_PER_S3 = 2500.0
"""Change of acceleration in the picture, in ball radii: gravity is 93 of them per s2 (own choice)."""
GATE_SQUARED = 13.8
"""999 of 1000 of a track's own candidates lie within (chi-squared, 2 degrees of freedom)."""
MOST_MISSED_S = 0.14
FEWEST_LOOKS, SHORTEST_S = 5, 0.13
MOST_ON_LOOK, TAIL = 1 << 10, 1 << 31
"""Candidates of one look, and of all looks of a block, are fewer. Tracks that share their last two go on as one."""


@dataclass(frozen=True, eq=False)
class PictureTrack:
    """Candidates of one moving thing: numbers of the looks (K,), of the candidate on each, and centres (K, 2) [px]."""

    looks: NDArray[np.int_]
    candidates: NDArray[np.int_]
    centres_px: Floats


def picture_tracks(looks: Sequence[Look], largest_px: float) -> list[PictureTrack]:
    """Return the tracks of some looks in order, by when they end; ``largest_px`` is the radius of the largest ball."""
    live = _Live(largest_px)
    done: list[list[int]] = []
    for number in range(len(looks)):
        done += live.step(looks, number)
    done += live.end_all()
    return [_track(of, looks) for of in done if _lasts(of, looks)]


def _lasts(of: Sequence[int], looks: Sequence[Look]) -> bool:
    span_s = looks[of[-1] // MOST_ON_LOOK].time_s - looks[of[0] // MOST_ON_LOOK].time_s
    return len(of) >= FEWEST_LOOKS and span_s >= SHORTEST_S


def _track(of: Sequence[int], looks: Sequence[Look]) -> PictureTrack:
    numbers, candidates = np.divmod(np.array(of), MOST_ON_LOOK)
    centres = [looks[number].centres_px[one] for number, one in zip(numbers.tolist(), candidates.tolist(), strict=True)]
    return PictureTrack(numbers, candidates, np.array(centres))


class _Live:
    """The tracks that go on: states (T, 3, 2) of place, speed and acceleration, covariances (T, 3, 3) of an axis.

    Candidates are numbered through all looks: look times MOST_ON_LOOK, and which it is there. ``tails`` (T,) number
    the last two of each track.
    """

    def __init__(self, largest_px: float) -> None:
        self._largest_px = largest_px
        self._states, self._covs = np.zeros((0, 3, 2)), np.zeros((0, 3, 3))
        self._last_s = np.zeros(0)
        self._tails, self._lengths = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=int)
        self._members: list[list[int]] = []

    def step(self, looks: Sequence[Look], number: int) -> list[list[int]]:
        """Carry all tracks on to a look, begin new ones there, and return the candidates of those that ended."""
        look = looks[number]
        ended = self._carry_on(look, number)
        if number >= 2:
            self._begin(looks, number)
        return ended

    def end_all(self) -> list[list[int]]:
        """End every track."""
        return self._drop(np.ones(len(self._members), dtype=bool))

    def _carry_on(self, look: Look, number: int) -> list[list[int]]:
        ended = self._drop(look.time_s - self._last_s > MOST_MISSED_S)
        if not self._members or not len(look.centres_px):
            return ended
        states, covs = self._predicted(look.time_s)
        apart = look.centres_px[None] - states[:, 0][:, None]
        squared = (apart**2).sum(axis=2) / (covs[:, 0, 0] + CENTRE_SD_PX**2)[:, None]
        nearest = squared.argmin(axis=1)
        rows = np.flatnonzero(squared[np.arange(len(squared)), nearest] < GATE_SQUARED)
        chosen = nearest[rows]
        gain = covs[rows, :, 0] / (covs[rows, 0, 0] + CENTRE_SD_PX**2)[:, None]
        self._states[rows] = states[rows] + gain[:, :, None] * apart[rows, chosen][:, None]
        self._covs[rows] = covs[rows] - gain[:, :, None] * covs[rows, :1]
        self._last_s[rows] = look.time_s
        self._lengths[rows] += 1
        ids = number * MOST_ON_LOOK + chosen
        self._tails[rows] = _tail_of(self._tails[rows] % TAIL, ids)
        for row, one in zip(rows.tolist(), ids.tolist(), strict=True):
            self._members[row].append(one)
        self._merge()
        return ended

    def _predicted(self, time_s: float) -> tuple[Floats, Floats]:
        on_s = time_s - self._last_s
        zero, one = np.zeros_like(on_s), np.ones_like(on_s)
        move = np.stack([one, on_s, on_s**2 / 2, zero, one, on_s, zero, zero, one], axis=1).reshape(-1, 3, 3)
        push = np.stack([on_s**3 / 6, on_s**2 / 2, on_s], axis=1) * JERK_RADII_PER_S3 * self._typical_px
        noise = push[:, :, None] * push[:, None, :]
        return move @ self._states, move @ self._covs @ move.transpose(0, 2, 1) + noise

    @property
    def _typical_px(self) -> float:
        return self._largest_px / 4

    def _merge(self) -> None:
        """Of tracks that share their last candidates only the longest goes on."""
        order = np.lexsort((-self._lengths, self._tails))
        spare = np.zeros(len(order), dtype=bool)
        spare[order[1:]] = self._tails[order[1:]] == self._tails[order[:-1]]
        if spare.any():
            self._drop(spare)

    def _begin(self, looks: Sequence[Look], number: int) -> None:
        first, second, third = looks[number - 2 : number + 1]
        if not (len(first.centres_px) and len(second.centres_px) and len(third.centres_px)):
            return
        before_s, after_s = second.time_s - first.time_s, third.time_s - second.time_s
        if max(before_s, after_s) > MOST_MISSED_S:
            return
        steps = second.centres_px[None] - first.centres_px[:, None]
        lengths = np.hypot(steps[..., 0], steps[..., 1])
        sizes = np.sqrt(np.maximum(first.areas_px2[:, None], second.areas_px2[None]) / np.pi)
        i, j = np.nonzero(lengths <= FASTEST_RADII_PER_S * before_s * np.minimum(sizes, self._largest_px))
        expected = second.centres_px[j] + steps[i, j] * (after_s / before_s)
        off = third.centres_px[None] - expected[:, None]
        room = 2 * CENTRE_SD_PX + STEP_SHARE * lengths[i, j]
        pair, k = np.nonzero(np.hypot(off[..., 0], off[..., 1]) <= room[:, None])
        ids = (number + np.arange(-2, 1)) * MOST_ON_LOOK + np.column_stack([i[pair], j[pair], k])
        new = ~np.isin(_tail_of(ids[:, 1], ids[:, 2]), self._tails)
        if new.any():
            self._add(ids[new], looks[number - 2 : number + 1])

    def _add(self, ids: NDArray[np.int_], seen: Sequence[Look]) -> None:
        """Take up tracks of three candidates (N, 3), each on one of three looks."""
        centres = np.stack([look.centres_px[of] for look, of in zip(seen, (ids % MOST_ON_LOOK).T, strict=True)], axis=1)
        before_s, after_s = seen[1].time_s - seen[0].time_s, seen[2].time_s - seen[1].time_s
        speeds = (centres[:, 2] - centres[:, 1]) / after_s
        states = np.stack([centres[:, 2], speeds, np.zeros_like(speeds)], axis=1)
        speed_var = 2 * CENTRE_SD_PX**2 / ((before_s + after_s) / 2) ** 2
        drift = (93.0 * 2 * self._typical_px) ** 2
        cov = np.diag([CENTRE_SD_PX**2, speed_var, drift])
        cov[0, 1] = cov[1, 0] = CENTRE_SD_PX**2 / after_s
        self._states = np.concatenate([self._states, states])
        self._covs = np.concatenate([self._covs, np.broadcast_to(cov, (len(ids), 3, 3))])
        self._last_s = np.append(self._last_s, np.full(len(ids), seen[2].time_s))
        self._tails = np.append(self._tails, _tail_of(ids[:, 1], ids[:, 2]))
        self._lengths = np.append(self._lengths, np.full(len(ids), 3))
        self._members += ids.tolist()

    def _drop(self, gone: NDArray[np.bool_]) -> list[list[int]]:
        """Take tracks out and return them."""
        if not gone.any():
            return []
        ended = [self._members[row] for row in np.flatnonzero(gone).tolist()]
        kept = ~gone
        self._states, self._covs, self._last_s = self._states[kept], self._covs[kept], self._last_s[kept]
        self._tails, self._lengths = self._tails[kept], self._lengths[kept]
        self._members = [self._members[row] for row in np.flatnonzero(kept).tolist()]
        return ended


def _tail_of(last_but_one: NDArray[np.int_], last: NDArray[np.int_]) -> NDArray[np.int64]:
    """One number (N,) for two candidates (N,) each."""
    return np.asarray(last_but_one * TAIL + last, dtype=np.int64)
