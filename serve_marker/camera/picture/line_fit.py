"""An approximate view pulled onto the painted lines of one picture, all lines at once.

Where a strip of the right width lies across a predicted line is measured every few pixels; homography and one bend of
the lens follow by least squares whose weights fall with the distance, tighter from round to round, so that other
sports' lines and people drop out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.picture.line_strips import (
    PROFILE_STEP_PX,
    REACH_PX,
    profile_reach_px,
    profiles_across,
    response_of,
)
from serve_marker.camera.view.homography import solve_homography
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats, landmarks, painted_lines

PIECE_PX = 12
MOST_PIECES_A_LINE = 60
TIGHTENED_PX = (6.0, 5.0, 4.0, 3.0, 2.0, 1.4, 1.0, 0.7, 0.6)
SHARPENED_PX = 1.0
"""Rounds this tight and tighter measure each piece below half a pixel."""
MARK_SD_PX = 3.0
USUAL_BEND = -0.05
BEND_SD = 0.1
"""Bend 0.7 of the longer side from the centre, of phones and action cameras (common practice, no source)."""
NUDGE = 1e-6
HELD_SCALE = 1e6
LEAST_NOISE_PX = 0.15
CLEAR_RESPONSE = 2.0
FULL_RESPONSE = 8.0
FEWEST_PIECES = 24
AGREES_PX = 1.0
CLEARLY_AGREEING = 0.75
BLUR_PX = 0.6
BESIDE_PX = 4.5
SHARPEN_PX = np.arange(-1.0, 1.01, 0.2)

Project = Callable[[Floats], Floats]


@dataclass(frozen=True, eq=False)
class LineFit:
    """Where floor points (N, 2) [m] lie by the lines, with what standard deviation.

    ``agreeing`` is the share of the court's visible lines on which clear paint lies within a pixel.
    """

    project: Project
    sd_px: Callable[[Floats], Floats]
    agreeing: float
    pieces: int


def fit_lines(picture: NDArray[np.uint8], view: View) -> LineFit | None:
    """Pull a view onto the lines of a picture (H, W, 3); None where too few lines show.

    Where the view's lines then meet too little paint, the marks alone without any bend are a second start.
    """
    plane = _Plane(view)
    best = plane.pulled(picture, plane.state_of(view.homography, plane.bend))
    if (best is None or best.agreeing < CLEARLY_AGREEING) and len(plane.mark_floor) >= 4:
        other = plane.pulled(picture, plane.state_of(solve_homography(plane.mark_floor, plane.mark_pixels), 0.0))
        best = max((fit for fit in (best, other) if fit is not None), key=lambda fit: fit.agreeing, default=None)
    return best


class _Plane:
    """The floor before a lens that bends: homography and bend as one state (10,), in units near 1."""

    def __init__(self, view: View) -> None:
        self.view = view
        places = landmarks(view.court)
        named = [name for name in view.marks if name in places]
        self.mark_floor = np.array([places[name][:2] for name in named], dtype=float).reshape(-1, 2)
        self.mark_pixels = np.array([view.marks[name] for name in named], dtype=float).reshape(-1, 2)
        self.centre = (np.array(view.image_size) - 1) / 2
        self.reach = 0.7 * max(view.image_size)
        self.bend = view.lens.k1 * (self.reach / view.lens.scale_px) ** 2
        self.units = np.array([view.court.width_m / 2, view.court.length_m / 2])

    def state_of(self, homography: Floats, bend: float) -> Floats:
        x, y = self.centre / self.reach
        shrink = np.array([[1 / self.reach, 0, -x], [0, 1 / self.reach, -y], [0, 0, 1]])
        H = shrink @ homography @ np.diag([*self.units, 1.0])
        return np.append(H.ravel() / np.linalg.norm(H), bend)

    def seen(self, state: Floats, floor_m: Floats) -> Floats:
        """Pixels (N, 2) of floor points (N, 2); NaN behind the camera."""
        points = np.column_stack([floor_m / self.units, np.ones(len(floor_m))]) @ state[:9].reshape(3, 3).T
        with np.errstate(all="ignore"):
            flat = np.where(points[:, 2:] > 1e-6, points[:, :2] / points[:, 2:], np.nan)
        return np.asarray(self.centre + self.reach * flat * (1 + state[9] * (flat**2).sum(axis=1, keepdims=True)))

    def by_state(self, state: Floats, floor_m: Floats) -> Floats:
        """Derivative (N, 2, 10) of `seen` by the state."""
        base = self.seen(state, floor_m)
        return np.stack([(self.seen(state + step, floor_m) - base) / NUDGE for step in NUDGE * np.eye(10)], axis=2)

    def pulled(self, picture: NDArray[np.uint8], state: Floats) -> LineFit | None:
        """The state pulled onto the picture's lines, round by round tighter."""
        for scale_px in TIGHTENED_PX:
            pieces = _measured(picture, self.view, partial(self.seen, state), scale_px)
            if len(pieces.gaps_px) < FEWEST_PIECES:
                return None
            normal, push = self._equations(state, pieces, scale_px)
            state = state + np.linalg.solve(normal, push)
            state[:9] /= np.linalg.norm(state[:9])
        if not np.isfinite(self.seen(state, self.mark_floor)).all():
            return None
        cov = np.linalg.inv(normal)

        def sd_px(floor_m: Floats) -> Floats:
            by_state = self.by_state(state, floor_m)
            return np.asarray(np.sqrt(np.linalg.eigvalsh(by_state @ cov @ by_state.transpose(0, 2, 1))[:, -1]))

        close = pieces.strengths[np.abs(pieces.gaps_px) < AGREES_PX].sum()
        return LineFit(partial(self.seen, state), sd_px, float(close / pieces.looked_at), len(pieces.gaps_px))

    def _equations(self, state: Floats, pieces: _Pieces, scale_px: float) -> tuple[Floats, Floats]:
        """Normal equations (10, 10) and (10,) of the step: pieces of lines, marks, and what is known of lenses."""
        pull = np.einsum("nij,ni->nj", self.by_state(state, pieces.floor_m), pieces.normals)
        noise_px = max(LEAST_NOISE_PX, scale_px / 3)
        weights = pieces.strengths / (1 + (pieces.gaps_px / scale_px) ** 2) ** 2 / noise_px**2
        normal = (pull * weights[:, None]).T @ pull
        push = pull.T @ (weights * pieces.gaps_px)
        off = (self.mark_pixels - self.seen(state, self.mark_floor)).ravel()
        by_mark = self.by_state(state, self.mark_floor).reshape(-1, 10)[np.isfinite(off)]
        off = off[np.isfinite(off)]
        doubt = (1 + (off / (2 * MARK_SD_PX)) ** 2) * MARK_SD_PX**2
        normal += (by_mark / doubt[:, None]).T @ by_mark
        push += by_mark.T @ (off / doubt)
        normal[9, 9] += BEND_SD**-2
        push[9] -= (state[9] - USUAL_BEND) / BEND_SD**2
        normal[:9, :9] += HELD_SCALE * np.outer(state[:9], state[:9])
        return normal, push


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Pieces of lines: floor points (N, 2), normals (N, 2), how far off the strip lies (N,), how clear it is (N,)."""

    floor_m: Floats
    normals: Floats
    gaps_px: Floats
    strengths: Floats
    looked_at: int


def _measured(picture: NDArray[np.uint8], view: View, project: Project, near_px: float) -> _Pieces:
    found: list[tuple[Floats, Floats, float, float]] = []
    looked_at = 0
    for corners in painted_lines(view.court).values():
        long_way = np.linalg.norm(corners[1] - corners[0]) > np.linalg.norm(corners[3] - corners[0])
        a, b, c, d = corners if long_way else np.roll(corners, 1, axis=0)
        share = np.linspace(0, 1, 1500)[:, None]
        floor = (a + share * (b - a) + d + share * (c - d)) / 2
        edges = project(a + share * (b - a)), project(d + share * (c - d))
        more, of = _pieces(picture, floor, project(floor), np.hypot(*(edges[0] - edges[1]).T), near_px)
        found += more
        looked_at += of
    floors, normals, gaps, strengths = zip(*found, strict=True) if found else ((), (), (), ())
    points = np.array(floors).reshape(-1, 2), np.array(normals).reshape(-1, 2)
    return _Pieces(*points, np.array(gaps), np.array(strengths), looked_at)


def _pieces(
    picture: NDArray[np.uint8], floor: Floats, middle: Floats, across_px: Floats, near_px: float
) -> tuple[list[tuple[Floats, Floats, float, float]], int]:
    height, width = picture.shape[:2]
    with np.errstate(invalid="ignore"):
        shown = ((middle > 2) & (middle < (width - 3, height - 3))).all(axis=1)
    if shown.sum() < 2:
        return [], 0
    floor, middle, across_px = floor[shown], middle[shown], across_px[shown]
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(middle, axis=0).T))])
    if way[-1] < PIECE_PX + 1:
        return [], 0
    steps = np.arange(0.0, way[-1], 1.0)
    places = np.column_stack([np.interp(steps, way, middle[:, k]) for k in (0, 1)])
    floors = np.column_stack([np.interp(steps, way, floor[:, k]) for k in (0, 1)])
    tangent = np.gradient(places, axis=0)
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    wide = np.interp(steps, way, across_px)
    profiles, across = profiles_across(picture, places, profile_reach_px(wide))
    count = len(steps) // PIECE_PX
    means = profiles[: count * PIECE_PX].reshape(count, PIECE_PX, *profiles.shape[1:]).mean(axis=1)
    wide = wide[: count * PIECE_PX].reshape(count, PIECE_PX).mean(axis=1)
    clear = np.linalg.norm(response_of(means, across, wide), axis=2)
    offsets = np.arange(clear.shape[1]) * PROFILE_STEP_PX - REACH_PX
    favoured = clear / (1 + (offsets / (1.5 * near_px)) ** 2)
    rows = []
    chosen = np.unique(np.linspace(0, count - 1, min(count, MOST_PIECES_A_LINE)).astype(int))
    for piece in chosen:
        best = int(np.clip(favoured[piece].argmax(), 1, len(offsets) - 2))
        before, at, after = clear[piece, best - 1 : best + 2]
        if at < CLEAR_RESPONSE or at < max(before, after):
            continue
        k = piece * PIECE_PX + PIECE_PX // 2
        gap = float(offsets[best])
        if near_px <= SHARPENED_PX:
            gap = sharpened_px(means[piece], across, float(wide[piece]), gap)
        rows.append((floors[k], np.array([-tangent[k, 1], tangent[k, 0]]), gap, float(min(1.0, at / FULL_RESPONSE))))
    return rows, len(chosen)


def sharpened_px(profile: Floats, offsets: Floats, width_px: float, near_px: float) -> float:
    """Where across a line a strip's middle lies, from a profile (P, 3): two floors and paint, blurred, fit best.

    The two floors may differ, which is why the strongest response alone would lean to the darker side.

    Examples
    --------
    >>> from scipy.special import ndtr
    >>> places = np.arange(-12, 12.5, 0.5)
    >>> into, out_of = ndtr((places - 0.3) / BLUR_PX), ndtr((places - 2.3) / BLUR_PX)
    >>> bright = 90 * (1 - into) + 200 * (into - out_of) + 140 * out_of
    >>> round(sharpened_px(np.repeat(bright[:, None], 3, axis=1), places, 2.0, 1.0), 2)
    1.3
    """
    from scipy.special import ndtr

    tried = near_px + SHARPEN_PX
    window = np.abs(offsets - near_px) < width_px / 2 + BESIDE_PX
    places, values = offsets[window], profile[window]
    relative = (places[None, :] - tried[:, None]) / BLUR_PX
    half = width_px / 2 / BLUR_PX
    right, inside = ndtr(relative - half), ndtr(relative + half)
    basis = np.stack([1 - inside, inside - right, right, (1 - inside + right) * relative], axis=2)
    gram = basis.transpose(0, 2, 1) @ basis + 1e-6 * np.eye(4)
    by_basis = basis.transpose(0, 2, 1) @ values
    explained = (by_basis * np.linalg.solve(gram, by_basis)).sum(axis=(1, 2))
    best = int(np.clip(explained.argmax(), 1, len(tried) - 2))
    before, at, after = explained[best - 1 : best + 2]
    curve = before - 2 * at + after
    step = SHARPEN_PX[1] - SHARPEN_PX[0]
    return float(tried[best] + (np.clip(step * (before - after) / (2 * curve), -step, step) if curve < 0 else 0.0))
