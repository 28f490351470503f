"""Two endings so near in time that they are taken for one serve, until the coach says that they were two."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from serve_marker.logbook.records import Half, Mark, Serve

BOUNCE_S = 0.3
"""Two endings on one half so near in time are one: the ball is still bouncing."""
PLACED_AFTER_THE_KEY = ("received", "target")
"""Endings that stay so when the place is clicked after the key; any other was on the floor after all."""
ENDING_PARTS = (
    *("landing", "outcome", "reception", "film_marks", "contact_film_marks", "ball_marks"),
    *("served_to", "view_id"),
)
"""What a second ending changes of a serve."""


@dataclass(frozen=True)
class JoinedServes:
    """A serve before and after a mark changed it that may be a second serve's: its mark and outcome."""

    before: Serve
    after: Serve
    mark: Mark
    outcome: str

    def is_still_so(self, now: Serve) -> bool:
        """Whether the serve as it is now ended as the mark left it."""
        return (now.id, now.landing, now.outcome) == (self.after.id, self.after.landing, self.after.outcome)

    def first(self, now: Serve) -> Serve:
        """Return the serve as it is now, but ended as before the mark."""
        return replace(now, **{part: getattr(self.before, part) for part in ENDING_PARTS})


def ended_near(
    serves: Sequence[Serve], mark: Mark, half: Half, half_of: Callable[[Serve], Half | None], time_scale: float
) -> Serve | None:
    """Return the serve that ended on that half within the bounce of a mark, the nearest in time; None if none did.

    One received where a passer played it is complete: a landing after that is none of its own.
    """

    def away_s(serve: Serve) -> float:
        ended = serve.landing
        if ended is None or (serve.outcome == "received" and ended.pixel is not None) or half != half_of(serve):
            return math.inf
        return round(abs(ended.time_s - mark.time_s) * time_scale, 3)

    nearest = min(serves, key=away_s, default=None)
    return nearest if nearest is not None and away_s(nearest) <= BOUNCE_S else None


def outcome_once_placed(outcome: str) -> str:
    """Return what a serve marked by key is once its place is clicked."""
    return outcome if outcome in PLACED_AFTER_THE_KEY else "floor"
