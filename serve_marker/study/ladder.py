"""The ladder: the coach's ordered steps a server climbs, kept in the logbook."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any

from serve_marker.court.areas import SEAM_WIDTH_M, area_names, seam_names
from serve_marker.court.dimensions import Court
from serve_marker.errors import UserError
from serve_marker.logbook.records import SERVE_TYPES
from serve_marker.plain_json import read_json, require_kinds, told_as
from serve_marker.study.mastery import Goal

if TYPE_CHECKING:
    from serve_marker.logbook.store import Logbook

LADDER_SETTING = "ladder"
AREA_MASTERED, SEAM_MASTERED = 0.75, 0.38
"""Rates of a server who scatters by 1.0 m along each axis about the middle of an area of 3 m, and of a seam of 1 m."""
LEAST_EFFORT = 0.8
RISK, LEAST_RISK = 0.1, 0.005


@dataclass(frozen=True)
class LadderStep:
    """One step.

    Parameters
    ----------
    name : what the coach calls it.
    aims : the aims it asks for, each decided by itself; none asks for serves that are in.
    every_aim : whether all of the aims are asked for, else any one.
    serve_types : those that count; none lets all count.
    not_enough, mastery : rates [0-1] told apart, or distances [m] as of `Goal` where places decide.
    by_places : whether places decide instead of hits.
    least_effort : softer serves do not count [0-1]; 0 lets all count.
    least_pace_mps : a serve must be as fast to be a hit; 0 asks for none.
    risk : that a server who has not mastered the step passes it in a season [0-1].
    """

    name: str
    aims: tuple[str, ...] = ()
    every_aim: bool = True
    serve_types: tuple[str, ...] = ()
    not_enough: float = 0.5
    mastery: float = 0.75
    by_places: bool = False
    least_effort: float = LEAST_EFFORT
    least_pace_mps: float = 0.0
    risk: float = RISK

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise UserError("Each step of the ladder needs a name.")
        if self.by_places and not self.aims:
            raise UserError(f"{self.name}: places decide only where there is an aim; name one.")
        if self.by_places and not 0 < self.mastery < self.not_enough < 9:
            raise UserError(f"{self.name}: write metres, and fewer of them for mastery, such as 1.4 and 1.0.")
        if not self.by_places and not 0 < self.not_enough < self.mastery < 1:
            raise UserError(f"{self.name}: write two rates between 0 and 100 %, the higher one for mastery.")
        if not 0 <= self.least_effort <= 1:
            raise UserError(f"{self.name}: the effort asked for lies between 0 and 100 %.")
        if not 0.01 <= self.risk <= 0.5:
            raise UserError(f"{self.name}: the risk lies between 1 and 50 %.")
        if self.risk_of_each < LEAST_RISK:
            most = int(self.risk / LEAST_RISK)
            raise UserError(f"{self.name}: so small a risk allows {most} aims joined by or. Ask for fewer.")
        if not (math.isfinite(self.least_pace_mps) and self.least_pace_mps >= 0):
            raise UserError(f"{self.name}: the pace asked for must be 0 or more.")
        unknown = [kind for kind in self.serve_types if kind not in SERVE_TYPES]
        if unknown:
            raise UserError(f"{self.name}: {unknown[0]} is no serve type; choose one of: {', '.join(SERVE_TYPES)}.")

    def goal(self, has_depth: bool = True) -> Goal:
        """Return what is told apart at one of the aims; of a seam only sideways places count."""
        axes = (2 if has_depth else 1) if self.by_places else 0
        return Goal(self.not_enough, self.mastery, axes)

    @property
    def risk_of_each(self) -> float:
        """The risk at each of the aims: any one of several is reached more easily by chance."""
        return self.risk if self.every_aim else self.risk / max(len(self.aims), 1)


def rate_at_spread(spread_m: float, width_m: float, depth_m: float = math.inf) -> float:
    """Return how many serves hit an aim of that size in whose middle they scatter, normal along each axis.

    Examples
    --------
    >>> round(rate_at_spread(1.0, 3.0, 3.0), 2), round(rate_at_spread(1.0, 1.0), 2)
    (0.75, 0.38)
    """
    sides = (math.erf(side_m / 2 / spread_m / math.sqrt(2)) for side_m in (width_m, depth_m))
    return math.prod(sides)


def spread_at_rate(rate: float, width_m: float, depth_m: float = math.inf) -> float:
    """Return the spread [m] at which an aim of that size is hit so often.

    Examples
    --------
    >>> round(spread_at_rate(0.5, 3.0, 3.0), 2)
    1.43
    """
    from scipy.optimize import brentq

    return float(brentq(lambda spread_m: rate_at_spread(spread_m, width_m, depth_m) - rate, 0.05, 50.0))


def aim_size_m(aims: Sequence[str], court: Court) -> tuple[float, float] | None:
    """Return width and depth [m] of aims that all are areas, or all are seams, on a court; else None.

    Examples
    --------
    >>> from serve_marker.court.dimensions import COURTS
    >>> aim_size_m(("deep 1", "short 4"), COURTS["indoor"]), aim_size_m(("seam 5-6", "deep 1"), COURTS["indoor"])
    ((3.0, 3.0), None)
    """
    if aims and set(aims) <= set(area_names(court.name)):
        return court.width_m / 3, court.half_length_m / 3
    return (SEAM_WIDTH_M, math.inf) if aims and set(aims) <= set(seam_names(court.name)) else None


def usual_ladder(court: Court, topspin_gate_mps: float = 0.0) -> tuple[LadderStep, ...]:
    """Return the steps a team begins with: deep 1, the 5-6 seam, all nine areas, a speciality, then any topspin gate.

    All nine areas ask for less at each, and the speciality for more, than deep 1 (own choice).

    Examples
    --------
    >>> from serve_marker.court.dimensions import COURTS
    >>> [step.name for step in usual_ladder(COURTS["indoor"])]
    ['deep 1', 'seam 5-6', 'all nine areas', 'speciality']
    """
    areas, seam = area_names(court.name), seam_names(court.name)[0]
    steps = (
        LadderStep(areas[0], (areas[0],), not_enough=0.5, mastery=AREA_MASTERED),
        LadderStep(seam, (seam,), not_enough=0.2, mastery=SEAM_MASTERED),
        LadderStep("all nine areas", areas, not_enough=0.4, mastery=0.65),
        LadderStep("speciality", areas, every_aim=False, not_enough=0.6, mastery=0.8),
    )
    gate = LadderStep(
        "jump topspin pace",
        serve_types=("jump topspin",),
        not_enough=0.25,
        mastery=0.5,
        least_effort=0.0,
        least_pace_mps=topspin_gate_mps,
    )
    return (*steps, gate) if topspin_gate_mps > 0 else steps


def ladder_of(logbook: Logbook, court: Court, topspin_gate_mps: float = 0.0) -> tuple[LadderStep, ...]:
    """Return the steps of the logbook's team: the usual ones before the coach has changed any."""
    text = logbook.get_setting(LADDER_SETTING)
    if not text:
        return usual_ladder(court, topspin_gate_mps)
    known = {part.name for part in fields(LadderStep)}
    with told_as("The steps of the ladder cannot be read; set them again."):
        plain: list[dict[str, Any]] = read_json(text)
        return tuple(_step({name: value for name, value in step.items() if name in known}) for step in plain)


def _step(plain: dict[str, Any]) -> LadderStep:
    listed = {name: tuple(value) for name, value in plain.items() if isinstance(value, list)}
    return require_kinds(LadderStep(**(plain | listed)))


def ladder_text(steps: Sequence[LadderStep], usual: Sequence[LadderStep]) -> str:
    """Return steps as the text that is kept under LADDER_SETTING; the usual ones as "", to follow other settings."""
    return "" if tuple(steps) == tuple(usual) else json.dumps([asdict(step) for step in steps])
