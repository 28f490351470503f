"""Pages for the wall: who has climbed which step of the ladder, and how many serves everybody hit."""

from __future__ import annotations

import math
from collections.abc import Sequence

from serve_marker.report.colours import PAPER_COLOURS
from serve_marker.report.grid_chart import WALL, Grid, GridCell, draw_grid
from serve_marker.report.lettering import FIGURE_NAME_PT, NAME_PT, NOTE_PT
from serve_marker.report.page_canvas import MARGIN_IN, Page
from serve_marker.report.paper_sizes import DEFAULT_PAPER
from serve_marker.report.sheets import ReportData
from serve_marker.study.climb import Climb, climbs
from serve_marker.study.climb_words import (
    NO_STEP_WORDS,
    NOBODY_WORDS,
    again_sentence,
    has_slipped,
    is_unseen,
    next_words,
    risk_words,
    step_meaning,
    step_words,
    team_climb_sentence,
)
from serve_marker.study.load_words import JUMP_SENTENCE, RANGE_NOTE, LoadColumn, load_columns, most_served_sentence
from serve_marker.study.loads import LOAD_NOTE, serving_loads
from serve_marker.study.sentences import date_words


def ladder_grid(found: Sequence[Climb], today: str) -> Grid:
    """Return servers x steps; ``today`` is the day from which steps passed long ago are told."""
    rows = []
    for climb in found:
        cells = []
        for step in climb.steps:
            passed = bool(step.passed_on)
            doubted = has_slipped(step) or is_unseen(step, today)
            cells.append(GridCell(*step_words(step, today), 1.0 if passed else step.done, passed, doubted))
        rows.append((climb.server, tuple(cells), next_words(climb)))
    heads = tuple(step.step.name for step in found[0].steps) if found else ()
    return Grid(heads, tuple(rows), "next", NO_STEP_WORDS if found else NOBODY_WORDS)


def load_grid(columns: Sequence[LoadColumn]) -> Grid:
    """Return servers x weeks and days, filled by the share of the most that anybody served in a week, or on a day."""
    servers = {player_id: words for column in columns for player_id, (words, _) in column.loads.items()}
    rows = []
    for player_id, words in sorted(servers.items(), key=lambda one: by_number(one[1])):
        cells = tuple(GridCell(*column.words(player_id), column.share(player_id)) for column in columns)
        rows.append((words, cells, ""))
    heads = tuple(column.head for column in columns)
    return Grid(heads, tuple(rows), nothing=NOBODY_WORDS)


def by_number(words: str) -> tuple[float, str]:
    """Return where a server stands in a list, by shirt number and then by name; without a number last.

    Examples
    --------
    >>> sorted(("Wren", "12 Yuki", "4 Ines"), key=by_number)
    ['4 Ines', '12 Yuki', 'Wren']
    """
    number = words.partition(" ")[0]
    return float(number) if number.isdecimal() else math.inf, words


def ladder_page(data: ReportData, paper: str = DEFAULT_PAPER) -> Page:
    """Return the ladder of a team, one page however many serve."""
    today = max(data.table["date"], default="")
    found = climbs(data.table, data.ladder, data.settings.most_errors)
    unit = data.settings.pace_unit
    notes = [*(step_meaning(step, data.court, unit) for step in data.ladder), risk_words(data.ladder)]
    sentences = [team_climb_sentence(found), again_sentence(found, today)]
    return wall_page(data, paper, "Ladder", today, sentences, ladder_grid(found, today), notes)


def load_page(data: ReportData, paper: str = DEFAULT_PAPER) -> Page:
    """Return how many serves everybody hit on the newest days and in the newest weeks, one page."""
    loads = serving_loads(data.table, data.tallies)
    today = max(loads["date"], default="")
    sentences = [most_served_sentence(loads), JUMP_SENTENCE if len(loads) else ""]
    grid = load_grid(load_columns(loads))
    return wall_page(data, paper, "Serving load", today, sentences, grid, [RANGE_NOTE, LOAD_NOTE])


def wall_page(
    data: ReportData,
    paper: str,
    title: str,
    today: str,
    sentences: Sequence[str],
    grid: Grid,
    notes: Sequence[str],
    most: tuple[float, float] = WALL,
) -> Page:
    """Return a page of a title, the day, sentences, a grid as high as it needs, and notes below it.

    ``most`` is how high its rows become [inch], and how large its letters [pt].
    """
    page = Page(paper)
    page.line(title, NAME_PT, bold=True)
    when = f"up to {date_words(today)}" if today else ""
    page.paragraph(" · ".join(part for part in (data.team, when) if part), FIGURE_NAME_PT, faint=True)
    if not (grid.heads and grid.rows):
        page.paragraph(grid.nothing, FIGURE_NAME_PT)
        return page
    for sentence in sentences:
        page.paragraph(sentence, FIGURE_NAME_PT)
    page.down_in += 0.1
    height_in = min(page.left_over_in - 0.22 * (len(notes) + 2.1), grid.height_in(most[0]))
    axes = page.box(MARGIN_IN, page.down_in, page.inner_in, height_in)
    draw_grid(axes, grid, PAPER_COLOURS, (page.inner_in, height_in), most)
    page.down_in += height_in + 0.15
    for note in notes:
        page.paragraph(note, NOTE_PT, faint=True)
    return page
