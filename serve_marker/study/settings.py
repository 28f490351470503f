"""What a team chose for its own numbers: units, the topspin gate, how passers move. Kept in the logbook."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass, field, fields
from typing import TYPE_CHECKING, Any

from serve_marker.court.areas import SEAM_WIDTH_M
from serve_marker.court.passer_movement import Movement
from serve_marker.errors import UserError

if TYPE_CHECKING:
    from serve_marker.logbook.store import Logbook

KEY = "study"
PER_MPS = {"km/h": 3.6, "mph": 3600 / 1609.344, "m/s": 1.0}
"""Units of pace; one mile is 1609.344 m exactly."""
PASS_SCALES = {
    "0-3": ("ace or over the net", "one setter option", "two setter options", "all setter options"),
    "0-3, steps of the setter": (
        "ace or over the net",
        "behind the attack line",
        "in front of the attack line",
        "setter moves one step or so",
    ),
    "0-4": ("ace", "over the net, or no set", "one setter option", "two setter options", "all setter options"),
}
"""What a pass rated 0, 1, 2 and so on was; all three readings are customary (facts of the trade, no single rule)."""
RECEPTION_HEIGHT_M = 0.8
"""Where forearms meet a serve (common practice, no source)."""
MOST_ERRORS = 0.15
"""The share of errors a coach puts up with where she says nothing else (own choice)."""


def in_unit(pace_mps: float, unit: str) -> str:
    """Return a pace in the unit a team chose.

    Examples
    --------
    >>> in_unit(14.7, "km/h"), in_unit(14.7, "m/s")
    ('53 km/h', '14.7 m/s')
    """
    return f"{PER_MPS[unit] * pace_mps:.{1 if unit == 'm/s' else 0}f} {unit}"


@dataclass(frozen=True)
class StudySettings:
    """A team's choices.

    Parameters
    ----------
    pace_unit : "km/h", "mph" or "m/s".
    topspin_gate_mps : the least pace the coach asks of a jump topspin serve; 0 asks for none.
    seam_width_m : width of the seams between passers.
    movement : how passers get to a ball.
    pass_scale : one of PASS_SCALES.
    reception_height_m : of the ball's centre where a received ball is marked in the air.
    most_errors : the share of errors [0-1] above which a server is told to get it in first.
    """

    pace_unit: str = "km/h"
    topspin_gate_mps: float = 0.0
    seam_width_m: float = SEAM_WIDTH_M
    movement: Movement = field(default_factory=Movement)
    pass_scale: str = "0-3"
    reception_height_m: float = RECEPTION_HEIGHT_M
    most_errors: float = MOST_ERRORS

    @property
    def best_pass(self) -> int:
        """The best rating of the scale."""
        return len(PASS_SCALES[self.pass_scale]) - 1

    def __post_init__(self) -> None:
        if self.pace_unit not in PER_MPS:
            raise UserError(f"Pace cannot be shown in {self.pace_unit!r}; choose one of: {', '.join(PER_MPS)}.")
        if self.pass_scale not in PASS_SCALES:
            raise UserError(f"There is no pass scale {self.pass_scale!r}; choose one of: {', '.join(PASS_SCALES)}.")
        numbers = {
            "The topspin gate": self.topspin_gate_mps,
            "The reaction time": self.movement.reaction_s,
            "The passers' speed": self.movement.speed_mps,
            "The passers' reach": self.movement.reach_m,
            "The lowest play of a ball": self.movement.lowest_m,
            "The height of a reception": self.reception_height_m,
        }
        for what, number in numbers.items():
            if not (math.isfinite(number) and number >= 0):
                raise UserError(f"{what} must be 0 or more, not {number}.")
        if not self.movement.highest_m > self.movement.lowest_m:
            raise UserError(f"Balls are played up to a height above {self.movement.lowest_m} m, their lowest play.")
        if not 0 <= self.most_errors <= 1:
            raise UserError(f"The share of errors lies between 0 and 100 %, not at {100 * self.most_errors:g} %.")
        if not 0 < self.seam_width_m <= 9:
            raise UserError(f"A seam is wider than 0 and at most 9 m, not {self.seam_width_m}.")

    def to_text(self) -> str:
        """Return the choices as JSON text."""
        return json.dumps(asdict(self))

    @classmethod
    def from_text(cls, text: str) -> StudySettings:
        """Read choices from JSON text; "" gives the usual ones, and so does what a newer version may have added.

        Examples
        --------
        >>> StudySettings.from_text(StudySettings(pace_unit="mph").to_text()).pace_unit
        'mph'
        """
        if not text:
            return cls()
        try:
            plain: dict[str, Any] = json.loads(text)
            known = {part.name: plain[part.name] for part in fields(cls) if part.name in plain}
            if "movement" in known:
                known["movement"] = Movement(**known["movement"])
            return cls(**known)
        except (ValueError, TypeError, AttributeError):
            raise UserError("The settings of Study cannot be read; set them again.") from None


def settings_of(logbook: Logbook) -> StudySettings:
    """Return what the logbook's team chose."""
    return StudySettings.from_text(logbook.get_setting(KEY))


def keep_settings(logbook: Logbook, settings: StudySettings) -> None:
    """Keep a team's choices in its logbook."""
    logbook.set_setting(KEY, settings.to_text())
