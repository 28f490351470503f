"""Why serves fall long and short: how much of their depth comes from pace, from the launch angle, and from the rest."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from serve_marker.confidence_level import TAIL
from serve_marker.court.dimensions import Floats
from serve_marker.flight.contact_height import usual_contact_height_m
from serve_marker.flight.forces import likely_drag, likely_lift
from serve_marker.flight.launch import solve_launch
from serve_marker.flight.trajectory import BALL_RADIUS_M, PER_METRE, Motion, come_down, launched
from serve_marker.study.intraclass import TASK_COLUMNS, codes_of, effective_n, evenings_of, rho_of
from serve_marker.study.pace_limits import impossible_mask

if TYPE_CHECKING:
    import pandas

Groups = NDArray[np.int64]
FEWEST_FLIGHTS = 20
"""Below this the shares are not told (own choice)."""
NUDGE_MPS, NUDGE_DEG = 0.1, 0.1
OWN_DRAG_SD, OWN_HEIGHT_SD_M = 0.03, 0.08
"""By how much drag, and the height of the hit, differ among the serves of one server (own choice)."""
Flown = tuple[Floats, Floats]


@dataclass(frozen=True)
class Share:
    """A share of the depth spread and its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class DepthShares:
    """What the depth of ``n`` serves of one server, or of several each about her own mean, comes from.

    ``apart`` is the share of the pace less that of the angle.
    """

    n: int
    pace: Share
    angle: Share
    apart: Share

    @property
    def told(self) -> str:
        """Which of the two is told to weigh more, "" for neither."""
        if self.apart.low > 0 and self.pace.low > 0:
            return "pace"
        return "angle" if self.apart.high < 0 and self.angle.low > 0 else ""


def depth_shares(table: pandas.DataFrame) -> DepthShares | None:
    """Return the shares for serves of solved flights that landed; None of too few.

    The flight is made linear about the mean launch of each server at each task: depth = mean + dR/dv (v - mean v) +
    dR/dangle (angle - mean angle) + rest. The share of a part is the slope of that part on the depth, so that the three
    add up to 1; errors of time and place blur a slope without shifting it. What differs unseen, drag and height of the
    hit, leaks into the launch that distance and time tell: the t interval reaches as far down as that may have added,
    and allows for serves of one evening.
    """
    known = table[(table["outcome"] == "floor") & table["launch_mps"].notna() & table["y_m"].notna()]
    known = known[~impossible_mask(known["pace_mps"].to_numpy(dtype=float))]
    if len(known) < FEWEST_FLIGHTS:
        return None
    groups = codes_of(known, ("player_id", *TASK_COLUMNS))
    counts = np.bincount(groups)
    freedom = len(known) - int((counts > 0).sum()) - 1
    if freedom < FEWEST_FLIGHTS / 2:
        return None
    depth_m, course = (known[name].to_numpy(dtype=float) for name in ("y_m", "course_y"))
    about = _about_means(depth_m, groups)
    launch, per_launch, unseen = _launches(known, groups)
    along = np.abs(np.nan_to_num(course, nan=1.0))
    parts = [
        along * per * _about_means(of, groups)
        for per, of in zip(per_launch, (launch.speed_mps, launch.angle_deg), strict=True)
    ]
    leaks = [float((along**2 * leak).sum() / (about**2).sum()) for leak in unseen]
    wider = math.sqrt(len(known) / max(effective_n(evenings_of(known), rho_of(known, "place")), 1.0))
    pace, angle, apart = (
        _share(part, about, freedom, wider, leak)
        for part, leak in ((parts[0], leaks[0]), (parts[1], leaks[1]), (parts[0] - parts[1], leaks[0] - leaks[1]))
    )
    return DepthShares(len(known), pace, angle, apart)


def depth_shares_sentence(found: DepthShares | None) -> str:
    """Return what weighs more in how deep serves fall, where that is told from chance; else "".

    Examples
    --------
    >>> depth_shares_sentence(DepthShares(40, Share(0.7, 0.6, 0.8), Share(0.2, 0.1, 0.3), Share(0.5, 0.3, 0.7)))
    'Long or short comes more from pace than from angle. Pace explains 60 to 80 % of it, angle 10 to 30 %.'
    """
    if found is None or not found.told:
        return ""
    first, second = (found.pace, found.angle) if found.told == "pace" else (found.angle, found.pace)
    other = "angle" if found.told == "pace" else "pace"
    of_one, of_other = (f"{max(100 * one.low, 0):.0f} to {min(100 * one.high, 100):.0f} %" for one in (first, second))
    explained = f"{found.told.capitalize()} explains {of_one} of it, {other} {of_other}."
    return f"Long or short comes more from {found.told} than from {other}. {explained}"


def _launches(table: pandas.DataFrame, groups: Groups) -> tuple[Motion, tuple[Floats, Floats], list[Floats]]:
    """Return launches (N,) as distance and time tell them, what 1 m/s and 1 degree more add to the depth, and leaks.

    The drag of a group is one, so that a serve's own pace, or its angle through that, does not move the other. What
    differs unseen, drag and height of the hit, moves the launch that is told: a leak (N,) is what of its depth then
    counts as pace, and as angle, times that depth [m2].
    """
    flight_s, pace = (table[name].to_numpy(dtype=float) for name in ("flight_s", "pace_mps"))
    types = table["serve_type"].tolist()
    heights_m = np.array([usual_contact_height_m(kind) for kind in types], dtype=float)
    drag, lift = likely_drag(_group_means(pace, groups))[0], likely_lift(types)[0]
    launch = solve_launch(pace * flight_s, flight_s, heights_m, drag, lift)
    speed, angle = (_group_means(part, groups) for part in (launch.speed_mps, launch.angle_deg))

    def flown(faster_mps: float = 0.0, higher_deg: float = 0.0, more_drag: float = 0.0, higher_m: float = 0.0) -> Flown:
        start = launched(speed + faster_mps, angle + higher_deg, heights_m + higher_m)
        time_s, end = come_down(start, (drag + more_drag) * PER_METRE, lift * PER_METRE, BALL_RADIUS_M)
        return end.along_m, time_s

    usual_m, _ = flown()
    per_launch = (flown(NUDGE_MPS)[0] - usual_m) / NUDGE_MPS, (flown(0.0, NUDGE_DEG)[0] - usual_m) / NUDGE_DEG
    leaks = [np.zeros_like(usual_m), np.zeros_like(usual_m)]
    for unseen in ({"more_drag": OWN_DRAG_SD}, {"higher_m": OWN_HEIGHT_SD_M}):
        distance_m, time_s = flown(**unseen)
        told = solve_launch(distance_m, time_s, heights_m, drag, lift)
        deeper_m = distance_m - usual_m
        leaks[0] += per_launch[0] * (told.speed_mps - speed) * deeper_m
        leaks[1] += per_launch[1] * (told.angle_deg - angle) * deeper_m
    return launch, per_launch, leaks


def _group_means(values: Floats, groups: Groups) -> Floats:
    means: Floats = (np.bincount(groups, weights=values) / np.maximum(np.bincount(groups), 1))[groups]
    return means


def _about_means(values: Floats, groups: Groups) -> Floats:
    return values - _group_means(values, groups)


def _share(part: Floats, depth: Floats, freedom: int, wider: float, leak: float) -> Share:
    """The slope of a part on the depth, both about their means, with its t interval, less what may have leaked in."""
    from scipy.special import stdtrit

    squares = float((depth**2).sum())
    slope = float((part * depth).sum()) / squares
    left = float(((part - slope * depth) ** 2).sum()) / freedom
    reach = float(stdtrit(freedom, 1 - TAIL)) * wider * math.sqrt(left / squares)
    return Share(slope, slope - reach - max(leak, 0.0), slope + reach - min(leak, 0.0))
