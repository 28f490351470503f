"""Two painted strips that meet, fitted to the picture: where their true edges cross, below a pixel.

The picture is explained as floor, court and paint: each a constant colour, blurred alike, with straight (or slightly
bent) edges. Levels follow from the edges by least squares, edges by Gauss-Newton steps (variable projection, Kaufman's
approximation), and weights that fall with the residual leave out people, balls and other sports' lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import Floats

STEPS = 14
BLUR_PX = 0.65
BLUR_SD_PX = 0.25
SLOPE_SD = 0.02
BEND_SD_PER_PX = 2e-4
"""A phone's wide lens bends a line by about this much per pixel of its length, squared over two."""
NOISE_FLOOR = 2.0
EDGE_SD_PX = 0.1
"""Edges lie this uncertain whatever the picture's noise: paint, light and compression are not quite as modelled."""
BESIDE_PX = 6.0
SAME_PAINT = 4.0
"""Both strips are of one colour: by this many pixels of paint a strip too thin to show its own takes it over."""
EVIDENCE_PX = 6.0
CORRELATED_PIXELS = 6.0
"""Grain and compression tie neighbouring pixels together: so many count as one observation."""


@dataclass(frozen=True, eq=False)
class Strip:
    """A painted strip as expected around a pixel, seen along ``direction`` (2,) with ``normal`` (2,) into the paint.

    Its true edge passes through the pixel; ``width_px`` grows by ``width_slope`` per pixel of way. ``from_px`` and
    ``to_px`` bound the way on which it can be seen. ``centred``: the true line is the strip's axis, not an edge.
    """

    direction: Floats
    normal: Floats
    width_px: float
    width_slope: float
    bend_per_px: float
    from_px: float
    to_px: float
    centred: bool = False
    width_log_sd: float = 0.08

    def width_at(self, way_px: Floats) -> Floats:
        """The strip's width [px] at ways along it, never less than a tenth of a pixel."""
        return np.maximum(self.width_px + self.width_slope * way_px, 0.1)


@dataclass(frozen=True, eq=False)
class Crossing:
    """Where two fitted true edges cross, its standard deviation, and how clearly each strip shows.

    ``shown`` is the share of each strip's length on which paint explains the picture better than bare floor,
    ``contrast`` the paint's distance in grey from the floor beside it over the picture's own unrest.
    """

    pixel: Floats
    sd_px: float
    shown: tuple[float, float]
    contrast: tuple[float, float]
    misfit: float
    colours: Floats


def fit_crossing(
    picture: NDArray[np.uint8],
    near_px: Floats,
    side: Strip,
    across: Strip,
    corner: bool,
    start: Sequence[float],
    offset_sd_px: float = 1.0,
    slope_sd: float = SLOPE_SD,
) -> Crossing | None:
    """Fit the sideline and the strip that leaves it near a pixel; None where the picture is too small there.

    Parameters
    ----------
    picture : (H, W, 3).
    side, across : as expected at ``near_px``; ``corner`` where both end, else the sideline runs on.
    start : offsets and slopes (a, b) of both from ``near_px`` along their normals, believed to within
        ``offset_sd_px`` and ``slope_sd``.
    """
    pixels, values = _pixels_beside(picture, near_px, side, across, start)
    if len(pixels) < 60:
        return None
    model = _Model(pixels - near_px, side, across, corner)
    state = np.array([*start, 0.0, 0.0, BLUR_PX, side.bend_per_px, across.bend_per_px])
    prior = np.array([*start, 0, 0, BLUR_PX, side.bend_per_px, across.bend_per_px])
    spread = np.array(
        [offset_sd_px, slope_sd, offset_sd_px, slope_sd, side.width_log_sd, across.width_log_sd, BLUR_SD_PX]
        + 2 * [BEND_SD_PER_PX]
    )
    weights = np.ones(len(pixels))
    levels, residual = model.levels(state, values, weights)
    noise = 20.0
    info = np.eye(len(state))
    for step in range(STEPS):
        noise = max(NOISE_FLOOR, 1.4826 * float(np.median(np.linalg.norm(residual, axis=1))) / 1.54)
        scale = noise * (6.0 if step < 3 else 3.0)
        weights = 1.0 / (1.0 + (residual**2).sum(axis=1) / (3 * scale**2)) ** 2
        levels, residual = model.levels(state, values, weights)
        base = model.basis(state)
        jacobian = np.empty((len(pixels), 3, len(state)))
        for k, nudge in enumerate((1e-2, 1e-4, 1e-2, 1e-4, 1e-3, 1e-3, 1e-3, 1e-6, 1e-6)):
            shifted = state.copy()
            shifted[k] += nudge
            jacobian[:, :, k] = ((model.basis(shifted) - base) / nudge) @ levels
        share = weights / (noise**2 * CORRELATED_PIXELS)
        rows = jacobian.reshape(-1, len(state))
        info = (rows * np.repeat(share, 3)[:, None]).T @ rows + np.diag(spread**-2.0)
        push = (rows * np.repeat(share, 3)[:, None]).T @ residual.reshape(-1) + (prior - state) / spread**2
        move = np.linalg.solve(info, push)
        limit = np.array([1.0, 0.03, 1.0, 0.03, 0.1, 0.1, 0.2, 2e-4, 2e-4])
        move *= min(1.0, float((limit / np.maximum(np.abs(move), 1e-12)).min()))
        state = state + move
        state[6] = np.clip(state[6], 0.35, 2.0)
    levels, residual = model.levels(state, values, weights)
    meeting = _meeting(state, side, across)
    if not np.isfinite(meeting).all():
        return None
    by_state = np.column_stack(
        [(_meeting(state + nudge, side, across) - meeting) / 1e-4 for nudge in 1e-4 * np.eye(len(state))[:4]]
    )
    edges = np.linalg.inv(info)[:4, :4] + EDGE_SD_PX**2 * np.diag([1.0, 0, 1.0, 0])
    cov = by_state @ edges @ by_state.T
    shown, contrast = model.evidence(state, values, levels, noise)
    return Crossing(
        near_px + meeting,
        float(np.sqrt(max(np.linalg.eigvalsh(cov)[-1], 0.0))),
        shown,
        contrast,
        float(np.average((residual**2).sum(axis=1), weights=None) ** 0.5),
        levels[-2:],
    )


class _Model:
    """Basis pictures over pixels (N, 2) relative to the crossing expected."""

    def __init__(self, places: Floats, side: Strip, across: Strip, corner: bool) -> None:
        self.side, self.across, self.corner = side, across, corner
        self.way_1, self.off_1 = places @ side.direction, places @ side.normal
        self.way_2, self.off_2 = places @ across.direction, places @ across.normal

    def parts(self, state: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Paint of both strips, inside of the sideline, inside of the strip across; each (N,) from 0 to 1."""
        from scipy.special import ndtr

        a1, b1, a2, b2, log_1, log_2, blur, bend_1, bend_2 = state
        edge_1 = self.off_1 - a1 - b1 * self.way_1 - bend_1 * self.way_1**2 / 2
        edge_2 = self.off_2 - a2 - b2 * self.way_2 - bend_2 * self.way_2**2 / 2
        width_1 = np.exp(log_1) * self.side.width_at(self.way_1)
        width_2 = np.exp(log_2) * self.across.width_at(self.way_2)
        if self.across.centred:
            edge_2 = edge_2 + width_2 / 2
        inside_1, inside_2 = ndtr(edge_1 / blur), ndtr(edge_2 / blur)
        paint_1 = inside_1 - ndtr((edge_1 - width_1) / blur)
        paint_2 = (inside_2 - ndtr((edge_2 - width_2) / blur)) * inside_1
        if self.corner:
            paint_1 = paint_1 * inside_2
        return paint_1, paint_2, inside_1, inside_2

    def floors(self, inside_1: Floats, inside_2: Floats) -> Floats:
        """(N, K - 2): floor outside, court on either side of the strip across, and how all of them grow brighter."""
        beyond = inside_1 * inside_2
        kinds = [1 - beyond, beyond] if self.corner else [1 - inside_1, inside_1 - beyond, beyond]
        return np.column_stack([*kinds, self.off_1 / 10, self.off_2 / 10])

    def basis(self, state: Floats) -> Floats:
        """(N, K): the bare floors, paint of the sideline, paint across."""
        paint_1, paint_2, inside_1, inside_2 = self.parts(state)
        both = paint_1 * paint_2
        bare = 1 - (paint_1 + paint_2 - both)
        return np.column_stack(
            [self.floors(inside_1, inside_2) * bare[:, None], paint_1 - both / 2, paint_2 - both / 2]
        )

    def levels(self, state: Floats, values: Floats, weights: Floats) -> tuple[Floats, Floats]:
        """Colours (K, 3) that explain the values (N, 3) best, and the residuals (N, 3)."""
        basis = self.basis(state)
        weighed = basis * weights[:, None]
        gram = weighed.T @ basis + 1e-3 * np.eye(basis.shape[1])
        gram[-2:, -2:] += SAME_PAINT * np.array([[1, -1], [-1, 1]])
        levels = np.linalg.solve(gram, weighed.T @ values)
        return np.asarray(levels), values - basis @ levels

    def evidence(
        self, state: Floats, values: Floats, levels: Floats, noise: float
    ) -> tuple[tuple[float, float], tuple[float, float]]:
        """Shares of the strips' lengths that show paint, and contrasts of paint over noise."""
        paint_1, paint_2, inside_1, inside_2 = self.parts(state)
        full = ((values - self.basis(state) @ levels) ** 2).sum(axis=1)
        nearest = self.floors(inside_1, inside_2) @ levels[:-2]
        shown, contrast = [], []
        for paint, way, level in ((paint_1, self.way_1, levels[-2]), (paint_2, self.way_2, levels[-1])):
            on = paint > 0.5 * paint.max()
            bare = ((values - nearest) ** 2).sum(axis=1)
            if not on.any():
                return (0.0, 0.0), (0.0, 0.0)
            bins = np.floor((way[on] - way[on].min()) / EVIDENCE_PX).astype(int)
            counts = np.bincount(bins)
            gains = np.bincount(bins, weights=(bare - full)[on])[counts > 0] / counts[counts > 0]
            shown.append(float((gains > 0.5 * noise**2).mean()))
            contrast.append(float(np.linalg.norm(level - nearest[on].mean(axis=0)) * paint.max() / noise))
        return (shown[0], shown[1]), (contrast[0], contrast[1])


def _pixels_beside(
    picture: NDArray[np.uint8], near_px: Floats, side: Strip, across: Strip, start: Sequence[float]
) -> tuple[Floats, Floats]:
    """Pixels (N, 2) of the picture beside either strip, and their colours (N, 3)."""
    reach = max(side.to_px, -side.from_px, across.to_px, -across.from_px) + 4
    height, width = picture.shape[:2]
    left, top = np.maximum(np.floor(near_px - reach), 0).astype(int)
    right, bottom = (np.minimum(np.ceil(near_px + reach), (width - 1, height - 1)) + 1).astype(int)
    if right <= left or bottom <= top:
        return np.zeros((0, 2)), np.zeros((0, 3))
    x, y = np.meshgrid(np.arange(left, right, dtype=float), np.arange(top, bottom, dtype=float))
    places = np.column_stack([x.ravel(), y.ravel()])
    kept = np.zeros(len(places), dtype=bool)
    for strip, (offset, slope) in ((side, start[:2]), (across, start[2:])):
        way, off = (places - near_px) @ strip.direction, (places - near_px) @ strip.normal
        off = off - offset - slope * way
        wide = strip.width_at(way)
        if strip.centred:
            off = off + wide / 2
        kept |= (way > strip.from_px) & (way < strip.to_px) & (off > -BESIDE_PX) & (off < wide + BESIDE_PX)
    colours = picture[top:bottom, left:right].reshape(-1, 3)[kept].astype(float)
    return places[kept], colours


def _meeting(state: Floats, side: Strip, across: Strip) -> Floats:
    """Where both true lines cross, relative to the pixel expected (Newton from the straight crossing)."""
    a1, b1, a2, b2 = state[:4]
    bend_1, bend_2 = state[7:9]
    place = np.zeros(2)
    for _ in range(4):
        way_1, way_2 = place @ side.direction, place @ across.direction
        gaps = np.array(
            [
                place @ side.normal - a1 - b1 * way_1 - bend_1 * way_1**2 / 2,
                place @ across.normal - a2 - b2 * way_2 - bend_2 * way_2**2 / 2,
            ]
        )
        slopes = np.array(
            [
                side.normal - (b1 + bend_1 * way_1) * side.direction,
                across.normal - (b2 + bend_2 * way_2) * across.direction,
            ]
        )
        if abs(np.linalg.det(slopes)) < 0.02:
            return np.full(2, np.nan)
        place = place - np.linalg.solve(slopes, gaps)
    return place
