"""Where each server serves best: a page for the bench, and the same as a chart."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from serve_marker.court.formations import Formation
from serve_marker.report.charts import draw_half_court
from serve_marker.report.colours import PAPER_COLOURS
from serve_marker.report.free_places import FreePlaces
from serve_marker.report.grid_chart import SCREEN, Grid, GridCell
from serve_marker.report.lettering import NOTE_PT, SMALL_CHART_PT, SMALLEST_PT, fitted, write
from serve_marker.report.page_canvas import MARGIN_IN, Page
from serve_marker.report.paper_sizes import DEFAULT_PAPER
from serve_marker.report.sheets import ReportData
from serve_marker.report.wall_pages import wall_page
from serve_marker.study.match_day import MatchCard, match_card, named_aims
from serve_marker.study.match_day_words import (
    NO_CARD_WORDS,
    best_aim_words,
    card_notes,
    match_card_sentence,
    passes_sentence,
    practise_sentence,
    promise_words,
)

if TYPE_CHECKING:
    import pandas
    from matplotlib.axes import Axes

ACROSS = 3
MOST_IN_FULL = 2
"""Beside so many formations their cells hold all there is to say."""
BENCH = (0.42, 11.0)
GAP_IN, WORDS_IN = 0.2, 0.24
BESIDE, ROW_M = 2, 0.62
ASIDE_M = (0.0, 0.7, -0.7, 1.1, -1.1)
"""So many servers stand beside each other at an aim, their rows so far apart."""
LEAST_WIDE_IN, MOST_WIDE_IN = 1.2, 4.4


def match_card_of(table: pandas.DataFrame, data: ReportData) -> MatchCard:
    """Return the match-day card of the servers of a table."""
    return match_card(table, data.court, data.scheme, data.formations, data.settings)


def match_day_grid(card: MatchCard) -> Grid:
    """Return servers x formations, each cell filled by the chance to win the rally."""
    rows, short = [], is_short(card)
    for server, own in zip(card.servers, card.cells, strict=True):
        cells = (
            GridCell(best_aim_words(cell), promise_words(cell, short), cell.best.chance if cell.best else 0.0)
            for cell in own
        )
        rows.append((server.words, tuple(cells), ""))
    heads = tuple(f"{'' if short else 'against '}{formation.name}" for formation in card.formations)
    return Grid(heads, tuple(rows), nothing=NO_CARD_WORDS)


def is_short(card: MatchCard) -> bool:
    """Whether so many formations leave room only for the shortest words."""
    return len(card.formations) > MOST_IN_FULL


def match_day_page(data: ReportData, paper: str = DEFAULT_PAPER) -> Page:
    """Return where each server serves best against each formation, one page for the bench."""
    card = match_card_of(data.table, data)
    today = max(data.table["date"], default="")
    sentences = [match_card_sentence(card), passes_sentence(card)]
    notes = [*filter(None, [practise_sentence(card)]), *card_notes(card, is_short(card))]
    most = SCREEN if is_short(card) else BENCH
    page = wall_page(data, paper, "Match day", today, sentences, match_day_grid(card), notes, most)
    if card.servers:
        _draw_courts(page, card, data)
    return page


def _draw_courts(page: Page, card: MatchCard, data: ReportData) -> None:
    """Draw the passers of each formation, and each server at her best aim, as large as there is room."""
    count = len(card.formations)
    across = min(count, ACROSS)
    lines = -(-count // across)
    high_in = (page.left_over_in - GAP_IN) / lines - WORDS_IN - GAP_IN
    width_in = min((page.inner_in - (across - 1) * GAP_IN) / across, MOST_WIDE_IN, high_in)
    if width_in < LEAST_WIDE_IN:
        return
    top_in = page.down_in + GAP_IN
    for number, formation in enumerate(card.formations):
        right_in = MARGIN_IN + number % across * (width_in + GAP_IN)
        down_in = top_in + number // across * (width_in + WORDS_IN + GAP_IN)
        page.words(fitted(formation.name, width_in, NOTE_PT, True), right_in, down_in, size=NOTE_PT, weight="bold")
        axes = page.box(right_in, down_in + WORDS_IN, width_in, width_in)
        best = [cells[number].best for cells in card.cells]
        _draw_court(axes, formation, [one.aim if one else "" for one in best], card, data)
    page.down_in = top_in + lines * (width_in + WORDS_IN + GAP_IN)


def _draw_court(axes: Axes, formation: Formation, best: Sequence[str], card: MatchCard, data: ReportData) -> None:
    draw_half_court(axes, data.court, data.scheme, None, PAPER_COLOURS)
    ink = PAPER_COLOURS.of("ink")
    for passer in formation.passers:
        spot: dict[str, Any] = {"markersize": 8, "color": PAPER_COLOURS.of("paper"), "markeredgecolor": ink}
        axes.plot(passer.x_m, passer.y_m, marker="s", linestyle="none", zorder=6, **spot)
        label: dict[str, Any] = {"size": SMALLEST_PT, "color": ink, "ha": "center", "va": "top", "zorder": 8}
        write(axes, passer.x_m, passer.y_m - 0.25, passer.label, **label)
    there: defaultdict[str, list[str]] = defaultdict(list)
    for server, name in zip(card.servers, best, strict=True):
        there[name].append(server.words.partition(" ")[0])
    looks: dict[str, Any] = {"size": SMALL_CHART_PT, "weight": "bold", "ha": "center", "va": "center", "zorder": 9}
    ground = {"boxstyle": "round,pad=0.15", "facecolor": PAPER_COLOURS.of("paper"), "edgecolor": "none"}
    stand_m = np.array([(passer.x_m, passer.y_m) for passer in formation.passers]).reshape(-1, 2)
    free = FreePlaces(np.hstack([np.subtract(stand_m, (0.9, 0.8)), np.add(stand_m, (0.9, 0.3))]))
    for aim in named_aims(data.court, data.scheme):
        if aim.text in there:
            x_m, y_m = aim.centre_m
            rows = [", ".join(there[aim.text][at : at + BESIDE]) for at in range(0, len(there[aim.text]), BESIDE)]
            half_m = ROW_M * len(rows) / 2
            middles_m = [y_m + off_m for off_m in ASIDE_M]
            boxes_m = [(x_m - 0.8, at_m - half_m, x_m + 0.8, at_m + half_m) for at_m in middles_m]
            low_m = (free.take(boxes_m) or boxes_m[0])[1]
            for row, words in enumerate(reversed(rows)):
                at_m = low_m + ROW_M * (row + 0.5)
                write(axes, x_m, at_m, words, color=PAPER_COLOURS.of("ink"), bbox=ground, **looks)
