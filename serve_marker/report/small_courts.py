"""A small court for each line of a sheet's table, where the page has room left for them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from serve_marker.court.aims import Aim
from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.report.charts import draw_half_court, draw_landings
from serve_marker.report.colours import PAPER_COLOURS
from serve_marker.report.lettering import NOTE_PT, fitted
from serve_marker.report.page_canvas import MARGIN_IN, Page

if TYPE_CHECKING:
    import pandas

ACROSS = 4
GAP_IN = 0.15
WORDS_IN = 0.36
Group = tuple[str, str, "pandas.DataFrame", Aim | None]


def draw_small_courts(
    page: Page, groups: Sequence[Group], court: Court, scheme: AreaScheme, keep_in: float = 0.0
) -> None:
    """Draw the landings of each group (title, count in words, serves, aim) where all of them fit.

    ``keep_in`` is what has to stay free below. The shapes are those of the large court's legend.
    """
    width_in = (page.inner_in - (ACROSS - 1) * GAP_IN) / ACROSS
    height_in = width_in + WORDS_IN
    lines = -(-len(groups) // ACROSS)
    if len(groups) < 2 or lines * (height_in + GAP_IN) + GAP_IN > page.left_over_in - keep_in:
        return
    top_in = page.down_in + GAP_IN
    for number, (title, counted, rows, aim) in enumerate(groups):
        right_in = MARGIN_IN + number % ACROSS * (width_in + GAP_IN)
        down_in = top_in + number // ACROSS * (height_in + GAP_IN)
        page.words(fitted(title, width_in, NOTE_PT, True), right_in, down_in, size=NOTE_PT, weight="bold")
        faint = PAPER_COLOURS.of("faint-ink")
        page.words(fitted(counted, width_in, NOTE_PT), right_in, down_in + 0.15, size=NOTE_PT, color=faint)
        axes = page.box(right_in, down_in + WORDS_IN, width_in, width_in)
        draw_half_court(axes, court, scheme, aim, PAPER_COLOURS)
        draw_landings(axes, rows, PAPER_COLOURS, 4.5)
    page.down_in = top_in + lines * (height_in + GAP_IN)
