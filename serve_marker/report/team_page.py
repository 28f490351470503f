"""The team's sheet for the wall: large figures and a court for each server; on its back the table and the method."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from serve_marker.court.aims import aim_name
from serve_marker.report.charts import draw_aim, draw_half_court, draw_landings, draw_legend
from serve_marker.report.coach_page import CHARTS_IN, NOTES_IN, coach_page, draw_charts, draw_notes
from serve_marker.report.colours import PAPER_COLOURS
from serve_marker.report.headline_figures import draw_figures, passers_figures, serve_figures
from serve_marker.report.lettering import (
    ADVICE_PT,
    FIGURE_NAME_PT,
    NOTE_PT,
    TEXT_PT,
    WALL_NAME_PT,
    fitted,
    width_of,
)
from serve_marker.report.page_canvas import MARGIN_IN, Column, Page, number_pages
from serve_marker.report.paper_sizes import DEFAULT_PAPER
from serve_marker.report.score_bar import draw_score_bar
from serve_marker.report.sheets import (
    COUNT_COLUMNS,
    ReportData,
    at_passers_first,
    count_cells,
    days_words,
    drill_words,
    loads_of_week,
    passer_sentences,
    practice_words,
)
from serve_marker.study.by_server import rows_by_server
from serve_marker.study.compare_servers import servers_sentences
from serve_marker.study.fewest_serves import FEWEST
from serve_marker.study.loads import COUNTED, LOAD_NOTE, load_words
from serve_marker.study.pull import bias_of
from serve_marker.study.rates import aim_rate, in_rate
from serve_marker.study.sentences import (
    INTERVAL_WORDS,
    ONE_EVENING_WORDS,
    PULL_WORDS,
    TOO_CLOSE_WORDS,
    bias_words,
    placed_words,
    practice_summary,
)
from serve_marker.study.serve_shape import OnTarget, on_target, untold_words
from serve_marker.study.what_to_do import get_it_in, rows_at_aims

if TYPE_CHECKING:
    import pandas

GAP_IN, HEAD_IN, LEGEND_IN = 0.18, 0.74, 0.6
ACROSS = (2, 3, 4)
LEAST_COURT_IN = 1.25
"""Smaller courts go on to another page."""
LEAST_SCORE_IN, SCORE_PT = 1.6, 11.0
AROUND_M, BEHIND_M, BEFORE_M = 0.6, 1.0, 0.4
CAPTION = "In order of shirt number. Solid: on target. Pale: cannot tell. Thin line: her true rate. Table: last pages."
Servers = Sequence[tuple[str, "pandas.DataFrame"]]
TABLE = (
    Column("server", 1.1),
    *COUNT_COLUMNS,
    Column("pull", 1.42),
    Column("placed", 0.74, "right"),
    Column("week (jump)", 0.88, "right"),
)


def team_pages(data: ReportData, practice_id: str | None = None, paper: str = DEFAULT_PAPER) -> list[Page]:
    """Return the pages for the wall, as many as the servers need, and then those for the coach."""
    rows = data.of_practice(practice_id)
    if not len(rows):
        page = Page(paper)
        page.headline(data.team or "Team sheet")
        page.paragraph("No serves are marked yet.", ADVICE_PT, bold=True)
        return [page]
    pages = [*_wall_pages(rows, data, paper), *_back_pages(rows, data, paper)]
    number_pages(pages, NOTE_PT)
    return pages


def _wall_pages(rows: pandas.DataFrame, data: ReportData, paper: str) -> list[Page]:
    servers = rows_by_server(rows)
    pages = [Page(paper)]
    _draw_head(pages[0], rows, data)
    across, down = _grid(len(servers), pages[0])
    while servers:
        shown, servers = servers[: across * down], servers[across * down :]
        _draw_servers(pages[-1], shown, data, across, down)
        _draw_foot(pages[-1], [own for _, own in shown])
        if servers:
            pages.append(Page(paper))
            down = _most_down(pages[-1])
    return pages


def _draw_head(page: Page, rows: pandas.DataFrame, data: ReportData) -> None:
    practices = practice_words(rows)
    several = rows["practice_id"].nunique() > 1
    title = data.team if several or not practices else practices
    page.headline(title or "Team sheet")
    parts = practices if several else data.team, days_words(rows)
    page.line(" · ".join(part for part in parts if part), FIGURE_NAME_PT - 2, faint=True)
    told = get_it_in(rows, data.settings) if len(rows) >= FEWEST else None
    page.paragraph(told.sentence if told is not None else "", FIGURE_NAME_PT + 1, bold=True)
    page.down_in += 0.1
    draw_figures(page, passers_figures(rows) if at_passers_first(rows) else serve_figures(rows))
    page.down_in += 0.2


def _grid(servers: int, page: Page) -> tuple[int, int]:
    """How many courts stand beside and below one another: the largest that show all servers, else as many as fit."""
    grids = [(across, -(-servers // across)) for across in ACROSS]
    sizes_in = [_court_in(page, *grid) for grid in grids]
    if max(sizes_in) >= LEAST_COURT_IN:
        return grids[sizes_in.index(max(sizes_in))]
    return ACROSS[-1], _most_down(page)


def _most_down(page: Page) -> int:
    """How many of the smallest courts stand below one another."""
    return max(int((page.left_over_in - LEGEND_IN) / (HEAD_IN + LEAST_COURT_IN + GAP_IN)), 1)


def _column_in(page: Page, across: int) -> float:
    return (page.inner_in - (across - 1) * GAP_IN) / across


def _court_in(page: Page, across: int, down: int) -> float:
    """The side of each court of a grid."""
    return min((page.left_over_in - LEGEND_IN) / down - HEAD_IN - GAP_IN, _column_in(page, across))


def _draw_servers(page: Page, servers: Servers, data: ReportData, across: int, down: int) -> None:
    width_in, court_in = _column_in(page, across), _court_in(page, across, down)
    for place, (name, own) in enumerate(servers):
        line, column = divmod(place, across)
        left_in = MARGIN_IN + column * (width_in + GAP_IN)
        down_in = page.down_in + line * (HEAD_IN + court_in + GAP_IN)
        looks: dict[str, Any] = {"size": WALL_NAME_PT, "weight": "bold"}
        page.words(fitted(name, width_in, WALL_NAME_PT, bold=True), left_in, down_in, **looks)
        _draw_score(page, own, left_in, down_in + 0.34, max(court_in, LEAST_SCORE_IN))
        box = page.box(left_in, down_in + HEAD_IN, court_in, court_in)
        draw_half_court(box, data.court, data.scheme, None, PAPER_COLOURS)
        box.set_xlim(-AROUND_M, data.court.width_m + AROUND_M)
        box.set_ylim(-BEFORE_M, data.court.half_length_m + BEHIND_M)
        box.set_anchor("NW")
        for aim, _ in rows_at_aims(own, data.court, data.scheme):
            draw_aim(box, aim, PAPER_COLOURS)
        draw_landings(box, own, PAPER_COLOURS, 3.0 * min(court_in, 2.4), with_errors=False)


def _draw_score(page: Page, own: pandas.DataFrame, left_in: float, down_in: float, width_in: float) -> None:
    """Draw a count in words and as a bar: solid for sure, pale with an outline for too close, chance a line below."""
    found = on_target(own)
    rate = aim_rate(own) if found.n else in_rate(own)
    aims = set(own["aim"]) - {""}
    what = (f" in {aim_name(aims.pop())}" if len(aims) == 1 else " on target") if found.n else " in"
    found = found if found.n else OnTarget(rate.n, rate.hits, rate.most - rate.hits, 0)
    counted, close = f"{found.hits} of {found.n}", untold_words(found)
    room_in = width_in - width_of(close, NOTE_PT) - 0.08
    words = next((words for words in (counted + what, counted) if width_of(words, SCORE_PT, True) <= room_in), counted)
    page.words(words, left_in, down_in, size=SCORE_PT, weight="bold")
    faint = PAPER_COLOURS.of("faint-ink")
    page.words(close, left_in + width_in, down_in + 0.03, size=NOTE_PT, color=faint, ha="right")
    draw_score_bar(page, (left_in, down_in + 0.2, width_in), found, rate)


def _draw_foot(page: Page, shown: Sequence[pandas.DataFrame]) -> None:
    """Draw the legend of the servers of this page, and the order in which they stand."""
    import pandas as pd

    foot = page.place(page.width_in / 2, page.height_in - MARGIN_IN - 0.05)
    draw_legend(page.figure, pd.concat(shown), PAPER_COLOURS, foot, size_pt=TEXT_PT, ncols=4, on_map=False)
    below_in = page.height_in - MARGIN_IN + 0.1
    room_in = page.inner_in - 0.8
    looks = {"size": NOTE_PT - 0.5, "color": PAPER_COLOURS.of("faint-ink")}
    page.words(fitted(CAPTION, room_in, NOTE_PT - 0.5), MARGIN_IN, below_in, **looks)


def _back_pages(rows: pandas.DataFrame, data: ReportData, paper: str) -> list[Page]:
    servers = servers_sentences(rows) if rows["player_id"].nunique() > 1 else ()
    sentences = [*at_passers_first(rows), *practice_summary(rows), " ".join(servers), *passer_sentences(rows, data)]
    title = " · ".join(part for part in (data.team, practice_words(rows)) if part)
    subtitle = " · ".join(part for part in (days_words(rows), drill_words(rows)) if part)
    pages = [coach_page(paper, f"{title or 'Team'}: for the coach", subtitle, sentences)]
    lines = _table_lines(rows, data)
    while lines:
        lines = lines[pages[-1].table(TABLE, lines) :]
        pages += [Page(paper)] if lines else []
    if pages[-1].left_over_in < CHARTS_IN + NOTES_IN + 0.2:
        pages.append(Page(paper))
    pages[-1].down_in += 0.15
    draw_charts(pages[-1], rows, data, CHARTS_IN)
    week = f"Week: serves of that week, jump serves in brackets. A range: some types were not said. {LOAD_NOTE}"
    draw_notes(pages[-1], [TOO_CLOSE_WORDS, f"{INTERVAL_WORDS} {ONE_EVENING_WORDS} {PULL_WORDS}", week])
    return pages


def _table_lines(rows: pandas.DataFrame, data: ReportData) -> list[list[str]]:
    groups, loads, lines = rows_by_server(rows), loads_of_week(rows, data), []
    for name, own in groups:
        player_id, lean = str(own["player_id"].iloc[0]), bias_of(own, 2 * len(groups))
        load = load_words(*loads.loc[player_id, list(COUNTED[:3])]) if player_id in loads.index else ""
        lines.append([name, *count_cells(own), "", bias_words(lean), placed_words(lean), load])
    return lines
