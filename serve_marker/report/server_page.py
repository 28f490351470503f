"""One server's sheet: a page she reads in ten seconds, and on its back what that stands on."""

from __future__ import annotations

from itertools import accumulate
from typing import TYPE_CHECKING

from serve_marker.court.aims import aim_words
from serve_marker.report.aims_court import MOST_AIMS, draw_aims_court
from serve_marker.report.charts import draw_legend
from serve_marker.report.coach_page import NOTES_IN, coach_page, draw_charts, draw_notes
from serve_marker.report.colours import PAPER_COLOURS
from serve_marker.report.headline_figures import draw_figures, serve_figures
from serve_marker.report.lettering import ADVICE_PT, FIGURE_NAME_PT, NOTE_PT, TABLE_PT, TEXT_PT, fitting_pt
from serve_marker.report.page_canvas import MARGIN_IN, Column, Page, lines_within, number_pages, table_height_in
from serve_marker.report.paper_sizes import DEFAULT_PAPER
from serve_marker.report.score_bar import draw_score_bar
from serve_marker.report.serve_strip import draw_serve_strip
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
    practices_by_day,
    type_sentence,
)
from serve_marker.study.by_server import UNKNOWN
from serve_marker.study.climb import Climb, climbs
from serve_marker.study.compare import first_and_last_sentence, trend, trend_sentence
from serve_marker.study.depth_shares import depth_shares, depth_shares_sentence
from serve_marker.study.loads import COUNTED, LOAD_NOTE, load_words
from serve_marker.study.pull import bias_of
from serve_marker.study.sentences import (
    INTERVAL_WORDS,
    PULL_WORDS,
    TOO_CLOSE_WORDS,
    bias_words,
    clearance_sentence,
    count_words,
    effort_sentence,
    gate_sentence,
    placed_words,
    practice_summary,
    rate_words,
)
from serve_marker.study.serve_shape import OnTarget
from serve_marker.study.spread_words import spread_sentence
from serve_marker.study.what_to_do import WhatToDo, what_to_do

if TYPE_CHECKING:
    import pandas

LEGEND_IN, LEAST_ADVICE_PT = 0.62, 17.0
TREND_NAME_IN, TREND_COUNT_IN = 1.1, 1.9
LEAST_LINES = 10
TABLE = (
    Column("practice", 0.9),
    Column("aim", 1.16),
    *COUNT_COLUMNS,
    Column("pull", 1.42),
    Column("placed", 0.72, "right"),
)


def server_pages(
    data: ReportData, player_id: str, practice_id: str | None = None, paper: str = DEFAULT_PAPER
) -> list[Page]:
    """Return the front and the back of one server's sheet, "" for serves whose server is not known.

    Without any serves there is a front only.
    """
    everything = data.table[data.table["player_id"] == player_id]
    rows = data.of_practice(practice_id)
    rows = rows[rows["player_id"] == player_id]
    shown = rows if len(rows) else everything
    name = (str(shown["server"].iloc[-1]) if len(shown) else "") or UNKNOWN
    climb = climb_by(everything, data, max(rows["date"], default=""))
    told = what_to_do(rows, data.court, data.scheme, data.settings, climb)
    pages = [_front(name, rows, data, told, paper)]
    if len(rows):
        pages.append(_back(name, rows, everything, data, told, paper))
    number_pages(pages, NOTE_PT)
    return pages


def climb_by(everything: pandas.DataFrame, data: ReportData, day: str) -> Climb | None:
    """How far a server was on the ladder at the end of a day; None where there is no step, or no day."""
    found = climbs(everything[everything["date"] <= day], data.ladder, data.settings.most_errors) if data.ladder else []
    return found[0] if found else None


def _front(name: str, rows: pandas.DataFrame, data: ReportData, told: WhatToDo, paper: str) -> Page:
    page = Page(paper)
    page.headline(name)
    parts = data.team, practice_words(rows), days_words(rows)
    page.line(" · ".join(part for part in parts if part), FIGURE_NAME_PT - 2, faint=True)
    page.down_in += 0.08
    advice = told.sentence if len(rows) else "No serves are marked yet."
    page.paragraph(advice, fitting_pt(advice, page.inner_in, ADVICE_PT, LEAST_ADVICE_PT), bold=True)
    page.down_in += 0.06
    draw_figures(page, serve_figures(rows))
    page.down_in += 0.14
    draw_serve_strip(page, rows)
    page.down_in += 0.08
    size_in = page.inner_in, page.left_over_in - LEGEND_IN
    court = page.box(MARGIN_IN, page.down_in, *size_in)
    all_numbered = draw_aims_court(court, rows, data.court, data.scheme, size_in)
    if not len(rows):
        return page
    foot = page.place(page.width_in / 2, page.height_in - MARGIN_IN - 0.12)
    draw_legend(page.figure, rows, PAPER_COLOURS, foot, size_pt=TEXT_PT, ncols=4, on_map=False)
    aims = rows.loc[rows["aim"] != "", "aim"].nunique()
    drawn = f" The {MOST_AIMS} of {aims} aims served most are drawn." if aims > MOST_AIMS else ""
    crowded = "" if all_numbered else " Where it is crowded, balls have no number."
    below_in = page.height_in - MARGIN_IN + 0.1
    note = f"How this was counted stands on page 2.{drawn}{crowded}"
    page.words(note, MARGIN_IN, below_in, size=NOTE_PT, color=PAPER_COLOURS.of("faint-ink"))
    return page


def _back(
    name: str, rows: pandas.DataFrame, everything: pandas.DataFrame, data: ReportData, told: WhatToDo, paper: str
) -> Page:
    sentences = [
        f"Why this advice? {told.grounds}" if told.grounds else "",
        *at_passers_first(rows),
        *practice_summary(rows),
        spread_sentence(rows),
        gate_sentence(rows, data.settings.topspin_gate_mps),
        effort_sentence(rows),
        clearance_sentence(rows),
        depth_shares_sentence(depth_shares(rows)),
        *passer_sentences(rows, data),
        type_sentence(rows),
        _load_sentence(rows, data),
        first_and_last_sentence(rows),
    ]
    parts = data.team, practice_words(rows), days_words(rows), drill_words(rows)
    page = coach_page(paper, f"{name}: for the coach", " · ".join(part for part in parts if part), sentences)
    _draw_trend(page, everything)
    lines = min(LEAST_LINES, len(rows.drop_duplicates(["practice_id", "aim"])))
    draw_charts(page, rows, data, page.left_over_in - NOTES_IN - table_height_in(lines))
    page.table(TABLE, practice_lines(rows, lines_within(page.left_over_in - NOTES_IN)))
    draw_notes(page, [TOO_CLOSE_WORDS, f"{INTERVAL_WORDS} {PULL_WORDS}", LOAD_NOTE])
    return page


def _draw_trend(page: Page, everything: pandas.DataFrame) -> None:
    """Draw whether she is better than before: a line, and a bar for each half of the practices."""
    found = trend(everything)
    answer = found.answer if found is not None else trend_sentence(everything)
    page.paragraph(f"Better than before? {answer}", TEXT_PT, bold=True)
    if found is None:
        return
    for name, rate in zip(found.names, (found.found.before, found.found.since), strict=True):
        counted = OnTarget(rate.n, rate.hits, rate.most - rate.hits, 0)
        page.words(name, MARGIN_IN, page.down_in, size=TABLE_PT)
        bar_in = page.inner_in - TREND_NAME_IN - TREND_COUNT_IN
        draw_score_bar(page, (MARGIN_IN + TREND_NAME_IN, page.down_in, bar_in), counted, rate)
        words = f"{found.found.what}: {rate_words(rate)}"
        page.words(words, page.width_in - MARGIN_IN - TREND_COUNT_IN + 0.1, page.down_in, size=TABLE_PT)
        page.down_in += 0.2
    page.down_in += 0.05


def _load_sentence(rows: pandas.DataFrame, data: ReportData) -> str:
    loads = loads_of_week(rows, data)
    player_id = str(rows["player_id"].iloc[0])
    if player_id not in loads.index:
        return ""
    serves, jumps = load_words(*loads.loc[player_id, list(COUNTED[:3])]).split(" ")
    return f"In the week of her last serve here: {serves} ({jumps.strip('()')} jump serves)."


def practice_lines(rows: pandas.DataFrame, most: int) -> list[list[str]]:
    """Return a line for each practice and aim, the newest practice first, as many as ``most``.

    Where there are more, those of older practices stand together in the last line.
    """
    practices = [own for _, own in rows.groupby("practice_id", sort=False)][::-1]
    at_aims = [[own for _, own in practice.groupby("aim", sort=False)] for practice in practices]
    groups = [own for practice in at_aims for own in practice]
    if len(groups) > most:
        ends = [end for end in accumulate(map(len, at_aims)) if end < most]
        groups = groups[: max(ends, default=most - 1)]
    older = rows.drop(index=[index for own in groups for index in own.index])
    directions = 2 * (len(groups) + bool(len(older)))
    when = practices_by_day(rows)
    lines = [
        _line(when[own["practice_id"].iloc[0]], aim_words(str(own["aim"].iloc[0])) or "none", own, directions)
        for own in groups
    ]
    if len(older):
        lines.append(
            _line(
                f"{older['practice_id'].nunique()} older", count_words(older["aim"].nunique(), "aim"), older, directions
            )
        )
    return lines


def _line(when: str, aim: str, own: pandas.DataFrame, directions: int) -> list[str]:
    lean = bias_of(own, directions)
    return [when, aim, *count_cells(own), "", bias_words(lean), placed_words(lean)]
