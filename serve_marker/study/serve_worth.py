"""What a serve is worth by where it comes down: the coach's own values, in points of her choice."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

import numpy as np

from serve_marker.court.aims import Aim, aim_hit, parse_aim
from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court, Floats
from serve_marker.court.line_calls import CONTACT_RADIUS_M
from serve_marker.errors import UserError


@dataclass(frozen=True)
class ServeWorth:
    """The values of a serve into the net, long, wide, and in; ``places`` holds aims by name that are worth otherwise.

    A ball that hits several of the places is worth what the best of them is. The values to begin with say only that a
    hit is twice as good as any other serve in (own choice); no published figure says what an area is worth to a team.
    """

    on_court: float = 0.5
    net: float = 0.0
    long: float = 0.0
    wide: float = 0.0
    places: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def of_aim(cls, aim: str) -> ServeWorth:
        """Return the values to begin with for serves at one aim."""
        return cls(places={aim: 1.0} if aim else {})

    def to_dict(self) -> dict[str, object]:
        """Return plain values fit for JSON."""
        return asdict(self) | {"places": dict(self.places)}

    @classmethod
    def read(cls, path: Path) -> ServeWorth:
        """Read the values from a file, as `from_text`.

        Raises
        ------
        UserError : where it cannot be read, or holds something else.
        """
        try:
            return cls.from_text(path.read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError):
            raise UserError(f"{path.name} cannot be read; choose a file with the worth of serves.") from None

    @classmethod
    def from_text(cls, text: str) -> ServeWorth:
        """Read the values from JSON; those left out stay as they are to begin with.

        Raises
        ------
        UserError : where it is no set of named numbers.

        Examples
        --------
        >>> ServeWorth.from_text('{"long": -1, "places": {"deep 1": 2}}').places["deep 1"]
        2.0
        """
        try:
            plain = json.loads(text)
        except ValueError:
            raise UserError("The worth of serves is no JSON. Write a file as the guide shows.") from None
        names = set(asdict(cls()))
        if not isinstance(plain, dict) or not set(plain) <= names:
            raise UserError(f"The worth of serves is told by {', '.join(sorted(names))} alone; take the rest away.")
        places = plain.pop("places", {})
        values = [*plain.values(), *(places.values() if isinstance(places, dict) else [None])]
        if not all(isinstance(value, int | float) and math.isfinite(value) for value in values):
            raise UserError("Each worth of a serve must be a number. Places name an aim and a number.")
        if not all(name.strip() for name in places):
            raise UserError("A place that is worth something needs the name of an aim.")
        numbers = {name: float(value) for name, value in plain.items()}
        return cls(**numbers, places={name: float(value) for name, value in places.items()})


@dataclass(frozen=True, eq=False)
class CourtWorth:
    """The worth of every place of one court's half."""

    worth: ServeWorth
    court: Court
    aims: tuple[Aim, ...]

    @classmethod
    def on(cls, worth: ServeWorth, court: Court, scheme: AreaScheme) -> CourtWorth:
        """Return the values on a court.

        Raises
        ------
        UserError : where one of the places is no aim on this court.
        """
        aims = (parse_aim(name, court, scheme) for name in worth.places)
        return cls(worth, court, tuple(aim for aim in aims if aim is not None))

    def __call__(self, places_m: Floats) -> Floats:
        """Return the worth (N,) of landing at places (N, 2) of the half frame [m]."""
        x_m, y_m = places_m.T
        beside_m = np.maximum(-x_m, x_m - self.court.width_m)
        on_court = (beside_m <= CONTACT_RADIUS_M) & (y_m <= self.court.half_length_m + CONTACT_RADIUS_M)
        found = np.where(on_court, self.worth.on_court, self.worth.wide)
        found[y_m > self.court.half_length_m + CONTACT_RADIUS_M] = self.worth.long
        found[on_court] = self._in(places_m[on_court])
        found[y_m < 0] = self.worth.net
        return found

    def _in(self, places_m: Floats) -> Floats:
        best = np.full(len(places_m), -np.inf)
        for aim, value in zip(self.aims, self.worth.places.values(), strict=True):
            hit = aim_hit(places_m, aim, self.court)
            best[hit] = np.maximum(best[hit], value)
        return np.where(np.isfinite(best), best, self.worth.on_court)
