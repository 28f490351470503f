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

from serve_marker.camera.homography import Floats, third_coordinate
from serve_marker.camera.strips import PROFILE_STEP_PX, REACH_PX, profile_reach_px, profiles_across, response_of
from serve_marker.camera.view import View
from serve_marker.court.dimensions import landmarks, painted_lines

PIECE_PX = 12
MOST_PIECES_A_LINE = 60
TIGHTENED_PX = (6.0, 5.0, 4.0, 3.0, 2.0, 1.4, 1.0, 0.7, 0.6)
SHARPENED_PX = 1.0
"""Rounds this tight and tighter measure each piece below half a pixel."""
MARK_SD_PX = 3.0
BEND_SD = 0.15
CLEAR_RESPONSE = 2.0
FULL_RESPONSE = 8.0
FEWEST_PIECES = 24
AGREES_PX = 1.0
BLUR_PX = 0.6
BESIDE_PX = 4.5
SHARPEN_PX = np.arange(-1.0, 1.01, 0.2)

Project = Callable[[Floats], Floats]


@dataclass(frozen=True, eq=False)
class LineFit:
    """Where floor points (N, 2) [m] lie by the lines, with what standard deviation, and how many pieces agree."""

    project: Project
    sd_px: Callable[[Floats], Floats]
    agreeing: float
    pieces: int


def fit_lines(picture: NDArray[np.uint8], view: View) -> LineFit | None:
    """Pull a view onto the lines of a picture (H, W, 3); None where too few lines show."""
    size = np.array(view.image_size)
    centre, reach = (size - 1) / 2, 0.7 * max(view.image_size)
    marked = [
        (landmarks(view.court)[name][:2], pixel) for name, pixel in view.marks.items() if name in landmarks(view.court)
    ]
    mark_floor = np.array([floor for floor, _ in marked], dtype=float).reshape(-1, 2)
    mark_pixels = np.array([pixel for _, pixel in marked], dtype=float).reshape(-1, 2)
    shrink = np.array([[1 / reach, 0, -centre[0] / reach], [0, 1 / reach, -centre[1] / reach], [0, 0, 1]])
    grow = np.diag([2 / view.court.width_m, 2 / view.court.length_m, 1.0])
    H = shrink @ view.homography @ np.linalg.inv(grow)
    bend = view.lens.k1 * (reach / view.lens.scale_px) ** 2
    state = np.append(H.ravel() / np.linalg.norm(H), bend)

    def seen(state: Floats, floor: Floats) -> Floats:
        points = np.column_stack([floor @ grow[:2, :2], np.ones(len(floor))]) @ state[:9].reshape(3, 3).T
        with np.errstate(all="ignore"):
            flat = np.where(points[:, 2:] > 1e-6, points[:, :2] / points[:, 2:], np.nan)
        return np.asarray(centre + reach * flat * (1 + state[9] * (flat**2).sum(axis=1, keepdims=True)))

    rough = state
    normal = np.eye(10)
    agreeing, count = 0.0, 0
    for scale_px in TIGHTENED_PX:
        floor, normals, gaps, strengths = _measured(picture, view, partial(seen, state), scale_px)
        count = len(gaps)
        if count < FEWEST_PIECES:
            return None
        base = seen(state, floor)
        pull = np.empty((count, 10))
        for k in range(10):
            nudged = state + 1e-6 * (np.arange(10) == k)
            pull[:, k] = ((seen(nudged, floor) - base) / 1e-6 * normals).sum(axis=1)
        weights = strengths / (1 + (gaps / scale_px) ** 2) ** 2
        noise = max(0.15, scale_px / 3)
        normal = (pull * (weights / noise**2)[:, None]).T @ pull
        push = pull.T @ (weights / noise**2 * gaps)
        off = (mark_pixels - seen(state, mark_floor)).ravel()
        by_mark = np.empty((len(off), 10))
        for k in range(10):
            nudged = state + 1e-6 * (np.arange(10) == k)
            by_mark[:, k] = ((seen(nudged, mark_floor) - seen(state, mark_floor)) / 1e-6).ravel()
        known = np.isfinite(off)
        doubt = (1 + (off[known] / (2 * MARK_SD_PX)) ** 2) * MARK_SD_PX**2
        normal += (by_mark[known] / doubt[:, None]).T @ by_mark[known]
        push += by_mark[known].T @ (off[known] / doubt)
        normal[9, 9] += BEND_SD**-2
        push[9] -= (state[9] - bend) / BEND_SD**2
        normal[:9, :9] += 1e6 * np.outer(state[:9], state[:9])
        normal += 1e-9 * np.trace(normal) / 10 * np.eye(10) * 1e-3
        state = state + np.linalg.solve(normal, push)
        state[:9] /= np.linalg.norm(state[:9])
        agreeing = float((np.abs(gaps) < AGREES_PX).mean())
    cov = np.linalg.inv(normal)
    final = state

    def sd_px(floor: Floats) -> Floats:
        by_state = np.stack(
            [(seen(final + 1e-6 * (np.arange(10) == k), floor) - seen(final, floor)) / 1e-6 for k in range(10)], axis=2
        )
        return np.asarray(np.sqrt(np.linalg.eigvalsh(by_state @ cov @ by_state.transpose(0, 2, 1))[:, -1]))

    if not (third_coordinate(final[:9].reshape(3, 3), mark_floor @ grow[:2, :2]) > 0).all() or rough is final:
        return None
    return LineFit(lambda floor: seen(final, np.asarray(floor, dtype=float)), sd_px, agreeing, count)


def _measured(
    picture: NDArray[np.uint8], view: View, project: Project, near_px: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Pieces of the lines: floor points (N, 2), normals (N, 2), how far off the strip lies (N,), how clear it is."""
    found: list[tuple[Floats, Floats, float, float]] = []
    for corners in painted_lines(view.court).values():
        long_way = np.linalg.norm(corners[1] - corners[0]) > np.linalg.norm(corners[3] - corners[0])
        a, b, c, d = corners if long_way else np.roll(corners, 1, axis=0)
        share = np.linspace(0, 1, 1500)[:, None]
        floor = (a + share * (b - a) + d + share * (c - d)) / 2
        edges = project(a + share * (b - a)), project(d + share * (c - d))
        found += _pieces(picture, floor, project(floor), np.hypot(*(edges[0] - edges[1]).T), near_px)
    if not found:
        return np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0), np.zeros(0)
    floors, normals, gaps, strengths = zip(*found, strict=True)
    return np.array(floors), np.array(normals), np.array(gaps), np.array(strengths)


def _pieces(
    picture: NDArray[np.uint8], floor: Floats, middle: Floats, across_px: Floats, near_px: float
) -> list[tuple[Floats, Floats, float, float]]:
    height, width = picture.shape[:2]
    with np.errstate(invalid="ignore"):
        shown = ((middle > 2) & (middle < (width - 3, height - 3))).all(axis=1)
    if shown.sum() < 2:
        return []
    floor, middle, across_px = floor[shown], middle[shown], across_px[shown]
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(middle, axis=0).T))])
    if way[-1] < PIECE_PX + 1:
        return []
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
    for piece in (
        range(count) if count <= MOST_PIECES_A_LINE else np.linspace(0, count - 1, MOST_PIECES_A_LINE).astype(int)
    ):
        best = int(np.clip(favoured[piece].argmax(), 1, len(offsets) - 2))
        before, at, after = clear[piece, best - 1 : best + 2]
        if at < CLEAR_RESPONSE or at < max(before, after):
            continue
        k = piece * PIECE_PX + PIECE_PX // 2
        gap = float(offsets[best])
        if near_px <= SHARPENED_PX:
            gap = sharpened_px(means[piece], across, float(wide[piece]), gap)
        rows.append((floors[k], np.array([-tangent[k, 1], tangent[k, 0]]), gap, float(min(1.0, at / FULL_RESPONSE))))
    return rows


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
