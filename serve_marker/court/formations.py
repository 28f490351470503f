"""Where the passers stand: formations in the half frame, as presets and as plain values.

The half frame is the server's: x from the server's left. Passers face the net, so that their right is at small x::

        x = 0                        9
     y = 9  +------------------------+  end line
            |    o       o       o   |
            |  right   middle   left |     the passers' own right and left
            |  back     back    back |
     y = 0  +========== net =========+
                     server
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from serve_marker.court.dimensions import COURTS, Court
from serve_marker.errors import UserError

MOST_PASSERS = 6
FURTHEST_M = 30.0


@dataclass(frozen=True)
class Passer:
    """One passer's place [m] in the half frame, by name, by role ("libero", "left back"), or both.

    ``player_id`` is who stands there where it is a player of the team; she is then called by ``name``.
    """

    x_m: float
    y_m: float
    name: str = ""
    role: str = ""
    player_id: str = ""

    @property
    def label(self) -> str:
        """What she is called in words and seams: her name, else her role."""
        return self.name or self.role


@dataclass(frozen=True)
class Formation:
    """The passers a serve was served against; immutable, so that each serve keeps its own.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> three = preset(3, "up", court_named("indoor"))
    >>> three.name, [(p.label, p.x_m, p.y_m) for p in three.passers][0]
    ('three passers up', ('right back', 1.5, 5.4))
    >>> Formation.from_dict(three.to_dict()) == three
    True
    """

    name: str
    passers: tuple[Passer, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return plain values fit for JSON."""
        return {"name": self.name, "passers": [asdict(passer) for passer in self.passers]}

    @classmethod
    def from_dict(cls, plain: object) -> Formation:
        """Make a formation of plain values.

        Raises
        ------
        UserError : naming the passer whose place or name cannot be used.
        """
        if not isinstance(plain, Mapping) or not isinstance(plain.get("passers"), list | tuple):
            raise UserError("The formation is not a name with a list of passers. Set it anew.")
        name, rows = plain.get("name", ""), plain["passers"]
        if not isinstance(name, str):
            raise UserError("The formation's name is not text; write it in quotation marks.")
        if len(rows) > MOST_PASSERS:
            raise UserError(f"A formation has at most {MOST_PASSERS} passers, not {len(rows)}; take some away.")
        passers = tuple(_passer(number, row) for number, row in enumerate(rows, 1))
        labels = [passer.label for passer in passers]
        for label in labels:
            if labels.count(label) > 1:
                raise UserError(f"Two passers are called {label!r}; give each her own name or role.")
        return cls(name, passers)


def _passer(number: int, row: object) -> Passer:
    if not isinstance(row, Mapping):
        raise UserError(f"Passer {number} has no place; give x_m and y_m in metres.")
    x_m, y_m = (_place(number, row, key) for key in ("x_m", "y_m"))
    words = [row.get(key, "") for key in ("name", "role", "player_id")]
    if not all(isinstance(word, str) for word in words) or not "".join(words[:2]).strip():
        raise UserError(f"Passer {number} has neither a name nor a role; give one of them.")
    return Passer(x_m, y_m, *words)


def _place(number: int, row: Mapping[Any, Any], key: str) -> float:
    value = row.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise UserError(f"Passer {number} has no {key} that is a number; give it in metres.")
    if abs(value) > FURTHEST_M:
        raise UserError(f"Passer {number} stands at {key} {value:g}, too far away. Give it in metres.")
    return float(value)


DEPTHS = ("up", "back")
COUNT_WORDS = {2: "two", 3: "three", 4: "four", 5: "five"}

_PLACES: dict[int, tuple[tuple[str, float, float, float], ...]] = {
    2: (("right passer", 2.7, 5.4, 7.0), ("left passer", 6.3, 5.4, 7.0)),
    3: (("right back", 1.5, 5.4, 7.0), ("middle back", 4.5, 5.4, 7.0), ("left back", 7.5, 5.4, 7.0)),
    4: (
        ("right wing", 1.2, 4.6, 6.2),
        ("right back", 3.4, 6.0, 7.4),
        ("left back", 5.6, 6.0, 7.4),
        ("left wing", 7.8, 4.6, 6.2),
    ),
    5: (
        ("right wing", 1.5, 3.8, 4.8),
        ("middle", 4.5, 4.8, 5.8),
        ("left wing", 7.5, 3.8, 4.8),
        ("right back", 2.7, 6.8, 7.8),
        ("left back", 6.3, 6.8, 7.8),
    ),
}
"""Role, x, y up and y back [m] on a half of 9 x 9 m. Common practice, no source in metres was found; a line of three
with three fifths of the court in front of it (y = 5.4) is taught by USC Aiken, "3 Person Serve Receive"."""


def preset(count: int, depth: str, court: Court) -> Formation:
    """Return the usual formation of two to five passers, starting "up" or "back", scaled to the court.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> [(p.role, p.x_m, p.y_m) for p in preset(2, "back", court_named("youth-13")).passers][1]
    ('left passer', 4.2, 4.667)
    """
    if count not in _PLACES or depth not in DEPTHS:
        raise UserError(f"No usual formation has {count} passers {depth!r}. Choose two to five, up or back.")
    indoor = COURTS["indoor"]
    wide, deep = court.width_m / indoor.width_m, court.half_length_m / indoor.half_length_m
    passers = tuple(
        Passer(round(x_m * wide, 3), round((up_m if depth == "up" else back_m) * deep, 3), role=role)
        for role, x_m, up_m, back_m in _PLACES[count]
    )
    return Formation(f"{COUNT_WORDS[count]} passers {depth}", passers)
