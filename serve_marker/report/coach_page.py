"""The back of a sheet, for the coach: sentences, charts, a table, and how it all was counted."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from serve_marker.report.charts import aim_legend, draw_court, draw_legend
from serve_marker.report.colours import PAPER_COLOURS
from serve_marker.report.lettering import NOTE_PT, SMALL_CHART_PT, SMALLEST_PT, TITLE_PT
from serve_marker.report.page_canvas import MARGIN_IN, Page
from serve_marker.report.passers_chart import common_formation, draw_formation, formation_legend, usual_flight
from serve_marker.report.sheets import ReportData, common_aim
from serve_marker.report.side_view import draw_depth

if TYPE_CHECKING:
    import pandas

CHARTS_IN, LEAST_CHARTS_IN = 3.25, 2.5
NOTES_IN = 1.0
COACH_PT = 8.5


def coach_page(paper: str, title: str, subtitle: str, sentences: Sequence[str]) -> Page:
    """Return a page that begins with a title and sentences; "" among them says nothing."""
    page = Page(paper)
    page.line(title, TITLE_PT, bold=True)
    page.paragraph(subtitle, COACH_PT, faint=True)
    page.down_in += 0.06
    for sentence in sentences:
        page.paragraph(sentence, COACH_PT)
    page.down_in += 0.08
    return page


def draw_charts(page: Page, rows: pandas.DataFrame, data: ReportData, room_in: float) -> None:
    """Draw the court with the count of each area on the left, depth and legend on the right, and move down.

    They are as high as ``room_in`` asks for, between LEAST_CHARTS_IN and CHARTS_IN.
    """
    charts_in = min(max(room_in - 0.1, LEAST_CHARTS_IN), CHARTS_IN)
    aim = common_aim(rows, data.court, data.scheme)
    box = page.box(MARGIN_IN, page.down_in, charts_in, charts_in)
    draw_court(box, rows, data.court, data.scheme, aim, PAPER_COLOURS, size_pt=SMALL_CHART_PT)
    formation, flight = common_formation(rows, data.formations), usual_flight(rows)
    if formation is not None:
        draw_formation(box, formation, data.court, PAPER_COLOURS, data.settings, flight, SMALLEST_PT)
    beside_in = MARGIN_IN + charts_in + 0.25
    depth = page.box(beside_in, page.down_in + 0.05, page.width_in - MARGIN_IN - beside_in, charts_in / 2)
    draw_depth(depth, rows, data.court, data.scheme, PAPER_COLOURS, size_pt=SMALL_CHART_PT)
    of_passers = formation_legend(PAPER_COLOURS, flight) if formation is not None else []
    more = [*aim_legend(aim, PAPER_COLOURS), *of_passers]
    at = page.place(beside_in - 0.05, page.down_in + charts_in / 2 + 0.15)
    draw_legend(page.figure, rows, PAPER_COLOURS, at, size_pt=SMALL_CHART_PT, ncols=2, loc="upper left", more=more)
    page.down_in += charts_in + 0.1


def draw_notes(page: Page, notes: Sequence[str]) -> None:
    """Write small print below what the page holds."""
    page.down_in += 0.08
    for note in notes:
        page.paragraph(note, NOTE_PT, faint=True)
