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
    mean, information = expected.mean.copy(), expected.information.copy()
    information[:2, :2] += np.eye(2) / PLACE_SD_M**2
    cov = np.linalg.inv(information)
    found = []
    for moment_s in np.linspace(*window_s, MOMENTS):
        mean[:2] = _touched_at(click[0] - moment_s, click[1], mean, projection, drag_per_m)
        found.append(
            _grown(
                times_s,
                spots_px,
                strengths,
                areas_px2,
                click,
                projection,
                moment_s,
                mean.copy(),
                np.asarray(cov),
                drag_per_m,
            )
        )
    return sorted((best for best in found if best is not None), key=lambda best: -best.score)


def _touched_at(since_s: float, pixel: Floats, mean: Floats, projection: Floats, drag_per_m: float) -> Floats:
    """Where a ball of expected velocities touched (2,) [m] that was at ``pixel`` (2,) so long after."""
    velocity = mean[5:8] if since_s > 0 else mean[2:5]
    way_m = way_since(velocity, np.array(since_s), drag_per_m)
    plane = np.column_stack([projection[:, :2], projection[:, 2] * way_m[2] + projection[:, 3]])
    x, y, w = np.linalg.solve(plane, np.append(pixel, 1.0))
    return np.array([x / w, y / w]) - way_m[:2]


def _grown(
    times_s: Floats,
    spots_px: Sequence[Floats],
    strengths: Sequence[Floats],
    areas_px2: Floats,
    click: tuple[float, Floats, float],
    projection: Floats,
    moment_s: float,
    mean: Floats,
    cov: Floats,
    drag_per_m: float,
) -> SpotSet | None:
    click_s, click_px, click_sd_px = click
    states, covs, scores = mean[None], cov[None], np.zeros(1)
    chosen = np.full((1, len(times_s)), -1)
    with np.errstate(all="ignore"):
        seen, by_state = seen_from(states, np.array([click_s - moment_s]), projection, drag_per_m)
        states, covs, scores = _updated(
            states, covs, scores, seen[:, 0], by_state[:, 0], click_px[None], np.array([click_sd_px])
        )[:3]
        states, covs = states[:, 0], covs
        scores = scores[:, 0]
        for k in np.argsort(np.abs(times_s - moment_s)):
            seen, by_state = seen_from(states, np.array([times_s[k] - moment_s]), projection, drag_per_m)
            missed = scores + np.log(1 - SEEN_SHARE)
            spots = spots_px[k]
            if not len(spots):
                scores = missed
                continue
            away_px = np.hypot(*(seen[:, 0] - click_px).T)
            moved, tightened, gained = _updated(
                states, covs, scores, seen[:, 0], by_state[:, 0], spots, np.hypot(SPOT_SD_PX, SPOT_SHARE * away_px)
            )
            gained += strengths[k] + np.log(SEEN_SHARE * areas_px2[k] / max(len(spots), 1))
            every = np.concatenate([missed[:, None], gained], axis=1)
            every[~np.isfinite(every)] = -np.inf
            best = np.argsort(-every, axis=None)[:BEAM]
            row, column = np.unravel_index(best, every.shape)
            kept = np.isfinite(every[row, column])
            row, column = row[kept], column[kept]
            if not len(row):
                return None
            hit = column > 0
            states = np.where(hit[:, None], moved[row, np.maximum(column - 1, 0)], states[row])
            covs = np.where(hit[:, None, None], tightened[row], covs[row])
            chosen = chosen[row]
            chosen[:, k] = column - 1
            scores = every[row, column]
    best_row = int(scores.argmax())
    return SpotSet(chosen[best_row], states[best_row, :2].copy(), float(scores[best_row]))


def _updated(
    states: Floats, covs: Floats, scores: Floats, seen: Floats, by_state: Floats, spots: Floats, sd_px: Floats
) -> tuple[Floats, Floats, Floats]:
    """Each of B states (B, 8) drawn to each of N spots: (B, N, 8); covariances (B, 8, 8); log-likelihoods (B, N)."""
    spread = by_state @ covs @ by_state.transpose(0, 2, 1) + (sd_px**2)[:, None, None] * np.eye(2)
    back = np.linalg.inv(spread)
    gain = covs @ by_state.transpose(0, 2, 1) @ back
    apart = spots[None] - seen[:, None]
    squared = np.einsum("bni,bij,bnj->bn", apart, back, apart)
    moved = states[:, None] + np.einsum("bij,bnj->bni", gain, apart)
    tightened = covs - gain @ by_state @ covs
    likely = scores[:, None] - squared / 2 - np.log(np.linalg.det(spread))[:, None] / 2 - np.log(2 * np.pi)
    return moved, tightened, np.where(squared < GATE_SQUARED, likely, -np.inf)
