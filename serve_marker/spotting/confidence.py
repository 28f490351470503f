"""How sure a found serve is, from what speaks against it, each with its reason in words.

The shares are own choices, held to what rendered film with its truth gave (see docs/measurement.md): a serve whose
toss, flight and way on are all seen is confident (0.9 or more), and one thing not seen takes it below.
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

AT_BEST, LEAST = 0.98, 0.3
"""What is less sure than the least is not proposed."""
NO_TOSS, NO_REBOUND, NO_WAY_ON, NEAR_BORDER, OTHER_WAY = 0.85, 0.8, 0.6, 0.85, 0.3
BORDER_RADII = 3.0
COST_PER_LOOK = (0.9, 1.5, 0.5)
STRAIN = (5.0, 12.0, 0.5)
SEEN_SHARE = (0.7, 0.4, 0.5)
RIVAL_COST = (3.0, 0.0, 0.7)
"""From the first value on nothing is doubted, at the second the share is the third, evenly between."""


@dataclass(frozen=True)
class Doubt:
    """Something that speaks against a proposal, and the share of such that are right all the same."""

    why: str
    share: float


THE_OTHER_WAY = Doubt("it flew the other way from most serves", OTHER_WAY)


def confidence_of(doubts: Sequence[Doubt]) -> float:
    """Return how likely a proposal is a serve and told rightly, its doubts taken as independent.

    Examples
    --------
    >>> confidence_of([]), confidence_of([Doubt("the toss is not seen", NO_TOSS)])
    (0.98, 0.83)
    """
    return round(AT_BEST * math.prod(doubt.share for doubt in doubts), 2)


def flight_doubts(found: FoundServe, times_s: Floats) -> tuple[Doubt, ...]:
    """Return what speaks against the flight of a found serve, ``times_s`` being those of all looks around it."""
    fit = found.fit
    possible = int(((times_s >= fit.contact_s) & (times_s <= fit.end_s)).sum())
    told = (
        Doubt("the flight does not fit well", _evenly(fit.cost / fit.seen, COST_PER_LOOK)),
        Doubt("it is hit at an unusual place or speed", _evenly(fit.strain, STRAIN)),
        Doubt("the ball is hidden on much of its way", _evenly(fit.seen / max(possible, 1), SEEN_SHARE)),
    )
    return tuple(doubt for doubt in told if doubt.share < 1.0)


def end_doubts(found: FoundServe, ends: ServeEnds, view: View) -> tuple[Doubt, ...]:
    """Return what speaks against the ends of a found serve."""
    fit = ends.fit
    told = [
        Doubt("the toss is not seen", 1.0 if ends.toss_seen else NO_TOSS),
        Doubt("an end lies at the picture's border", NEAR_BORDER if _at_border(ends, view) else 1.0),
    ]
    ambiguous = Doubt("it may have ended in another way", _evenly(found.rival_cost, RIVAL_COST))
    if fit.outcome == "floor" and not ends.rebound_seen:
        told += [Doubt("no rebound is seen", NO_REBOUND), ambiguous]
    elif fit.outcome != "floor" and np.isfinite(found.after_squares):
        told.append(ambiguous)
    elif fit.outcome != "floor":
        told.append(Doubt("what the ball did next is not seen", NO_WAY_ON))
    return tuple(doubt for doubt in told if doubt.share < 1.0)


def _evenly(value: float, limits: tuple[float, float, float]) -> float:
    sure, doubtful, share = limits
    order = np.argsort([sure, doubtful])
    return float(np.interp(value, np.array([sure, doubtful])[order], np.array([1.0, share])[order]))


def _at_border(ends: ServeEnds, view: View) -> bool:
    """Whether the ball, hit or ending, is within some radii of the picture's border or outside."""
    places_m = ends.fit.places_m(np.array([ends.contact_s, ends.end_s]), view)
    shown, margins = view.project(places_m), BORDER_RADII * ball_radii_px(view, places_m)[:, None]
    inside = (shown >= margins) & (shown <= np.array(view.image_size) - 1 - margins)
    return not bool(inside.all())
