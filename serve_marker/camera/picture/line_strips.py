"""Painted strips in the picture: grey profiles across them, and how well a view's lines lie on painted ones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.picture.feature_matching import Grey, to_full_size
from serve_marker.camera.view.homography import map_points
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats, painted_lines

PROFILE_STEP_PX = 0.5
REACH_PX = 9.0
THINNEST_PX = 1.4
GAP_PX = 0.8
FLANK_PX = 2.5
SEGMENT_STEPS = 24
SUPPORT_PX = 2.0
CLEAR_NOISE = 4.0
FEWEST_SEGMENTS = 6


@dataclass(frozen=True, eq=False)
class Support:
    """Share of the view's painted lines, segment by segment, under which the picture shows a strip."""

    share: float
    segments: int


def line_support(picture: Grey, view: View) -> Support:
    """How much of the court's lines, as a view predicts them, the grey picture (h, w) of any size shows.

    A segment is supported where the strongest strip across +-9 px lies within 2 px of the prediction and stands out
    of the profile's noise.
    """
    shrink = np.asarray(np.linalg.inv(to_full_size(picture.shape, view.image_size)), dtype=float)
    supported = total = 0
    for corners in painted_lines(view.court).values():
        along = np.linspace(0, 1, 2000)[:, None]
        long_way = np.linalg.norm(corners[1] - corners[0]) > np.linalg.norm(corners[3] - corners[0])
        a, b, c, d = corners if long_way else np.roll(corners, 1, axis=0)
        edges = [map_points(shrink, view.project(start + along * (end - start))) for start, end in ((a, b), (d, c))]
        middle, width_px = _stepped((edges[0] + edges[1]) / 2, np.hypot(*(edges[0] - edges[1]).T), picture.shape)
        for first in range(0, len(middle) - SEGMENT_STEPS + 1, SEGMENT_STEPS):
            part = slice(first, first + SEGMENT_STEPS)
            total += 1
            supported += _stands_out(strip_response(picture, middle[part], width_px[part]))
    return Support(supported / total if total >= FEWEST_SEGMENTS else float("nan"), total)


def strip_response(picture: NDArray[np.uint8], middle: Floats, width_px: Floats) -> Floats:
    """How much brighter or darker than both its sides a strip is, (N, D) or (N, D, 3), at D offsets across a line.

    ``middle`` (N, 2) are pixels along the line about 1 px apart, ``width_px`` (N,) the strip's width there. Where one
    side is brighter and the other darker the response is 0: an edge between two floors is no strip.
    """
    profiles, offsets = profiles_across(picture, middle, profile_reach_px(width_px))
    return response_of(profiles, offsets, width_px)


def profile_reach_px(width_px: Floats) -> float:
    """How far [px] profiles must reach for responses at +-9 px."""
    return REACH_PX + float(width_px.max()) + GAP_PX + FLANK_PX + 1


def response_of(profiles: Floats, offsets: Floats, width_px: Floats) -> Floats:
    """As `strip_response`, from profiles (N, P) or (N, P, 3) at P offsets [px] across the line."""
    start = np.zeros_like(profiles[:, :1])
    cumulated = np.concatenate([start, np.cumsum(profiles, axis=1)], axis=1) * PROFILE_STEP_PX
    asked = np.arange(-REACH_PX, REACH_PX + 1e-9, PROFILE_STEP_PX)
    half = np.maximum(width_px, THINNEST_PX)[:, None] / 2
    first = offsets[0] - PROFILE_STEP_PX / 2
    borders = [-half - GAP_PX - FLANK_PX, -half - GAP_PX, -half, half, half + GAP_PX, half + GAP_PX + FLANK_PX]
    sums = [_at(cumulated, (asked + border - first) / PROFILE_STEP_PX) for border in borders]
    width = half * 2 if profiles.ndim == 2 else half[:, :, None] * 2
    inner = (sums[3] - sums[2]) / width
    left = inner - (sums[1] - sums[0]) / FLANK_PX
    right = inner - (sums[5] - sums[4]) / FLANK_PX
    weaker = np.where(np.abs(left) < np.abs(right), left, right)
    return np.asarray(np.where(left * right > 0, weaker, 0.0))


def profiles_across(picture: NDArray[np.uint8], middle: Floats, reach_px: float) -> tuple[Floats, Floats]:
    """Values (N, P) or (N, P, 3) across a line through pixels (N, 2), and the P offsets [px] along its normal."""
    import cv2

    direction = np.gradient(middle, axis=0)
    direction /= np.maximum(np.hypot(*direction.T), 1e-9)[:, None]
    normal = np.column_stack([-direction[:, 1], direction[:, 0]])
    offsets = np.arange(-np.ceil(reach_px), np.ceil(reach_px) + 1e-9, PROFILE_STEP_PX)
    places = (middle[:, None] + offsets[None, :, None] * normal[:, None]).astype(np.float32)
    values = cv2.remap(picture, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(values, dtype=float), offsets


def _at(cumulated: Floats, index: Floats) -> Floats:
    low = np.clip(np.floor(index).astype(int), 0, cumulated.shape[1] - 2)
    rows = np.arange(len(cumulated))[:, None]
    share = np.clip(index - low, 0.0, 1.0)
    if cumulated.ndim == 3:
        share = share[:, :, None]
    return np.asarray(cumulated[rows, low] * (1 - share) + cumulated[rows, low + 1] * share)


def _stepped(middle: Floats, width_px: Floats, shape: tuple[int, ...]) -> tuple[Floats, Floats]:
    """The visible part of a line resampled at one pixel per step."""
    margin = REACH_PX + 2
    with np.errstate(invalid="ignore"):
        seen = np.asarray(((middle > margin) & (middle < np.array(shape[1::-1]) - 1 - margin)).all(axis=1))
    middle, width_px = middle[seen], width_px[seen]
    if len(middle) < 2:
        return np.zeros((0, 2)), np.zeros(0)
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(middle, axis=0).T))])
    steps = np.arange(0.0, way[-1], 1.0)
    places = np.column_stack([np.interp(steps, way, middle[:, 0]), np.interp(steps, way, middle[:, 1])])
    return places, np.interp(steps, way, width_px)


def _stands_out(response: Floats) -> bool:
    offsets = np.arange(response.shape[1]) * PROFILE_STEP_PX - REACH_PX
    mean = response.mean(axis=0)
    near = np.abs(offsets) <= SUPPORT_PX
    noise = np.median(np.abs(response[:, ~near])) / np.sqrt(len(response)) + 0.25
    best = np.abs(mean[near]).max()
    return bool(best >= np.abs(mean).max() and best > CLEAR_NOISE * noise)
