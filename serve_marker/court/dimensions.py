"""Courts from the rule books: measures, lines with their true edges, landmarks, frames of reference.

Court frame [m], origin on the floor under the middle of the net, z up. End *a* is the end nearer the camera::

                      end b (far)
      (-4.5,+9) +-------------------+ (+4.5,+9)   end-b/left, end-b/right
                |                   |
      (-4.5,+3) |-------------------| (+4.5,+3)   attack-b/left, attack-b/right
                |                   |
      (-4.5, 0) |====== net ========| (+4.5, 0)   centre/left, centre/right      +y
                |                   |                                            ^
      (-4.5,-3) |-------------------| (+4.5,-3)   attack-a/left, ...             |
                |                   |                                            +--> +x
      (-4.5,-9) +-------------------+ (+4.5,-9)   end-a/left, end-a/right
                      end a (near)
                        camera

Half frame [m], the receiving half as the server sees it, origin on the net at the server's left::

      y = 9  +-------+-------+-------+  end line          served to b: (x_half, y_half) = (4.5 + x, y)
             |deep 1 |deep 6 |deep 5 |                    served to a: (x_half, y_half) = (4.5 - x, -y)
      y = 6  +-------+-------+-------+
             |btw 1-2|btw 6-3|btw 5-4|
      y = 3  +-------+-------+-------+  attack line's rear edge
             |short 2|short 3|short 4|
      y = 0  +=======+=======+=======+  net
            x = 0    3       6       9
                   the server
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from serve_marker.court.balls import Ball, ball_on
from serve_marker.errors import UserError

Floats = NDArray[np.float64]

FOOT_M = 0.3048
INCH_M = 0.0254

ANTENNA_ABOVE_NET_M = 0.80
"""Height of an antenna's top above the net, FIVB Official Volleyball Rules 2025-2028, 2.4."""


@dataclass(frozen=True)
class NetHeight:
    """A height of the net's top edge [m] that a rule names, and for whom."""

    name: str
    height_m: float
    source: str


@dataclass(frozen=True)
class Court:
    """A court by its outer measures.

    Parameters
    ----------
    length_m, width_m : between the outer edges of the end lines and of the sidelines [m].
    attack_line_m : from the net's axis to the attack line's REAR edge [m]; None where there is none.
    line_width_m : width of every painted line [m].
    centre_line : whether the axis under the net is painted.

    Examples
    --------
    >>> court = court_named("indoor")
    >>> court.half_length_m, court.width_m, court.attack_line_m
    (9.0, 9.0, 3.0)
    >>> Court.from_dict(court.to_dict()) == court
    True
    """

    name: str
    title: str
    length_m: float
    width_m: float
    attack_line_m: float | None
    line_width_m: float
    centre_line: bool
    net_heights: tuple[NetHeight, ...]
    source: str

    @property
    def ball(self) -> Ball:
        """The ball that is played on it."""
        return ball_on(self.name)

    @property
    def half_length_m(self) -> float:
        """From the net's axis to the outer edge of an end line [m]."""
        return self.length_m / 2

    @property
    def half_width_m(self) -> float:
        """From the middle to the outer edge of a sideline [m]."""
        return self.width_m / 2

    def to_dict(self) -> dict[str, Any]:
        """Return plain values fit for JSON, from which `from_dict` makes an equal court."""
        plain = {name: getattr(self, name) for name in self.__dataclass_fields__ if name != "net_heights"}
        plain["net_heights"] = [
            {"name": net.name, "height_m": net.height_m, "source": net.source} for net in self.net_heights
        ]
        return plain

    @classmethod
    def from_dict(cls, plain: object) -> Court:
        """Make a court of plain values; only ``length_m`` and ``width_m`` must be there.

        With a preset's name and measures it is the preset, whatever it was titled when it was written.

        Raises
        ------
        UserError : naming the measure that is missing, not a number or impossible.
        """
        if not isinstance(plain, Mapping):
            raise UserError("The court is neither a name nor measures. Give length_m and width_m.")
        unknown = sorted(set(map(str, plain)) - set(cls.__dataclass_fields__))
        if unknown:
            raise UserError(f"The court has no measure called {unknown[0]!r}; remove it.")
        length_m = _measure(plain, "length_m", 4.0, 60.0)
        width_m = _measure(plain, "width_m", 2.0, 30.0)
        line_width_m = _measure(plain, "line_width_m", 0.0, 0.2, default=0.05)
        attack_line_m = None
        if plain.get("attack_line_m") is not None:
            attack_line_m = _measure(plain, "attack_line_m", 0.5, length_m / 2 - 0.5)
        centre_line = plain.get("centre_line", True)
        if not isinstance(centre_line, bool):
            raise UserError("The court's centre_line must be true or false.")
        court = cls(
            name=_words(plain, "name", "own"),
            title=_words(plain, "title", "Own court"),
            length_m=length_m,
            width_m=width_m,
            attack_line_m=attack_line_m,
            line_width_m=line_width_m,
            centre_line=centre_line,
            net_heights=_net_heights(plain.get("net_heights", [])),
            source=_words(plain, "source", "measured by the coach"),
        )
        preset = COURTS.get(court.name)
        return preset if preset and replace(court, title=preset.title, source=preset.source) == preset else court


def _measure(plain: Mapping[Any, Any], key: str, low_m: float, high_m: float, default: float | None = None) -> float:
    value = plain.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise UserError(f"The court's {key} is not a number; give it in metres.")
    if not low_m <= value <= high_m:
        raise UserError(f"The court's {key} is {value:g} m; it must lie between {low_m:g} and {high_m:g} m.")
    return float(value)


def _words(plain: Mapping[Any, Any], key: str, default: str) -> str:
    value = plain.get(key, default)
    if not isinstance(value, str):
        raise UserError(f"The court's {key} is not text; write it in quotation marks.")
    return value


def _net_heights(rows: object) -> tuple[NetHeight, ...]:
    if not isinstance(rows, list | tuple) or not all(isinstance(row, Mapping) for row in rows):
        raise UserError("The court's net_heights must be a list of entries with name and height_m.")
    return tuple(
        NetHeight(_words(row, "name", "own"), _measure(row, "height_m", 0.5, 3.5), _words(row, "source", ""))
        for row in rows
    )


_FIVB = "FIVB Official Volleyball Rules 2025-2028"
_BEACH = "FIVB Official Beach Volleyball Rules 2025-2028"
_NFHS = "NFHS volleyball rules, as quoted by a state association's rules quiz"
_US_YOUTH = "common practice in United States youth play, no rule text read"
_YOUTH = "General provisions of one German state's volleyball association (no world standard exists)"

_SITTING = "World ParaVolley Official Sitting Volleyball Rules, 1.1, 1.3 and 2.1"

_INDOOR_NETS = (
    NetHeight("women", 2.24, f"{_FIVB}, 2.1.1"),
    NetHeight("men", 2.43, f"{_FIVB}, 2.1.1"),
    NetHeight("girls under 18", 2.24, _YOUTH),
    NetHeight("boys under 18", 2.35, _YOUTH),
    NetHeight("girls under 16", 2.20, _YOUTH),
)
_HIGH_SCHOOL_NETS = (
    NetHeight("girls", 7 * FOOT_M + 4.125 * INCH_M, f"{_NFHS}: 7 ft 4 1/8 in"),
    NetHeight("boys", 7 * FOOT_M + 11.625 * INCH_M, f"{_NFHS}: 7 ft 11 5/8 in"),
    NetHeight("12 and under", 7 * FOOT_M, _US_YOUTH),
    NetHeight("10 and under", 6.5 * FOOT_M, _US_YOUTH),
)
_BEACH_NETS = (
    NetHeight("women", 2.24, f"{_BEACH}, 2.1.1"),
    NetHeight("men", 2.43, f"{_BEACH}, 2.1.1"),
    NetHeight("under 16", 2.24, f"{_BEACH}, 2.1.1"),
    NetHeight("under 14", 2.12, f"{_BEACH}, 2.1.1"),
    NetHeight("under 12", 2.00, f"{_BEACH}, 2.1.1"),
)
_SITTING_NETS = (NetHeight("women", 1.05, _SITTING), NetHeight("men", 1.15, _SITTING))


def _youth(name: str, age: str, length_m: float, width_m: float, net_m: float) -> Court:
    title = f"Youth {width_m:g} × {length_m:g} m ({age})"
    return Court(name, title, length_m, width_m, None, 0.05, True, (NetHeight(age, net_m, _YOUTH),), _YOUTH)


COURTS: dict[str, Court] = {
    court.name: court
    for court in (
        Court("indoor", "Indoor 18 × 9 m", 18.0, 9.0, 3.0, 0.05, True, _INDOOR_NETS, f"{_FIVB}, 1.1 and 1.3"),
        Court(
            "high-school",
            "US high school 60 × 30 ft",
            60 * FOOT_M,
            30 * FOOT_M,
            10 * FOOT_M + INCH_M,
            2 * INCH_M,
            True,
            _HIGH_SCHOOL_NETS,
            f"{_NFHS}: 60 × 30 ft to the outer edges, attack line's middle 10 ft",
        ),
        Court("beach", "Beach 16 × 8 m", 16.0, 8.0, None, 0.05, False, _BEACH_NETS, f"{_BEACH}, 1.1 and 1.3"),
        Court("sitting", "Sitting 10 × 6 m", 10.0, 6.0, 2.0, 0.05, True, _SITTING_NETS, _SITTING),
        _youth("youth-14", "under 14 and 15", 14.0, 7.0, 2.15),
        _youth("youth-13", "under 13", 12.0, 6.0, 2.10),
        _youth("youth-12", "under 11 and 12", 9.0, 4.5, 2.05),
    )
}
"""Courts by name. Other sizes: ``dataclasses.replace`` or `Court.from_dict`."""


def court_named(name: str) -> Court:
    """Return the preset called ``name``.

    Examples
    --------
    >>> court_named("beach").length_m
    16.0
    """
    if name not in COURTS:
        raise UserError(f"There is no court called {name!r}; choose one of {', '.join(COURTS)}.")
    return COURTS[name]


def landmarks(court: Court) -> dict[str, tuple[float, float, float]]:
    """Floor landmarks in the court frame [m], in a good order to click them.

    A landmark is where the OUTER edge of a sideline meets the end line's outer edge, the attack line's rear
    edge or the centre line's axis. The corners come first: the further apart the marks, the better the view.
    Without a painted centre line the ``centre`` landmarks remain: the sidelines right under the net.

    Examples
    --------
    >>> landmarks(court_named("indoor"))["attack-b/left"]
    (-4.5, 3.0, 0.0)
    """
    x_m, end_m = court.half_width_m, court.half_length_m
    rows_m = {"end-b": end_m, "end-a": -end_m}
    if court.attack_line_m is not None:
        rows_m |= {"attack-a": -court.attack_line_m, "attack-b": court.attack_line_m}
    rows_m["centre"] = 0.0
    return {
        f"{line}/{side}": (sign * x_m, y_m, 0.0)
        for line, y_m in rows_m.items()
        for side, sign in (("left", -1.0), ("right", 1.0))
    }


def net_landmarks(court: Court, net_height_m: float) -> dict[str, tuple[float, float, float]]:
    """Landmarks in the air [m]: the net's top above the sidelines and the tops of the antennas.

    Examples
    --------
    >>> net_landmarks(court_named("indoor"), 2.24)["net-top/right"]
    (4.5, 0.0, 2.24)
    """
    heights_m = {"net-top": net_height_m, "antenna-top": net_height_m + ANTENNA_ABOVE_NET_M}
    return {
        f"{line}/{side}": (sign * court.half_width_m, 0.0, z_m)
        for line, z_m in heights_m.items()
        for side, sign in (("left", -1.0), ("right", 1.0))
    }


def painted_lines(court: Court) -> dict[str, Floats]:
    """Corners of every painted strip with its true edges, (4, 2) in the court frame [m].

    Boundary lines lie inside the court, the attack line reaches from its rear edge towards the net, and the
    centre line lies astride its axis (FIVB 1.3.2-1.3.4).

    Examples
    --------
    >>> painted_lines(court_named("indoor"))["attack-b"][:, 1].tolist()
    [2.95, 2.95, 3.0, 3.0]
    """
    x_m, end_m, width_m = court.half_width_m, court.half_length_m, court.line_width_m

    def strip(x0: float, x1: float, y0: float, y1: float) -> Floats:
        return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])

    lines = {
        "end-a": strip(-x_m, x_m, -end_m, width_m - end_m),
        "end-b": strip(-x_m, x_m, end_m - width_m, end_m),
        "left": strip(-x_m, width_m - x_m, -end_m, end_m),
        "right": strip(x_m - width_m, x_m, -end_m, end_m),
    }
    if court.attack_line_m is not None:
        rear_m = court.attack_line_m
        lines["attack-a"] = strip(-x_m, x_m, -rear_m, width_m - rear_m)
        lines["attack-b"] = strip(-x_m, x_m, rear_m - width_m, rear_m)
    if court.centre_line:
        lines["centre"] = strip(-x_m, x_m, -width_m / 2, width_m / 2)
    return lines


def to_half(points_m: ArrayLike, served_to: Literal["a", "b"], court: Court) -> Floats:
    """Turn points (N, 2) [m] of the court frame into the half frame of a serve to that end.

    Examples
    --------
    >>> to_half([(-4.0, 8.5)], "b", court_named("indoor")).tolist()
    [[0.5, 8.5]]
    """
    points = _points(points_m)
    turn = _turn(served_to)
    return np.column_stack([court.half_width_m + turn * points[:, 0], turn * points[:, 1]])


def from_half(points_half_m: ArrayLike, served_to: Literal["a", "b"], court: Court) -> Floats:
    """Turn points (N, 2) [m] of the half frame back into the court frame, the inverse of `to_half`.

    Examples
    --------
    >>> from_half([(0.5, 8.5)], "a", court_named("indoor")).tolist()
    [[4.0, -8.5]]
    """
    points = _points(points_half_m)
    turn = _turn(served_to)
    return np.column_stack([turn * (points[:, 0] - court.half_width_m), turn * points[:, 1]])


def _turn(served_to: str) -> float:
    if served_to not in ("a", "b"):
        raise ValueError(f"served_to must be 'a' or 'b', not {served_to!r}")
    return 1.0 if served_to == "b" else -1.0


def _points(points_m: ArrayLike) -> Floats:
    points = np.asarray(points_m, dtype=float)
    if points.ndim != 2 or points.shape[1] != 2:
        raise ValueError(f"points must have shape (N, 2), not {points.shape}")
    return points
