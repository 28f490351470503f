"""Serves as the search would find them, for stories on a film that shows none."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, cast

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.logbook.records import Half, Mark, Serve
from serve_marker.spotting.confidence import Doubt, confidence_of
from serve_marker.spotting.proposals import FLIGHT_PLACES, Proposal
from serve_marker.spotting.serve_fit import Outcome
from serve_marker.video.clip import Clip
from serve_marker.video.progress import Cancelled

SERVER_M = (1.0, -9.3)
TOSS_UNSEEN = Doubt("the toss is not seen", 2.0)


def found_serve(
    clip: Clip,
    view: View,
    contact_s: float,
    landing_m: tuple[float, float],
    outcome: Outcome = "floor",
    served_to: Half = "b",
    doubts: tuple[Doubt, ...] = (),
) -> Proposal:
    """A serve of one second, marked where it was hit and came down."""
    landing_s, server_m = contact_s + 1.0, np.array(SERVER_M) * (1 if served_to == "b" else -1)
    share = np.linspace(0, 1, FLIGHT_PLACES)[:, None]
    end_height_m = {"floor": view.court.ball.radius_m, "received": 0.8, "net": 2.0}[outcome]
    heights_m = 2.6 + (end_height_m - 2.6) * share + 5 * share * (1 - share)
    flight_m = np.hstack([server_m + share * (np.array(landing_m) - server_m), heights_m])
    foot_px, end_px = view.project(np.array([[*server_m, 0.0], flight_m[-1]])).tolist()

    def mark(time_s: float, pixel: list[float], on_ball: bool) -> Mark:
        frame = clip.frame_at(time_s)
        return Mark(clip.time_s(frame), (pixel[0], pixel[1]), *clip.gaps_s(frame), on_ball=on_ball)

    marked = Serve(
        id="",
        clip_id="",
        served_to=served_to,
        outcome=outcome,
        contact=mark(contact_s, foot_px, on_ball=False),
        landing=mark(landing_s, end_px, on_ball=True),
    )
    ends = (contact_s, landing_s, np.array(landing_m), np.eye(2) * 0.01)
    told = (confidence_of(doubts), doubts)
    return Proposal(*ends, served_to, outcome, 13.0, 0.5, *told, flight_m, view, marked)


class Search:
    """Stands in for the search of a film: hands out what it was given, each once it is let go."""

    def __init__(self, serves: Callable[[Clip, View], Sequence[Proposal]]) -> None:
        self._serves = serves
        self._let_go = threading.Semaphore(0)
        self.runs = 0
        self.gone_on_from: list[str] = []

    def let_go(self, count: int = 1) -> None:
        """Let some more be found; beyond the last one the search ends."""
        self._let_go.release(count)

    def __call__(
        self, clip: Clip, view: View, _reference: Any, progress: Any, cancelled: Any, found: Any, kept_in: Path
    ) -> list[Proposal]:
        self.runs += 1
        self.gone_on_from += [kept_in.read_text() if kept_in.exists() else ""]
        serves = self._serves(clip, view)
        for number, one in enumerate((*serves, None)):
            while not self._let_go.acquire(timeout=0.01):
                if cancelled():
                    raise Cancelled
            progress(1000 * number // (len(serves) + 1), 1000)
            kept_in.write_text(f"{number} found")
            if one is not None:
                found(one)
        return cast(list[Proposal], serves)
