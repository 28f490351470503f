"""Without a view: strips that leave the surroundings of a click like rays, and how a landmark is made of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.picture.crossing import Crossing, Strip, fit_crossing
from serve_marker.camera.picture.crossing_search import (
    clearest,
    clipped,
    peaks,
    rating,
    straight_meeting,
)
from serve_marker.court.dimensions import Floats

ANGLES_DEG = np.arange(0, 360, 10)
WIDTHS_PX = (1.2, 3.0, 6.0)
RAY_PX = 45.0
MOST_RAYS = 7
SAME_RAY_DEG = 8.0
OPPOSITE_DEG = 8.0
LEAST_MEETING_DEG = 18.0
MOST_SD_PX = 0.5
STEEPEST_ACROSS_DEG = 60.0
MOST_HYPOTHESES = 6
UNSEEN_WIDTH_LOG_SD = 0.4
OFFSET_SD_PX = 1.0
SLOPE_SD = 0.03
CONFIDENCE = 0.8
"""A crossing found without a view is believed less."""


@dataclass(frozen=True, eq=False)
class _Ray:
    direction: Floats
    through_px: Floats
    width_px: float
    strength: float


def crossing_in_the_open(
    picture: NDArray[np.uint8], click: Floats, landmark: str, reach_px: float
) -> tuple[Crossing, float] | None:
    """The crossing of two strips near a click that makes a landmark, and its confidence; None where none is clear.

    An end corner is two strips that both end, its outer edges on their hollow side; elsewhere the sideline runs on
    and the line across leaves it inwards. The attack line's paint lies towards the net, which for end a is up.
    """
    line = landmark.split("/")[0]
    if line.startswith(("net", "antenna")):
        return None
    rays = _rays(picture, click)
    pairs = _corners(rays) if line.startswith("end") else _branchings(rays, line)
    hypotheses = sorted(pairs, key=lambda pair: -pair[0])[:MOST_HYPOTHESES]
    rated: list[tuple[float, Crossing]] = []
    for _, side, across, near in hypotheses:
        if np.hypot(*(near - click)) > reach_px + 2:
            continue
        first, second = (clipped(strip, near, picture.shape) for strip in (side, across))
        crossing = fit_crossing(
            picture, near, first, second, line.startswith("end"), (0, 0, 0, 0), OFFSET_SD_PX, SLOPE_SD
        )
        if crossing is not None and crossing.sd_px <= MOST_SD_PX and np.hypot(*(crossing.pixel - click)) <= reach_px:
            rated.append((rating(crossing, click, reach_px), crossing))
    found = clearest(rated)
    return None if found is None else (found[0], CONFIDENCE * found[1])


def _rays(picture: NDArray[np.uint8], click: Floats) -> list[_Ray]:
    found: list[_Ray] = []
    for angle in np.radians(ANGLES_DEG):
        direction = np.array([np.cos(angle), np.sin(angle)])
        normal = np.array([-direction[1], direction[0]])
        for width_px in WIDTHS_PX:
            strip = clipped(
                Strip(direction, normal, width_px, 0.0, 0.0, 0.0, RAY_PX, centred=True), click, picture.shape
            )
            for offset, slope, strength in peaks(picture, click, strip):
                turned = direction + slope * normal
                found.append(_Ray(turned / np.hypot(*turned), click + offset * normal, width_px, strength))
    found.sort(key=lambda ray: -ray.strength)
    kept: list[_Ray] = []
    for ray in found:
        if all(_between_deg(ray, other) > SAME_RAY_DEG or _gap_px(ray, other) > 3.0 for other in kept):
            kept.append(ray)
        if len(kept) == MOST_RAYS:
            break
    return kept


def _corners(rays: list[_Ray]) -> Iterator[tuple[float, Strip, Strip, Floats]]:
    for first, second in combinations(rays, 2):
        if not LEAST_MEETING_DEG < _between_deg(first, second) < 180 - LEAST_MEETING_DEG:
            continue
        middle = _meeting(first, second)
        strips = [
            _strip(one, _toward(one.direction, other.direction), -6.0, False)
            for one, other in ((first, second), (second, first))
        ]
        near = _outer_meeting(middle, strips[0], strips[1])
        yield min(first.strength, second.strength), strips[0], strips[1], near


def _branchings(rays: list[_Ray], line: str) -> Iterator[tuple[float, Strip, Strip, Floats]]:
    for up, down in combinations(rays, 2):
        if _between_deg(up, down) < 180 - OPPOSITE_DEG or _gap_px(up, down) > 2.0:
            continue
        for stem in rays:
            leaves_deg = _between_deg(stem, up)
            flat_deg = np.degrees(np.arcsin(min(1.0, abs(stem.direction[1]))))
            if not LEAST_MEETING_DEG < leaves_deg < 180 - LEAST_MEETING_DEG or flat_deg > STEEPEST_ACROSS_DEG:
                continue
            side = _strip(up, _toward(up.direction, stem.direction), -RAY_PX, False)
            paint_side = np.array([0.0, 1.0 if line == "attack-b" else -1.0])
            across = _strip(stem, _toward(stem.direction, paint_side), 0.0, line == "centre")
            near = _outer_meeting(_meeting(up, stem), side, across)
            yield min(up.strength, down.strength, stem.strength), side, across, near


def _strip(ray: _Ray, normal: Floats, from_px: float, centred: bool) -> Strip:
    return Strip(ray.direction, normal, ray.width_px, 0.0, 0.0, from_px, 2 * RAY_PX, centred, UNSEEN_WIDTH_LOG_SD)


def _outer_meeting(middle: Floats, side: Strip, across: Strip) -> Floats:
    """From where the strips' middles cross to where their true lines do."""
    offsets = [0.0 if strip.centred else -strip.width_px / 2 for strip in (side, across)]
    return middle + straight_meeting((offsets[0], 0.0), (offsets[1], 0.0), side, across)


def _toward(direction: Floats, side: Floats) -> Floats:
    normal = np.array([-direction[1], direction[0]])
    return normal if normal @ side > 0 else -normal


def _meeting(first: _Ray, second: _Ray) -> Floats:
    normals = np.array([(-ray.direction[1], ray.direction[0]) for ray in (first, second)])
    return np.asarray(
        np.linalg.solve(normals, [n @ r.through_px for n, r in zip(normals, (first, second), strict=True)])
    )


def _between_deg(first: _Ray, second: _Ray) -> float:
    return float(np.degrees(np.arccos(np.clip(first.direction @ second.direction, -1.0, 1.0))))


def _gap_px(first: _Ray, second: _Ray) -> float:
    normal = np.array([-first.direction[1], first.direction[0]])
    return float(abs(normal @ (second.through_px - first.through_px)))
