"""Serves drawn from the spread of their servers: where each would come down, and how fast it flies there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.aims import parse_aim
from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import Court, Floats
from serve_marker.demo_season.scenario import Block, Evening, SeasonScenario, ServerSpread


@dataclass(frozen=True, eq=False)
class DrawnServes:
    """N serves of an evening in their order.

    Parameters
    ----------
    spreads, blocks : whose serve each is, and what was asked, N each.
    half_xy_m : (N, 2), where the ball comes down unless net or passer stops it, in the half frame [m].
    into_net : (N,), whether it is one of those served into the net.
    pace_mps : (N,), the pace it is hit at [m/s].
    """

    spreads: tuple[ServerSpread, ...]
    blocks: tuple[Block, ...]
    half_xy_m: Floats
    into_net: NDArray[np.bool_]
    pace_mps: Floats

    def __len__(self) -> int:
        return len(self.spreads)

    @property
    def serve_types(self) -> list[str]:
        """The type of each serve."""
        return [spread.serve_type for spread in self.spreads]


def drawn(season: SeasonScenario, evening: Evening, court: Court, rng: np.random.Generator) -> DrawnServes:
    """Return the serves of an evening.

    A server's landings are normal about the aim's middle and her pull. Of their variance ``evening_share`` is drawn
    once an evening, the rest for each serve.
    """
    turns = _turns(season, evening, rng)
    spreads, blocks = tuple(spread for spread, _ in turns), tuple(block for _, block in turns)
    over, count = season.over_at(evening), len(turns)
    centres_m = {block.aim: _centre_m(block.aim, court) for block in evening.blocks}
    leaning = {spread: rng.standard_normal(2) for spread in season.spreads}
    own = np.array([leaning[spread] for spread in spreads])
    share = season.evening_share
    off = np.sqrt(share) * own + np.sqrt(1 - share) * rng.standard_normal((count, 2))
    middle_m = np.array([centres_m[block.aim] for block in blocks]) + np.array([spread.pull_m for spread in spreads])
    half_xy_m = middle_m + off * np.array([spread.spread_at(over) for spread in spreads])
    into_net = rng.random(count) < np.array([spread.into_net_at(over) for spread in spreads])
    paces_mps = np.array([spread.pace_mps for spread in spreads])
    return DrawnServes(
        spreads,
        blocks,
        half_xy_m,
        into_net,
        paces_mps[:, 0] + paces_mps[:, 1] * rng.standard_normal(count),
    )


def _turns(season: SeasonScenario, evening: Evening, rng: np.random.Generator) -> list[tuple[ServerSpread, Block]]:
    """Whose turn it is with what: block after block, round after round."""
    turns = []
    for block in evening.blocks:
        away = {*evening.absent, *season.passers_named(block.passers)}
        there = [spreads for server, spreads in season.spreads_of.items() if server not in away]
        for _ in range(block.serves):
            for spreads in there:
                shares = [spread.share for spread in spreads]
                turns.append((spreads[int(rng.choice(len(spreads), p=shares))], block))
    return turns


def _centre_m(text: str, court: Court) -> tuple[float, float]:
    aim = parse_aim(text, court, default_scheme(court))
    return aim.centre_m if aim else (court.half_width_m, court.half_length_m / 2)
