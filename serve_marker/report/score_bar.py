"""A count of serves as a bar: solid for sure, pale with an outline for what cannot be told, chance a line below."""

from __future__ import annotations

from typing import Any

from serve_marker.report.colours import PAPER_COLOURS
from serve_marker.report.page_canvas import Page
from serve_marker.study.rates import Rate
from serve_marker.study.serve_shape import OnTarget

BAR_IN, CHANCE_IN = 0.11, 0.045
PALE = 0.1
"""How much ink fills what cannot be told: so little that it does not look like a hit."""


def draw_score_bar(page: Page, place_in: tuple[float, float, float], found: OnTarget, rate: Rate) -> None:
    """Draw a count of one serve or more into ``place_in``, its left, top and width [inch], with where its rate lies."""
    left_in, down_in, width_in = place_in
    sure_in, untold_in = (width_in * count / found.n for count in (found.hits, found.untold))
    disc = PAPER_COLOURS.of("disc")
    green: dict[str, Any] = {"color": disc, "linewidth": 0.0}
    page.rectangle(left_in, down_in, width_in, BAR_IN, facecolor=PAPER_COLOURS.of("panel"), linewidth=0.0)
    page.rectangle(left_in, down_in, sure_in, BAR_IN, **green)
    page.rectangle(left_in + sure_in, down_in, untold_in, BAR_IN, alpha=PALE, **green)
    if found.untold:
        outline: dict[str, Any] = {"fill": False, "edgecolor": disc, "linewidth": 1.0}
        page.rectangle(left_in + sure_in, down_in, untold_in, BAR_IN, **outline)
    if rate.enough:
        from_in, to_in = left_in + rate.low * width_in, left_in + rate.high * width_in
        chance: dict[str, Any] = {"color": PAPER_COLOURS.of("faint-ink"), "linewidth": 0.8}
        page.level_line(from_in, to_in, down_in + BAR_IN + CHANCE_IN, **chance)
