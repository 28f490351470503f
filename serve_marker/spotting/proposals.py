"""Proposed serves: what a coach is shown to accept, correct or reject, and how sure each is and why not surer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.logbook.records import Half, Serve
from serve_marker.marking.landing import in_true_time
from serve_marker.spotting.confidence import LEAST, THE_OTHER_WAY, Doubt, confidence_of, end_doubts, flight_doubts
from serve_marker.spotting.ends import looked_at_again
from serve_marker.spotting.frames_around import FramesAround
from serve_marker.spotting.serve_fit import Outcome
from serve_marker.spotting.serves import SHARED_TIME, FoundServe, height_at_net_m, shared_time

FLIGHT_PLACES = 25


@dataclass(frozen=True, eq=False)
class Proposal:
    """One serve found on film.

    ``xy_m`` (2,) and ``cov_m2`` (2, 2), court frame: where it landed; for a received ball the floor below where it was
    played, for one in the net below where it met it. ``pace_mps`` is the average horizontal speed from contact to end,
    ``net_clearance_m`` the ball's centre minus the net's top, NaN for one in the net. ``confidence`` is between 0 and
    1, ``doubts`` what speaks against it. ``flight_m`` (FLIGHT_PLACES, 3) is the ball at even times from contact to end,
    ``view`` the one in which it is seen so, re-aligned where the camera had been moved, and ``marked`` the serve as a
    coach would have clicked it.
    """

    contact_s: float
    landing_s: float
    xy_m: Floats
    cov_m2: Floats
    served_to: Half
    outcome: Outcome
    pace_mps: float
    net_clearance_m: float
    confidence: float
    doubts: tuple[Doubt, ...]
    flight_m: Floats
    view: View
    marked: Serve

    def doubted(self, doubt: Doubt) -> Proposal:
        """The same with one more doubt."""
        doubts = (*self.doubts, doubt)
        return replace(self, confidence=confidence_of(doubts), doubts=doubts)

    def shown_slower(self, scale: float) -> Proposal:
        """The same on the clock of a clip whose time has to be multiplied by ``scale`` to be true."""
        marked = in_true_time(self.marked, 1 / scale)
        return replace(self, contact_s=self.contact_s / scale, landing_s=self.landing_s / scale, marked=marked)

    def to_dict(self) -> dict[str, Any]:
        """The proposal as it stands in PROPOSALS.json."""
        x_m, y_m = self.xy_m.tolist()
        return {
            "contact_s": self.contact_s,
            "landing_s": self.landing_s,
            "x_m": x_m,
            "y_m": y_m,
            "cov_m2": self.cov_m2.tolist(),
            "served_to": self.served_to,
            "outcome": self.outcome,
            "pace_mps": self.pace_mps,
            "net_clearance_m": self.net_clearance_m,
            "confidence": self.confidence,
            "why": "; ".join(doubt.why for doubt in self.doubts),
        }


def proposed(found: FoundServe, times_s: Floats, view: View, reader: FramesAround) -> Proposal | None:
    """Return a found serve as a proposal, None where it is too unsure; ``times_s`` are those of all looks around it."""
    doubts = flight_doubts(found, times_s)
    if confidence_of(doubts) < LEAST:
        return None
    ends = looked_at_again(found, times_s, view, reader)
    doubts = (*doubts, *end_doubts(found, ends, view))
    fit = ends.fit
    assert fit.outcome is not None
    hit_m, launch_mps = fit.moved(ends.contact_s, view)
    pace_mps = float(np.hypot(*(ends.end_xy_m - hit_m[:2]))) / max(ends.end_s - ends.contact_s, 1e-6)
    clearance_m = np.nan if fit.outcome == "net" else height_at_net_m(fit, view) - view.net_height_m
    return Proposal(
        ends.contact_s,
        ends.end_s,
        ends.end_xy_m,
        ends.end_cov_m2,
        "b" if launch_mps[1] > 0 else "a",
        fit.outcome,
        pace_mps,
        float(clearance_m),
        confidence_of(doubts),
        doubts,
        fit.places_m(np.linspace(ends.contact_s, ends.end_s, FLIGHT_PLACES), view),
        view,
        ends.marked,
    )


def with_serving_end(proposals: Sequence[Proposal]) -> list[Proposal]:
    """Return proposals that are sure enough, in order; those that fly the other way from most are doubted.

    Of two at one time the surer one is kept. Balls are thrown back: which way serves go is guessed from the sum of
    confidences each way; a tie leaves both.
    """
    towards_b = sum(one.confidence if one.served_to == "b" else -one.confidence for one in proposals)
    most: Half = "b" if towards_b > 0 else "a"
    doubted = [one if towards_b == 0 or one.served_to == most else one.doubted(THE_OTHER_WAY) for one in proposals]
    kept: list[Proposal] = []
    for one in sorted(doubted, key=lambda one: -one.confidence):
        span = one.contact_s, one.landing_s
        alone = all(shared_time(span, (other.contact_s, other.landing_s)) <= SHARED_TIME for other in kept)
        if one.confidence >= LEAST and alone:
            kept.append(one)
    return sorted(kept, key=lambda one: one.contact_s)
