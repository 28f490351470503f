"""How sure a found serve is, from what speaks against it, each with its reason in words.

The log odds that it is a serve, and ended as told, fall by a weight for each doubt (logistic regression; Hastie,
Tibshirani, Friedman, The Elements of Statistical Learning, 2nd ed., 4.4). The weights were fitted to proposals on
rendered practices and hold on others (`tests/benchmarks/spotting_confidence.py`, docs/measurement.md).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.spotting.candidates import ball_radii_px
from serve_marker.spotting.ends import ServeEnds
from serve_marker.spotting.serves import FoundServe

AT_BEST, LEAST = 3.75, 0.3
"""The log odds of a serve that nothing speaks against; what is less sure than the least is not proposed."""
NO_TOSS, NO_REBOUND, NO_WAY_ON, NEAR_BORDER, OTHER_WAY = 1.2, 0.1, 2.1, 0.6, 4.7
POOR_FIT, UNUSUAL, HIDDEN, AMBIGUOUS = 2.7, 3.1, 1.3, 3.3
"""What a doubt takes from the log odds at most: fitted to 180 proposals of fourteen drawn practices, but for the other
way (own choice)."""
BORDER_RADII = 3.0
COST_PER_LOOK, STRAIN, SEEN_SHARE, RIVAL_COST = (0.8, 1.5), (4.0, 12.0), (0.85, 0.5), (3.0, 0.0)
"""Up to the first value nothing is doubted, from the second on all, evenly between."""


@dataclass(frozen=True)
class Doubt:
    """Something that speaks against a proposal, and by how much it lowers the log odds that it is right."""

    why: str
    weight: float


REBOUND_UNSEEN = "no rebound is seen"
"""It is a serve none the less, but its landing may lie a metre beside the place told."""
THE_OTHER_WAY = Doubt("it flew the other way from most serves", OTHER_WAY)


def confidence_of(doubts: Sequence[Doubt]) -> float:
    """Return how likely a proposal is a serve and ended as told.

    Examples
    --------
    >>> confidence_of([]), confidence_of([Doubt("an end lies at the picture's border", 2.0)])
    (0.98, 0.85)
    """
    return round(1 / (1 + math.exp(sum(doubt.weight for doubt in doubts) - AT_BEST)), 2)


def flight_doubts(found: FoundServe, times_s: Floats) -> tuple[Doubt, ...]:
    """Return what speaks against the flight of a found serve, ``times_s`` being those of all looks around it."""
    fit = found.fit
    possible = int(((times_s >= fit.contact_s) & (times_s <= fit.end_s)).sum())
    told = (
        Doubt("the flight does not fit well", POOR_FIT * _share(fit.cost / fit.seen, COST_PER_LOOK)),
        Doubt("it is hit at an unusual place or speed", UNUSUAL * _share(fit.strain, STRAIN)),
        Doubt("the ball is hidden on much of its way", HIDDEN * _share(fit.seen / max(possible, 1), SEEN_SHARE)),
    )
    return tuple(doubt for doubt in told if doubt.weight > 0.0)


def end_doubts(found: FoundServe, ends: ServeEnds, view: View) -> tuple[Doubt, ...]:
    """Return what speaks against the ends of a found serve."""
    fit = ends.fit
    told = [
        Doubt("the toss is not seen", 0.0 if ends.toss_seen else NO_TOSS),
        Doubt("an end lies at the picture's border", NEAR_BORDER if _at_border(ends, view) else 0.0),
    ]
    ambiguous = Doubt("it may have ended in another way", AMBIGUOUS * _share(found.rival_cost, RIVAL_COST))
    if fit.outcome == "floor" and not ends.rebound_seen:
        told += [Doubt(REBOUND_UNSEEN, NO_REBOUND), ambiguous]
    elif fit.outcome != "floor" and np.isfinite(found.after_squares):
        told.append(ambiguous)
    elif fit.outcome != "floor":
        told.append(Doubt("what the ball did next is not seen", NO_WAY_ON))
    return tuple(doubt for doubt in told if doubt.weight > 0.0)


def _share(value: float, limits: tuple[float, float]) -> float:
    """How far a value lies from the first of two limits to the second, from 0 to 1."""
    return float(np.clip((value - limits[0]) / (limits[1] - limits[0]), 0.0, 1.0))


def _at_border(ends: ServeEnds, view: View) -> bool:
    """Whether the ball, hit or ending, is within some radii of the picture's border or outside."""
    places_m = ends.fit.places_m(np.array([ends.contact_s, ends.end_s]), view)
    shown, margins = view.project(places_m), BORDER_RADII * ball_radii_px(view, places_m)[:, None]
    inside = (shown >= margins) & (shown <= np.array(view.image_size) - 1 - margins)
    return not bool(inside.all())
