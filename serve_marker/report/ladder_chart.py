"""The ladder of a team: who has passed which step, and what is next."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from serve_marker.report.colours import COLOURS, PAPER_COLOURS, Colours
from serve_marker.report.figure_pixels import new_figure
from serve_marker.report.lettering import CHART_PT, NOTE_PT, SENTENCE_PT, TITLE_PT, fitted, write
from serve_marker.report.page_canvas import MARGIN_IN, Page
from serve_marker.report.paper_sizes import DEFAULT_PAPER
from serve_marker.report.sheets import ReportData
from serve_marker.study.climb import Climb, StepClimb, climbs
from serve_marker.study.climb_words import (
    NO_STEP_WORDS,
    again_sentence,
    has_slipped,
    is_unseen,
    next_words,
    risk_words,
    step_meaning,
    step_words,
    team_climb_sentence,
)
from serve_marker.study.sentences import date_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

NAME_SHARE, NEXT_SHARE = 0.17, 0.15
MOST_ROW_IN, TWO_LINES_IN = 0.36, 0.26
HEAD_ROWS = 1.2
GAP, STRIP = 0.06, 0.12


def ladder_chart(found: Sequence[Climb], today: str, look: str, size_in: tuple[float, float]) -> Figure:
    """Return servers x steps; ``today`` is the day from which steps passed long ago are told."""
    figure = new_figure(*size_in, look)
    width_in, height_in = size_in
    axes = figure.add_axes((0.01, 0.01, 0.98, 0.98))
    draw_ladder(axes, found, today, COLOURS[look], (0.98 * width_in, 0.98 * height_in))
    return figure


def ladder_page(data: ReportData, paper: str = DEFAULT_PAPER) -> Page:
    """Return the wall chart of a team, one page however many serve."""
    page = Page(paper)
    today = max(data.table["date"], default="")
    found = climbs(data.table, data.ladder)
    page.line(" · ".join(part for part in (data.team, "Ladder") if part), TITLE_PT, bold=True)
    page.paragraph(date_words(today) if today else "", SENTENCE_PT, faint=True)
    for sentence in (team_climb_sentence(found), again_sentence(found, today)):
        page.paragraph(sentence, SENTENCE_PT)
    page.down_in += 0.1
    unit = data.settings.pace_unit
    notes = [*(step_meaning(step, data.court, unit) for step in data.ladder), risk_words(data.ladder)]
    notes_in = 0.22 * (len(notes) + 2)
    room_in = page.left_over_in - notes_in
    height_in = min(room_in, MOST_ROW_IN * (len(found) + HEAD_ROWS))
    axes = page.box(MARGIN_IN, page.down_in, page.inner_in, height_in)
    draw_ladder(axes, found, today, PAPER_COLOURS, (page.inner_in, height_in))
    page.down_in += height_in + 0.15
    for note in notes:
        page.paragraph(note, NOTE_PT, faint=True)
    return page


def draw_ladder(axes: Axes, found: Sequence[Climb], today: str, colours: Colours, size_in: tuple[float, float]) -> None:
    """Draw one row for each server and one column for each step into axes of that size."""
    width_in, height_in = size_in
    axes.set_axis_off()
    axes.set_xlim(0, width_in)
    steps = [step.step.name for step in found[0].steps] if found else []
    if not steps:
        axes.set_ylim(1, 0)
        words = NO_STEP_WORDS if found else "no serves of a known server on a known day"
        write(axes, 0.1, 0.1, words, size=CHART_PT, color=colours.of("faint-ink"), va="top")
        return
    row_in = min(MOST_ROW_IN, height_in / (len(found) + HEAD_ROWS))
    axes.set_ylim(height_in / row_in - HEAD_ROWS, -HEAD_ROWS)
    letters_pt = min(CHART_PT, 72 * row_in / (2.6 if row_in >= TWO_LINES_IN else 1.5))
    name_in, next_in = NAME_SHARE * width_in, NEXT_SHARE * width_in
    step_in = (width_in - name_in - next_in) / len(steps)
    lefts_in = [name_in + place * step_in for place in range(len(steps))]

    def say(words: str, left_in: float, row: float, room_in: float, **looks: Any) -> None:
        usual: dict[str, Any] = {"size": letters_pt, "color": colours.of("ink"), "va": "center"}
        write(axes, left_in, row, fitted(words, room_in - 0.08, letters_pt), **usual | looks)

    for words, left_in, room_in in (
        *zip(steps, lefts_in, [step_in] * len(steps), strict=True),
        ("next", width_in - next_in, next_in),
    ):
        say(words, left_in + 0.06, -0.5, room_in, color=colours.of("faint-ink"))
    for row, climb in enumerate(found):
        say(climb.server, 0.0, row + 0.5, name_in)
        for step, left_in in zip(climb.steps, lefts_in, strict=True):
            _draw_cell(axes, step, today, colours, (left_in, row, step_in))
            first, second = step_words(step, today)
            if row_in < TWO_LINES_IN:
                say(first, left_in + 0.06, row + 0.5, step_in)
                continue
            say(first, left_in + 0.06, row + (0.32 if second else 0.5), step_in)
            say(second, left_in + 0.06, row + 0.7, step_in, color=colours.of("faint-ink"), size=0.85 * letters_pt)
        say(next_words(climb), width_in - next_in + 0.06, row + 0.5, next_in)


def _draw_cell(axes: Axes, step: StepClimb, today: str, colours: Colours, place: tuple[float, float, float]) -> None:
    """Draw the ground of one cell: full where passed, hatched where that is in doubt, else a strip as far as she is."""
    from matplotlib.patches import Rectangle

    left_in, row, width_in = place
    corner, width_in, height = (left_in, row + GAP), width_in - 0.05, 1 - 2 * GAP
    filled: dict[str, Any] = {"facecolor": colours.of("disc"), "linewidth": 0}
    if step.passed_on:
        axes.add_patch(Rectangle(corner, width_in, height, alpha=0.28, **filled))
    else:
        axes.add_patch(Rectangle((left_in, row + 1 - GAP - STRIP), width_in * step.share, STRIP, alpha=0.7, **filled))
    if has_slipped(step) or is_unseen(step, today):
        hatched: dict[str, Any] = {"fill": False, "hatch": "////", "linewidth": 0, "edgecolor": colours.of("paper")}
        axes.add_patch(Rectangle(corner, width_in, height, **hatched))
    edge = "disc" if step.passed_on else "rule"
    axes.add_patch(Rectangle(corner, width_in, height, fill=False, linewidth=0.8, edgecolor=colours.of(edge)))
