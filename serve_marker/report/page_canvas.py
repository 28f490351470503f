"""A sheet of paper to draw on: inches from the top left corner, text, rules, tables and boxes for charts."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from serve_marker.report.colours import PAPER_COLOURS
from serve_marker.report.figure_pixels import DRAWING, new_figure
from serve_marker.report.lettering import (
    ADVICE_PT,
    NAME_PT,
    TABLE_PT,
    TEXT_PT,
    drawable,
    fitted,
    width_of,
    wrapped,
    write,
)
from serve_marker.report.paper_sizes import paper_size_in
from serve_marker.report.write_files import write_whole

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MARGIN_IN = 0.55
ROW_IN = 0.2


@dataclass(frozen=True)
class Column:
    """A column of a table on a sheet; a wide one is cut with dots."""

    title: str
    width_in: float
    align: str = "left"


class Page:
    """One page; ``down_in`` is how far from the top the next thing goes."""

    def __init__(self, paper: str) -> None:
        self.width_in, self.height_in = paper_size_in(paper)
        self.figure = new_figure(self.width_in, self.height_in)
        self.down_in = MARGIN_IN

    @property
    def inner_in(self) -> float:
        """The width between the margins."""
        return self.width_in - 2 * MARGIN_IN

    @property
    def left_over_in(self) -> float:
        """The height left above the lower margin."""
        return self.height_in - MARGIN_IN - self.down_in

    def words(self, words: str, right_in: float, down_in: float, **looks: Any) -> None:
        """Write one line, its top at ``down_in``."""
        place: dict[str, Any] = {"va": "top", "color": PAPER_COLOURS.of("ink"), "size": TEXT_PT}
        write(self.figure, right_in / self.width_in, 1 - down_in / self.height_in, words, **place | looks)

    def line(self, words: str, size_pt: float = TEXT_PT, bold: bool = False, faint: bool = False) -> None:
        """Write one line across the page, cut if need be, and move down."""
        looks = {
            "size": size_pt,
            "weight": "bold" if bold else "normal",
            "color": PAPER_COLOURS.of("faint-ink" if faint else "ink"),
        }
        self.words(fitted(words, self.inner_in, size_pt, bold), MARGIN_IN, self.down_in, **looks)
        self.down_in += size_pt / 72 * 1.45

    def headline(self, words: str) -> None:
        """Write one line across the page as large as a wall asks for and the page is wide, and move down."""
        widest_in = width_of(words, NAME_PT, bold=True)
        size_pt = max(NAME_PT * min(1.0, self.inner_in / max(widest_in, 0.1)), ADVICE_PT)
        self.line(words, size_pt, bold=True)
        self.down_in -= 0.12 * size_pt / 72

    def paragraph(self, words: str, size_pt: float = TEXT_PT, faint: bool = False, bold: bool = False) -> None:
        """Write words over as many lines as they need and move down."""
        for line in wrapped(words, self.inner_in, size_pt, bold):
            self.line(line, size_pt, bold, faint)

    def box(self, right_in: float, down_in: float, width_in: float, height_in: float) -> Axes:
        """Return axes for a chart in a box given by its upper left corner and size."""
        low_in = self.height_in - down_in - height_in
        sizes = (
            right_in / self.width_in,
            low_in / self.height_in,
            width_in / self.width_in,
            height_in / self.height_in,
        )
        return self.figure.add_axes(sizes)

    def rectangle(self, right_in: float, down_in: float, width_in: float, height_in: float, **looks: Any) -> None:
        """Draw a rectangle given by its upper left corner and size."""
        from matplotlib.patches import Rectangle

        size = width_in / self.width_in, height_in / self.height_in
        corner = self.place(right_in, down_in + height_in)
        self.figure.add_artist(Rectangle(corner, *size, transform=self.figure.transFigure, **looks))

    def place(self, right_in: float, down_in: float) -> tuple[float, float]:
        """Return a point of the page as fractions of the figure."""
        return right_in / self.width_in, 1 - down_in / self.height_in

    def rule(self, down_in: float, strong: bool = False) -> None:
        """Draw a line across the page."""
        looks = {"color": PAPER_COLOURS.of("ink" if strong else "rule"), "linewidth": 0.9 if strong else 0.5}
        self.level_line(MARGIN_IN, self.width_in - MARGIN_IN, down_in, **looks)

    def level_line(self, from_in: float, to_in: float, down_in: float, **looks: Any) -> None:
        """Draw a level line between two distances from the left edge."""
        from matplotlib.lines import Line2D

        ends = [self.place(side_in, down_in) for side_in in (from_in, to_in)]
        self.figure.add_artist(Line2D(*zip(*ends, strict=True), **looks))

    def table(self, columns: Sequence[Column], rows: Sequence[Sequence[str]], size_pt: float = TABLE_PT) -> int:
        """Draw a heading and as many rows as fit above the lower margin; return how many were drawn."""
        fitting = min(len(rows), lines_within(self.left_over_in))
        if fitting <= 0:
            return 0
        self._row(columns, [column.title for column in columns], size_pt, bold=True)
        self.rule(self.down_in - 0.03, strong=True)
        self.down_in += 0.03
        for row in rows[:fitting]:
            self._row(columns, row, size_pt, bold=False)
            self.rule(self.down_in - 0.035)
        return fitting

    def _row(self, columns: Sequence[Column], cells: Sequence[str], size_pt: float, bold: bool) -> None:
        right_in = MARGIN_IN
        for column, cell in zip(columns, cells, strict=True):
            words = fitted(cell, column.width_in - 0.08, size_pt, bold)
            at_in = right_in + (column.width_in - 0.08 if column.align == "right" else 0.0)
            looks = {"size": size_pt, "weight": "bold" if bold else "normal", "ha": column.align}
            self.words(words, at_in, self.down_in, **looks)
            right_in += column.width_in
        self.down_in += ROW_IN


def table_height_in(lines: int) -> float:
    """Return how high a table of so many lines is, its heading included."""
    return ROW_IN * (lines + 1.5)


def lines_within(height_in: float) -> int:
    """Return how many lines of a table fit into a height, below its heading.

    Examples
    --------
    >>> lines_within(table_height_in(12) + 0.05), lines_within(0.1)
    (12, 0)
    """
    return max(int(height_in / ROW_IN - 1.5), 0)


def number_pages(pages: Sequence[Page], size_pt: float) -> None:
    """Write "page 1 of 3" at the foot of each of several pages."""
    for number, page in enumerate(pages if len(pages) > 1 else (), start=1):
        place_in = page.width_in - MARGIN_IN, page.height_in - MARGIN_IN + 0.1
        page.words(
            f"page {number} of {len(pages)}", *place_in, size=size_pt, color=PAPER_COLOURS.of("faint-ink"), ha="right"
        )


def save_pdf(pages: Sequence[Page], path: Path, title: str) -> None:
    """Write pages as one vector PDF, the same bytes each time, whole or not at all."""
    import matplotlib as mpl
    from matplotlib.backends.backend_pdf import PdfPages

    content = io.BytesIO()
    about = {"Title": drawable(title), "Creator": "Serve Marker", "Producer": "Serve Marker", "CreationDate": None}
    with DRAWING, mpl.rc_context({"pdf.fonttype": 3}), PdfPages(content, metadata=about) as pdf:
        for page in pages:
            pdf.savefig(page.figure)
    write_whole(content.getvalue(), path)
