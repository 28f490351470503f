"""The one shape that stands for a serve everywhere, and what the shapes of many serves add up to.

Headline, legend and map count the same shapes, so that they agree on every page. A received ball is one of them: a disc
where its estimated landing surely hit the aim, else a diamond: such an estimate is too coarse to call it close.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas

SHAPE_COLUMNS = ("outcome", "verdict", "aim_hit", "aim_surely", "aim_may")


@dataclass(frozen=True)
class OnTarget:
    """How many of the serves that had an aim hit it.

    ``n`` are those whose end is known: ``hits`` of them surely; perhaps ``too_close`` of them, and ``unsure`` of them
    that were received and of which it cannot be told. ``received`` beside the n are those received at no known place.
    """

    n: int
    hits: int
    too_close: int
    received: int
    unsure: int = 0

    @property
    def untold(self) -> int:
        """How many may have hit or not."""
        return self.too_close + self.unsure


NOTHING_COUNTED = OnTarget(0, 0, 0, 0)


def shape_of(outcome: str, verdict: str, aim_hit: bool | None, aim_surely: bool, aim_may: bool) -> str:
    """Return the one shape that stands for a serve everywhere: chips, time bar, half court, picture and sheets.

    Parameters
    ----------
    outcome : one of the logbook's OUTCOMES.
    verdict : "in", "out", "too close", or "" where the place is not known, or the ball was received.
    aim_hit : True, False, or None where there was no aim or it cannot be told.
    aim_surely, aim_may : whether the aim was hit for sure, and whether it may have been, given the landing's error.

    Examples
    --------
    >>> shape_of("floor", "in", True, True, True), shape_of("floor", "in", True, False, True)
    ('disc', 'half-disc')
    >>> shape_of("floor", "in", False, False, False), shape_of("floor", "too close", True, True, True)
    ('ring', 'square')
    >>> shape_of("received", "", None, False, True), shape_of("received", "", True, True, True)
    ('diamond', 'disc')
    >>> shape_of("received", "", True, False, True)
    'diamond'
    """
    if outcome in ("net", "fault", "blocked"):
        return "bar"
    if outcome == "target":
        return "disc"
    if outcome == "received":
        return "disc" if aim_surely and aim_hit is not None else "diamond"
    if outcome == "out" or verdict == "out":
        return "cross"
    if verdict != "in":
        return "square" if verdict == "too close" else "caret"
    if aim_surely:
        return "disc"
    return "half-disc" if aim_may else "ring"


def shapes_of(table: pandas.DataFrame) -> list[str]:
    """Return each serve's shape, in the order of a serve table."""
    kinds: dict[tuple[str, str, bool | None, bool, bool], str] = {}
    columns = (table[name].tolist() for name in SHAPE_COLUMNS)
    return [kinds.get(kind) or kinds.setdefault(kind, shape_of(*kind)) for kind in zip(*columns, strict=True)]


def on_target(table: pandas.DataFrame) -> OnTarget:
    """Return how many of the serves with an aim, or a struck target, hit it.

    A landing too close to a line, but clear of the aim, missed it.
    """
    aimed = table[(table["aim"] != "") | (table["outcome"] == "target")]
    shapes = np.array(shapes_of(aimed), dtype=object)
    unplaced = aimed["aim_hit"].isna().to_numpy()
    may_hit = aimed["aim_may"].to_numpy(dtype=bool)
    received = int(((shapes == "diamond") & unplaced).sum())
    unsure = int(((shapes == "diamond") & ~unplaced & may_hit).sum())
    counts = Counter(shapes.tolist())
    known = len(aimed) - received - counts["caret"]
    close = int((np.isin(shapes, ("half-disc", "square")) & may_hit).sum())
    return OnTarget(known, counts["disc"], close, received, unsure)


def on_target_words(found: OnTarget) -> str:
    """Return a count that may not be finished.

    Examples
    --------
    >>> on_target_words(OnTarget(44, 18, 5, 46)), on_target_words(OnTarget(20, 9, 0, 0))
    ('18–23 of 44', '9 of 20')
    """
    most = f"–{found.hits + found.untold}" if found.untold else ""
    return f"{found.hits}{most} of {found.n}" if found.n else "-"


def counted_words(found: OnTarget) -> str:
    """Return a count, and how much of it could not be finished.

    Examples
    --------
    >>> counted_words(OnTarget(24, 9, 4, 0)), counted_words(OnTarget(24, 9, 0, 3)), counted_words(OnTarget(0, 0, 0, 0))
    ('9 of 24, 4 too close', '9 of 24', '-')
    """
    untold = f", {untold_words(found)}" if found.untold else ""
    return f"{found.hits} of {found.n}{untold}" if found.n else "-"


def untold_words(found: OnTarget) -> str:
    """Return how much of a count could not be finished, "" where all of it could.

    Examples
    --------
    >>> untold_words(OnTarget(24, 9, 4, 0)), untold_words(OnTarget(24, 9, 4, 0, unsure=3))
    ('4 too close', '7 cannot tell')
    """
    return f"{found.untold} {'cannot tell' if found.unsure else 'too close'}" if found.untold else ""
