"""What is written down of the demo's season: who scatters how, and what was served when. All of it is invented."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from serve_marker.court.dimensions import Floats

SCENARIO_FILE = "season.json"


@dataclass(frozen=True)
class ServerSpread:
    """How one server scatters with one type of serve; pairs of pairs and ``into_net`` hold for first and last evening.

    Parameters
    ----------
    pull_m : how far her mean landing is from the middle of the aim [m]: right (+) and long (+), as she sees it.
    spread_m : standard deviations across and along [m], the evening's own share of them included.
    into_net : share of serves that end in the net.
    pace_mps : mean and standard deviation of the pace she hits at [m/s].
    post_x_m : where she serves from in the court frame [m].
    share : of her serves that are of this type.
    """

    server: str
    serve_type: str
    pull_m: tuple[float, float]
    spread_m: tuple[tuple[float, float], tuple[float, float]]
    into_net: tuple[float, float]
    pace_mps: tuple[float, float]
    post_x_m: float
    share: float = 1.0

    def spread_at(self, part: float) -> Floats:
        """Return the deviations (2,) [m] when ``part`` of the season is over."""
        import numpy as np

        first, last = np.array(self.spread_m)
        return np.asarray(first + part * (last - first))

    def into_net_at(self, part: float) -> float:
        """Return the share of nets when ``part`` of the season is over."""
        first, last = self.into_net
        return first + part * (last - first)


@dataclass(frozen=True)
class Block:
    """What everybody serves for a while, ``serves`` times each, but those who receive: a formation's name, or ""."""

    aim: str
    serves: int
    passers: str = ""
    full_pace: bool = False


@dataclass(frozen=True)
class Evening:
    """One practice. ``mats`` are (x, y, width, depth) in the half frame [m]; ``filmed_passers`` stand in its film."""

    date: str
    practice: str
    view: str
    blocks: tuple[Block, ...]
    target_kind: str = "none"
    mats: tuple[tuple[float, float, float, float], ...] = ()
    absent: tuple[str, ...] = ()
    filmed_passers: str = ""

    def target_kind_of(self, block: Block) -> str:
        """Return what a block is served at: those who receive, else the evening's targets."""
        return "people" if block.passers else self.target_kind


@dataclass(frozen=True)
class SeasonScenario:
    """The whole scenario.

    Parameters
    ----------
    evening_share : share of each variance that lies between a server's evenings [0-1].
    players, formations : as `serve_marker.logbook.records.Player` and `serve_marker.court.formations.Formation` take
        them.
    counted : by server, what a tally holds of serves counted beside the court.
    """

    seed: int
    evening_share: float
    players: tuple[dict[str, Any], ...]
    spreads: tuple[ServerSpread, ...]
    formations: tuple[dict[str, Any], ...]
    evenings: tuple[Evening, ...]
    counted: dict[str, dict[str, Any]]

    @cached_property
    def spreads_of(self) -> dict[str, list[ServerSpread]]:
        """The spreads of each server, in the order in which they serve."""
        found: dict[str, list[ServerSpread]] = {}
        for spread in self.spreads:
            found.setdefault(spread.server, []).append(spread)
        return found

    def passers_named(self, formation: str) -> set[str]:
        """Return the names of those who stand in a formation; none in ""."""
        named = (plain["passers"] for plain in self.formations if plain["name"] == formation)
        return {one.get("name", "") for passers in named for one in passers}

    def over_at(self, evening: Evening) -> float:
        """Return which part of the season is over on an evening: 0 on the first, 1 on the last."""
        return self.evenings.index(evening) / (len(self.evenings) - 1)


def read_season(path: Path) -> SeasonScenario:
    """Return the season of a scenario file."""
    plain = json.loads(path.read_text(encoding="utf-8"), object_hook=_with_tuples)
    blocks = [tuple(Block(**block) for block in evening.pop("blocks")) for evening in plain["evenings"]]
    evenings = zip(plain.pop("evenings"), blocks, strict=True)
    return SeasonScenario(
        spreads=tuple(ServerSpread(**spread) for spread in plain.pop("spreads")),
        evenings=tuple(Evening(**evening, blocks=its) for evening, its in evenings),
        **plain,
    )


def _with_tuples(plain: dict[str, Any]) -> dict[str, Any]:
    return {name: _tuples(value) for name, value in plain.items()}


def _tuples(value: Any) -> Any:
    return tuple(map(_tuples, value)) if isinstance(value, list) else value
