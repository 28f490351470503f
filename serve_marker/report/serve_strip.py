"""Serves as a strip of their marks, in the order served."""

from __future__ import annotations

from typing import TYPE_CHECKING

from serve_marker.report.charts import marker_looks
from serve_marker.report.colours import PAPER_COLOURS
from serve_marker.report.lettering import NOTE_PT, write
from serve_marker.report.page_canvas import MARGIN_IN, Page
from serve_marker.study.sentences import count_words
from serve_marker.study.serve_shape import shapes_of

if TYPE_CHECKING:
    import pandas

MOST_IN_LINE, LINES = 25, 2
MARK_PT = 10.0
LINE_IN, CAPTION_IN = 0.36, 0.2


def draw_serve_strip(page: Page, rows: pandas.DataFrame) -> None:
    """Draw a mark and a number for each serve, of many the newest, with a caption; move down past them."""
    if not len(rows):
        return
    first = max(len(rows) - MOST_IN_LINE * LINES, 0)
    shapes = shapes_of(rows)[first:]
    told = f"The newest {len(shapes)} of {len(rows)} serves" if first else count_words(len(rows), "serve").capitalize()
    faint = PAPER_COLOURS.of("faint-ink")
    page.words(f"{told}, in the order served", MARGIN_IN, page.down_in, size=NOTE_PT + 1, color=faint)
    page.down_in += CAPTION_IN
    lines = -(-len(shapes) // MOST_IN_LINE)
    axes = page.box(MARGIN_IN, page.down_in, page.inner_in, lines * LINE_IN)
    axes.set_axis_off()
    axes.set_xlim(0, MOST_IN_LINE)
    axes.set_ylim(lines, 0)
    for place, shape in enumerate(shapes):
        line, column = divmod(place, MOST_IN_LINE)
        axes.plot(column + 0.5, line + 0.3, **marker_looks(shape, PAPER_COLOURS, MARK_PT), clip_on=False)
        number = {"size": NOTE_PT, "color": faint, "ha": "center", "va": "center"}
        write(axes, column + 0.5, line + 0.76, str(first + place + 1), **number)
    page.down_in += lines * LINE_IN
