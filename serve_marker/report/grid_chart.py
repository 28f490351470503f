"""A grid of servers and columns: a few words in each cell, and how far it is filled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from serve_marker.report.colours import COLOURS, Colours
from serve_marker.report.figure_pixels import new_figure
from serve_marker.report.lettering import CHART_PT, fitted, write

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

NAME_SHARE, LAST_SHARE = 0.17, 0.15
SCREEN, WALL = (0.36, CHART_PT), (0.56, 11.0)
TWO_LINES_IN = 0.26
HEAD_ROWS = 1.1
GAP, STRIP = 0.06, 0.12


@dataclass(frozen=True)
class GridCell:
    """One cell: two lines of words, a strip of ``share`` [0-1], or ``full``; hatched where that is ``doubted``."""

    first: str = ""
    second: str = ""
    share: float = 0.0
    full: bool = False
    doubted: bool = False


@dataclass(frozen=True)
class Grid:
    """Heads of the columns, and rows of a name, its cells and what stands last; ``last`` heads that, "" for none."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[GridCell, ...], str], ...]
    last: str = ""
    nothing: str = ""

    def height_in(self, row_in: float) -> float:
        """The height it has with rows so high [inch]."""
        return row_in * (len(self.rows) + HEAD_ROWS)


def grid_chart(grid: Grid, look: str, size_in: tuple[float, float]) -> Figure:
    """Return a grid as a chart of that size [inch]."""
    figure = new_figure(*size_in, look)
    width_in, height_in = size_in
    axes = figure.add_axes((0.01, 0.01, 0.98, 0.98))
    draw_grid(axes, grid, COLOURS[look], (0.98 * width_in, 0.98 * height_in))
    return figure


def draw_grid(
    axes: Axes, grid: Grid, colours: Colours, size_in: tuple[float, float], most: tuple[float, float] = SCREEN
) -> None:
    """Draw a grid into axes of that size [inch]; rows become lower, and say less, where there are many.

    ``most`` is how high a row becomes where there is room [inch], and how large its letters [pt].
    """
    width_in, height_in = size_in
    axes.set_axis_off()
    axes.set_xlim(0, width_in)
    if not grid.heads or not grid.rows:
        axes.set_ylim(1, 0)
        write(axes, 0.1, 0.1, grid.nothing, size=CHART_PT, color=colours.of("faint-ink"), va="top")
        return
    most_row_in, most_pt = most
    row_in = min(most_row_in, height_in / (len(grid.rows) + HEAD_ROWS))
    axes.set_ylim(height_in / row_in - HEAD_ROWS, -HEAD_ROWS)
    two_lines = row_in >= TWO_LINES_IN
    letters_pt = min(most_pt, 72 * row_in / (2.6 if two_lines else 1.5))
    name_in, last_in = NAME_SHARE * width_in, LAST_SHARE * width_in if grid.last else 0.0
    cell_in = (width_in - name_in - last_in) / len(grid.heads)
    lefts_in = [name_in + place * cell_in for place in range(len(grid.heads))]

    def say(words: str, left_in: float, row: float, room_in: float, **looks: Any) -> None:
        usual: dict[str, Any] = {"size": letters_pt, "color": colours.of("ink"), "va": "center"}
        drawn = usual | looks
        if words:
            write(axes, left_in, row, fitted(words, room_in - 0.08, drawn["size"]), **drawn)

    for head, left_in in zip(grid.heads, lefts_in, strict=True):
        lines = head.splitlines()
        for line, words in enumerate(lines):
            up = -0.3 - 0.45 * (len(lines) - 1 - line)
            say(words, left_in + 0.06, up, cell_in, color=colours.of("faint-ink"))
    say(grid.last, width_in - last_in + 0.06, -0.3, last_in, color=colours.of("faint-ink"))
    for row, (name, cells, last) in enumerate(grid.rows):
        say(name, 0.0, row + 0.5, name_in)
        for cell, left_in in zip(cells, lefts_in, strict=True):
            _draw_ground(axes, cell, colours, (left_in, row, cell_in - 0.05))
            both = two_lines and bool(cell.second)
            say(cell.first, left_in + 0.06, row + (0.31 if both else 0.5), cell_in)
            if both:
                fine: dict[str, Any] = {
                    "color": colours.of("ink" if cell.full else "faint-ink"),
                    "size": 0.85 * letters_pt,
                }
                say(cell.second, left_in + 0.06, row + 0.65, cell_in, **fine)
        say(last, width_in - last_in + 0.06, row + 0.5, last_in)


def _draw_ground(axes: Axes, cell: GridCell, colours: Colours, place: tuple[float, float, float]) -> None:
    """Draw the ground of one cell: full, hatched where that is in doubt, else a strip as far as it is filled."""
    from matplotlib.patches import Rectangle

    left_in, row, width_in = place
    corner, height = (left_in, row + GAP), 1 - 2 * GAP
    filled: dict[str, Any] = {"facecolor": colours.of("disc"), "linewidth": 0}
    if cell.full:
        axes.add_patch(Rectangle(corner, width_in, height, alpha=0.28, **filled))
    else:
        axes.add_patch(Rectangle((left_in, row + 1 - GAP - STRIP), width_in * cell.share, STRIP, alpha=0.7, **filled))
    if cell.doubted:
        hatched: dict[str, Any] = {"fill": False, "hatch": "////", "linewidth": 0, "edgecolor": colours.of("paper")}
        axes.add_patch(Rectangle(corner, width_in, height, **hatched))
    edge = "disc" if cell.full else "rule"
    axes.add_patch(Rectangle(corner, width_in, height, fill=False, linewidth=0.8, edgecolor=colours.of(edge)))
