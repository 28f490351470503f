"""Strips looked for around a click, and the clearest crossing of two of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.picture.crossing import Crossing, Strip, fit_crossing
from serve_marker.camera.picture.line_strips import PROFILE_STEP_PX, REACH_PX, strip_response
from serve_marker.court.dimensions import Floats

ARM_PX = 90.0
SEARCH_ARM_PX = 70.0
SHORTEST_ARM_PX = 10.0
SEARCH_SLOPES = np.linspace(-0.12, 0.12, 25)
MOST_PEAKS = 4
MOST_TRIED = 5
RESPONSE_CAP = 30.0
LEAST_CONTRAST = 2.0
LEAST_SHOWN = 0.45
MOST_SD_PX = 1.0
SAME_PLACE_PX = 1.5
RIVAL_SHARE = 0.85


def best_crossing(
    picture: NDArray[np.uint8], click: Floats, side: Strip, across: Strip, corner: bool, reach_px: float
) -> tuple[Crossing, float] | None:
    """The clearest crossing of two strips within reach of a click, and its confidence; None where two rival."""
    if side.to_px - side.from_px < SHORTEST_ARM_PX or across.to_px < SHORTEST_ARM_PX:
        return None
    starts = []
    for offset_1, slope_1, score_1 in peaks(picture, click, side):
        for offset_2, slope_2, score_2 in peaks(picture, click, across):
            place = straight_meeting((offset_1, slope_1), (offset_2, slope_2), side, across)
            away = float(np.hypot(*place))
            if away <= reach_px + 1:
                starts.append(
                    (min(score_1, score_2) * (1 - 0.3 * (away / reach_px) ** 2), (offset_1, slope_1, offset_2, slope_2))
                )
    starts.sort(reverse=True)
    rated: list[tuple[float, Crossing]] = []
    for _, start in starts[:MOST_TRIED]:
        crossing = fit_crossing(picture, click, side, across, corner, start)
        if crossing is None or np.hypot(*(crossing.pixel - click)) > reach_px:
            continue
        rated.append((rating(crossing, click, reach_px), crossing))
    return clearest(rated)


def clearest(rated: Sequence[tuple[float, Crossing]]) -> tuple[Crossing, float] | None:
    """The crossing rated best, and its rating; None where none counts or one elsewhere rivals it."""
    in_order = sorted(rated, key=lambda pair: -pair[0])
    if not in_order or in_order[0][0] <= 0:
        return None
    best, crossing = in_order[0]
    rivals = [value for value, other in in_order[1:] if np.hypot(*(other.pixel - crossing.pixel)) > SAME_PLACE_PX]
    return None if rivals and rivals[0] > RIVAL_SHARE * best else (crossing, best)


def rating(crossing: Crossing, click: Floats, reach_px: float) -> float:
    """From 0 (no crossing) to 1: both strips clear over their length, sure to a fraction of a pixel, near the click."""
    contrast, shown = min(crossing.contrast), min(crossing.shown)
    if contrast < LEAST_CONTRAST or shown < LEAST_SHOWN or crossing.sd_px > MOST_SD_PX:
        return 0.0
    clear = contrast / (contrast + 2 * LEAST_CONTRAST)
    near = 1 - 0.3 * (np.hypot(*(crossing.pixel - click)) / reach_px) ** 2
    return float(clear * shown * near / (1 + (crossing.sd_px / MOST_SD_PX) ** 2))


def clipped(strip: Strip, click: Floats, shape: tuple[int, ...]) -> Strip:
    """The strip as far as the picture (H, W) shows it around a click."""
    ways = np.arange(-ARM_PX, ARM_PX + 1)
    places = click + ways[:, None] * strip.direction
    shown = ((places >= 0) & (places <= np.array(shape[1::-1]) - 1)).all(axis=1)
    seen = ways[shown] if shown.any() else np.zeros(1)
    return replace(strip, from_px=max(strip.from_px, float(seen.min())), to_px=min(strip.to_px, float(seen.max())))


def peaks(picture: NDArray[np.uint8], click: Floats, strip: Strip) -> list[tuple[float, float, float]]:
    """Offsets and slopes of the true line at which the picture shows a strip of this width, best first."""
    low = max(strip.from_px, -SEARCH_ARM_PX) if strip.from_px < -6 else 2.0
    ways = np.arange(low, min(strip.to_px, SEARCH_ARM_PX))
    if len(ways) < SHORTEST_ARM_PX:
        return []
    width = strip.width_at(ways)
    to_middle = 0 * width if strip.centred else width / 2
    bent = strip.bend_per_px * ways**2 / 2 + to_middle
    middle = click + ways[:, None] * strip.direction + bent[:, None] * strip.normal
    response = np.stack([strip_response(picture[..., k], middle, width) for k in range(3)], axis=2)
    tangent = np.gradient(middle, axis=0)
    sense = np.sign(np.median(np.column_stack([-tangent[:, 1], tangent[:, 0]]) @ strip.normal))
    strength = np.linalg.norm(response, axis=2, keepdims=True)
    response = response / np.maximum(1.0, strength / RESPONSE_CAP)
    if sense < 0:
        response = response[:, ::-1]
    offsets = np.arange(response.shape[1]) * PROFILE_STEP_PX - REACH_PX
    scores = np.empty((len(SEARCH_SLOPES), len(offsets)))
    rows = np.arange(len(ways))
    for i, slope in enumerate(SEARCH_SLOPES):
        index = (np.arange(len(offsets)) + (slope * ways / PROFILE_STEP_PX)[:, None]).round().astype(int)
        inside = (index >= 0) & (index < len(offsets))
        taken = response[rows[:, None], np.clip(index, 0, len(offsets) - 1)] * inside[..., None]
        scores[i] = np.linalg.norm(taken.mean(axis=0), axis=1)
    found: list[tuple[float, float, float]] = []
    for _ in range(MOST_PEAKS):
        i, j = divmod(int(scores.argmax()), scores.shape[1])
        if scores[i, j] <= 0.5 or (found and scores[i, j] < 0.2 * found[0][2]):
            break
        found.append((float(offsets[j]), float(SEARCH_SLOPES[i]), float(scores[i, j])))
        scores[:, np.abs(offsets - offsets[j]) < 1.6] = 0
    return found


def straight_meeting(first: tuple[float, float], second: tuple[float, float], side: Strip, across: Strip) -> Floats:
    """Where two lines of offset and slope cross, (2,) from the pixel expected; infinite where they run alongside."""
    slopes = np.array(
        [strip.normal - slope * strip.direction for strip, (_, slope) in ((side, first), (across, second))]
    )
    if abs(np.linalg.det(slopes)) < 0.02:
        return np.full(2, np.inf)
    return np.asarray(np.linalg.solve(slopes, [first[0], second[0]]))
