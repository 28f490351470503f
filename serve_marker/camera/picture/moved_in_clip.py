"""From where sampled frames of a clip lie on its first ones to stretches in which the camera stood still."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from serve_marker.camera.picture.realign import ALIGN_SIDE_PX
from serve_marker.court.dimensions import Floats

MOVED_IN_CLIP_PX = 1.5
"""The floor's features may seem to move this much in a still picture, at `ALIGN_SIDE_PX`."""
RESTLESS_SHARE = 0.25
FEWEST_RESTLESS = 3


@dataclass(frozen=True, eq=False)
class Sighting:
    """One sampled frame: when, and the way (N, 2) [px] that N points of its picture have moved; None where hidden."""

    time_s: float
    way_px: Floats | None


@dataclass(frozen=True)
class Stay:
    """A stretch without movement by the numbers of its first and last look, and of all that agree with it."""

    looks: tuple[int, ...]


@dataclass(frozen=True)
class Steadiness:
    """The stretches in order, how many looks settled nowhere, and whether the camera never came to rest."""

    stays: tuple[Stay, ...]
    restless: int
    never_still: bool


def still_limit_px(image_size: tuple[int, int]) -> float:
    """Return how far [px] a picture of that size must have shifted for the camera to have moved.

    Examples
    --------
    >>> still_limit_px((1920, 1080))
    2.25
    """
    return MOVED_IN_CLIP_PX * max(image_size) / ALIGN_SIDE_PX


def steadiness_of(looks: Sequence[Sighting], limit_px: float) -> Steadiness:
    """Split looks into stays: a new one begins where two looks in a row agree on a new place.

    A single look that fits neither the stay nor its follower is left out (a ball before the lens, a bad match).

    Examples
    --------
    >>> ways = [0, 0, 0, 20, 20, 20]
    >>> found = steadiness_of([Sighting(k, np.full((4, 2), float(way))) for k, way in enumerate(ways)], 1.5)
    >>> [stay.looks for stay in found.stays], found.never_still
    ([(0, 1, 2), (3, 4, 5)], False)
    """
    known = [k for k, look in enumerate(looks) if look.way_px is not None]
    stays: list[list[int]] = [known[:1]] if known else []
    restless = 0
    for at, k in enumerate(known[1:], start=1):
        if apart_px(place_of(looks, stays[-1]), looks[k].way_px) < limit_px:
            stays[-1].append(k)
        elif at + 1 == len(known) or apart_px(looks[known[at + 1]].way_px, looks[k].way_px) < limit_px:
            stays.append([k])
        elif apart_px(place_of(looks, stays[-1]), looks[known[at + 1]].way_px) >= limit_px:
            restless += 1
    lonely_end = len(stays) > 1 and len(stays[-1]) == 1
    if lonely_end and restless:
        stays.pop()
        restless += 1
    many = max(FEWEST_RESTLESS, RESTLESS_SHARE * len(known))
    brief = sum(len(stay) <= 2 for stay in stays[1:])
    return Steadiness(tuple(Stay(tuple(stay)) for stay in stays), restless, restless + brief >= many)


def place_of(looks: Sequence[Sighting], numbers: Sequence[int]) -> Floats:
    """The median way (N, 2) [px] of some looks."""
    return np.asarray(np.median([looks[k].way_px for k in numbers if looks[k].way_px is not None], axis=0))


def apart_px(first: Floats | None, second: Floats | None) -> float:
    """Median distance [px] between two ways (N, 2); infinite where one is unknown."""
    if first is None or second is None:
        return float("inf")
    return float(np.median(np.hypot(*(first - second).T)))
