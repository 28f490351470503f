"""The two ways of one ball that meet in a touch, among spots that may be balls: the most likely set, frame by frame.

For each possible moment of the touch, sets of spots are grown frame by frame, the frames nearest the touch first
(multiple hypotheses, Reid, IEEE Trans. Autom. Control 1979, 24, 843-854). Each set carries what it says of the
touch's place and of both velocities, as an extended Kalman filter does; a frame may show no ball at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import Floats
from serve_marker.flight.touch import Expected, seen_from, way_since

BEAM = 12
MOMENTS = 9
SPOT_SD_PX = 1.0
SPOT_SHARE = 0.03
PLACE_SD_M = 2.0
SEEN_SHARE = 0.85
GATE_SQUARED = 16.0


@dataclass(frozen=True, eq=False)
class SpotSet:
    """Which spot (K,) of each frame is the ball, -1 where none; the touch's place (2,) [m]; how likely, the higher."""

    spots: NDArray[np.int_]
    place_m: Floats
    score: float


def likely_sets(
    times_s: Floats,
    spots_px: Sequence[Floats],
    strengths: Sequence[Floats],
    areas_px2: Floats,
    click: tuple[float, Floats, float],
    projection: Floats,
    window_s: tuple[float, float],
    expected: Expected,
    drag_per_m: float,
) -> list[SpotSet]:
    """Return the likeliest set of spots for each of some moments of the touch, best first.

    Parameters
    ----------
    times_s : (K,), of the frames.
    spots_px, strengths : for each frame places (N, 2) in straight pixels, and (N,) how surely each is a ball [log].
    areas_px2 : (K,), the part of each picture in which spots were looked for.
    click : time [s], place (2,) and deviation [px] of the ball's centre as the coach's click tells it.
    projection : (3, 4), metres to straight pixels, height 0 at the ball's centre when it touches.
    expected : of the touch, about the clicked floor point.
    """
    information = expected.information.copy()
    information[:2, :2] += np.eye(2) / PLACE_SD_M**2
    moments_s = np.linspace(*window_s, MOMENTS)
    means = np.tile(expected.mean, (MOMENTS, 1))
    means[:, :2] = [_touched_at(click[0] - m, click[1], expected.mean, projection, drag_per_m) for m in moments_s]
    sets = _Sets(means, np.asarray(np.linalg.inv(information)), len(times_s))
    sight = projection, drag_per_m
    with np.errstate(all="ignore"):
        sets.draw_to(click[1], click[2], *sets.seen(click[0] - moments_s, *sight))
        nearest_first = np.argsort(np.abs(times_s - moments_s[:, None]), axis=1, kind="stable")
        places, sure = _padded(spots_px, strengths, np.asarray(areas_px2))
        for frames in nearest_first.T:
            seen, by_state = sets.seen(times_s[frames] - moments_s, *sight)
            away_px = np.hypot(*np.moveaxis(seen - click[1], -1, 0))
            sets.grow(frames, places[frames], sure[frames], seen, by_state, np.hypot(SPOT_SD_PX, SPOT_SHARE * away_px))
    return sets.best()


def _touched_at(since_s: float, pixel: Floats, mean: Floats, projection: Floats, drag_per_m: float) -> Floats:
    """Where a ball of expected velocities touched (2,) [m] that was at ``pixel`` (2,) so long after."""
    velocity = mean[5:8] if since_s > 0 else mean[2:5]
    way_m = way_since(velocity, np.array(since_s), drag_per_m)
    plane = np.column_stack([projection[:, :2], projection[:, 2] * way_m[2] + projection[:, 3]])
    x, y, w = np.linalg.solve(plane, np.append(pixel, 1.0))
    return np.array([x / w, y / w]) - way_m[:2]


def _padded(spots_px: Sequence[Floats], strengths: Sequence[Floats], areas_px2: Floats) -> tuple[Floats, Floats]:
    """Spots (K, S, 2) of all frames, NaN where one has fewer, and how surely each is the ball there (K, S) [log]."""
    most = max(1, *map(len, spots_px))
    places, sure = np.full((len(spots_px), most, 2), np.nan), np.full((len(spots_px), most), -np.inf)
    for k, (spots, strength) in enumerate(zip(spots_px, strengths, strict=True)):
        places[k, : len(spots)] = spots
        sure[k, : len(spots)] = strength + np.log(SEEN_SHARE * areas_px2[k] / max(len(spots), 1))
    return places, sure


class _Sets:
    """For each of M moments the B likeliest sets of spots so far: states (M, B, 8), their covariances and scores."""

    def __init__(self, means: Floats, cov: Floats, frames: int) -> None:
        moments = len(means)
        self._states, self._covs = means[:, None], np.tile(cov, (moments, 1, 1, 1))
        self._scores, self._chosen = np.zeros((moments, 1)), np.full((moments, 1, frames), -1)

    def seen(self, since_s: Floats, projection: Floats, drag_per_m: float) -> tuple[Floats, Floats]:
        """Where the balls are seen (M, B, 2) so long after their touch (M,), and derivatives (M, B, 2, 8)."""
        moments, sets = self._scores.shape
        each_s = np.repeat(since_s, sets)[:, None]
        seen, by_state = seen_from(self._states.reshape(-1, 8), each_s, projection, drag_per_m)
        return seen.reshape(moments, sets, 2), by_state.reshape(moments, sets, 2, 8)

    def draw_to(self, click_px: Floats, sd_px: float, seen: Floats, by_state: Floats) -> None:
        """Let the click say where the ball was."""
        spots, sds_px = np.broadcast_to(click_px, (*seen.shape[:1], 1, 2)), np.full(self._scores.shape, sd_px)
        moved, self._covs, gained = self._updated(spots, seen, by_state, sds_px)
        self._states, self._scores = moved[:, :, 0], gained[:, :, 0]

    def grow(
        self, frames: NDArray[np.int_], spots: Floats, sure: Floats, seen: Floats, by_state: Floats, sd_px: Floats
    ) -> None:
        """Add the next frame (M,) of each moment, with spots (M, S, 2): one of them is the ball, or none is seen."""
        moved, tightened, gained = self._updated(spots, seen, by_state, sd_px)
        every = np.concatenate([self._scores[:, :, None] + np.log(1 - SEEN_SHARE), gained + sure[:, None]], axis=2)
        every[~np.isfinite(every)] = -np.inf
        moments, sets, choices = every.shape
        best = np.argsort(-every.reshape(moments, -1), axis=1, kind="stable")[:, :BEAM]
        row, column = np.unravel_index(best, (sets, choices))
        at = np.arange(moments)[:, None]
        hit = column > 0
        self._states = np.where(hit[:, :, None], moved[at, row, np.maximum(column - 1, 0)], self._states[at, row])
        self._covs = np.where(hit[:, :, None, None], tightened[at, row], self._covs[at, row])
        self._scores, self._chosen = every[at, row, column], self._chosen[at, row]
        self._chosen[at, np.arange(best.shape[1]), frames[:, None]] = column - 1

    def best(self) -> list[SpotSet]:
        """The likeliest set of each moment, best first."""
        rows = [(m, int(scores.argmax())) for m, scores in enumerate(self._scores)]
        sets = [SpotSet(self._chosen[at], self._states[at][:2].copy(), float(self._scores[at])) for at in rows]
        return sorted((one for one in sets if np.isfinite(one.score)), key=lambda one: -one.score)

    def _updated(self, spots: Floats, seen: Floats, by_state: Floats, sd_px: Floats) -> tuple[Floats, Floats, Floats]:
        """Each state drawn to each spot: (M, B, S, 8); covariances (M, B, 8, 8); log-likelihoods (M, B, S)."""
        back_on = np.swapaxes(by_state, -1, -2)
        spread = by_state @ self._covs @ back_on + (sd_px**2)[..., None, None] * np.eye(2)
        back = np.linalg.inv(spread)
        gain = self._covs @ back_on @ back
        apart = spots[:, None] - seen[:, :, None]
        squared = np.einsum("mbsi,mbij,mbsj->mbs", apart, back, apart)
        moved = self._states[:, :, None] + np.einsum("mbij,mbsj->mbsi", gain, apart)
        tightened = self._covs - gain @ by_state @ self._covs
        likely = self._scores[..., None] - squared / 2 - np.log(np.linalg.det(spread))[..., None] / 2
        return moved, tightened, np.where(squared < GATE_SQUARED, likely - np.log(2 * np.pi), -np.inf)
