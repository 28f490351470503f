"""How deep serves fell: the court from the side, net on the left, each ball on the floor where it landed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.areas import DEPTH_BANDS, AreaScheme
from serve_marker.court.dimensions import Court, Floats
from serve_marker.report.charts import BEHIND_M, draw_legend, plot_marks
from serve_marker.report.colours import COLOURS, Colours
from serve_marker.report.figure_pixels import new_figure
from serve_marker.report.lettering import CHART_PT, write
from serve_marker.study.rates import depth_distribution, landed_mask
from serve_marker.study.sentences import span_words
from serve_marker.study.serve_shape import shapes_of

if TYPE_CHECKING:
    import pandas
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PILE_M = 0.25
"""Balls of so much depth lie on one another."""
LARGEST_BALL_IN = 0.22
BEFORE_NET_M = 0.25
FROM_THE_FLOOR = ("disc", "half-disc", "square", "ring", "diamond", "caret", "cross")
"""Shapes in the order in which they lie on one another."""
BAND_TINTS = ("floor", "panel", "rule")


def depth_chart(
    table: pandas.DataFrame,
    court: Court,
    scheme: AreaScheme,
    look: str = "light",
    size_in: tuple[float, float] = (6.2, 3.6),
) -> Figure:
    """Return the court from the side with every landing on it, the share of each depth band, and the legend."""
    figure = new_figure(*size_in, look)
    width_in, height_in = size_in
    legend_in = min(0.6, 0.25 * height_in)
    box = (0.15 / width_in, legend_in / height_in, 1 - 0.3 / width_in, 1 - (legend_in + 0.1) / height_in)
    draw_depth(figure.add_axes(box), table, court, scheme, COLOURS[look])
    draw_legend(figure, table, COLOURS[look], (0.5, 0.0), ncols=4, on_map=False)
    return figure


def draw_depth(
    axes: Axes, table: pandas.DataFrame, court: Court, scheme: AreaScheme, colours: Colours, size_pt: float = CHART_PT
) -> None:
    """Draw each landing's shape where it fell from the net to the end line, those of one place on one another.

    Heights within the axes are inches: of the words, the floor and the balls.
    """
    width_in, height_in = axes.bbox.transformed(axes.figure.dpi_scale_trans.inverted()).size
    depth_m, line_in = court.half_length_m, 1.5 * size_pt / 72
    floor_in, top_in = 3.6 * line_in, height_in - line_in
    axes.set_axis_off()
    axes.set_xlim(-BEFORE_NET_M, depth_m + BEHIND_M)
    axes.set_ylim(0, height_in)
    _draw_floor(axes, table, court, scheme, colours, size_pt)
    line: dict[str, Any] = {"solid_capstyle": "butt", "zorder": 3}
    axes.plot([0, 0], [floor_in, top_in], color=colours.of("net"), linewidth=3.0, **line)
    axes.plot([depth_m] * 2, [line_in, floor_in + 0.12], color=colours.of("court-line"), linewidth=2.4, **line)
    axes.plot([0, depth_m + BEHIND_M], [floor_in] * 2, color=colours.of("court-line"), linewidth=1.2, **line)
    faint: dict[str, Any] = {"size": size_pt, "color": colours.of("faint-ink")}
    write(axes, 0, top_in, "net", ha="left", va="bottom", **faint)
    for at_m in (0.0, *scheme.depth_borders_m, depth_m):
        unit = " m" if at_m == depth_m else ""
        write(axes, at_m, 0.85 * line_in, f"{at_m:g}{unit}", ha="center", va="top", **faint)
    _draw_balls(axes, table, depth_m, colours, (width_in, floor_in, top_in))


def _draw_floor(
    axes: Axes, table: pandas.DataFrame, court: Court, scheme: AreaScheme, colours: Colours, size_pt: float
) -> None:
    """Draw the floor of each depth band in its tint, with its name and its count, and what fell beyond the line."""
    from matplotlib.patches import Rectangle

    line_in = 1.5 * size_pt / 72
    borders_m = (0.0, *scheme.depth_borders_m, court.half_length_m)
    shares = depth_distribution(table)
    long = int((landed_mask(table) & ((table["verdict"] == "out") & (table["missed"] == "long")).to_numpy()).sum())
    bands = [(name, span_words(shares[name].hits, shares[name].most)) for name in DEPTH_BANDS]
    for (name, counted), tint, left_m, right_m in zip(bands, BAND_TINTS, borders_m, borders_m[1:], strict=False):
        corner, height_in = (left_m, line_in), 2.6 * line_in
        looks: dict[str, Any] = {"facecolor": colours.of(tint), "edgecolor": colours.of("rule")}
        axes.add_patch(Rectangle(corner, right_m - left_m, height_in, linewidth=0.6, zorder=1, **looks))
        _write_band(axes, (left_m + right_m) / 2, name, counted, colours, size_pt)
    if long:
        _write_band(axes, court.half_length_m + BEHIND_M / 2, "long", f"{long}", colours, size_pt)


def _write_band(axes: Axes, at_m: float, name: str, counted: str, colours: Colours, size_pt: float) -> None:
    line_in, looks = 1.5 * size_pt / 72, {"size": size_pt, "ha": "center", "va": "center", "zorder": 4}
    write(axes, at_m, 2.85 * line_in, name, color=colours.of("faint-ink"), **looks)
    write(axes, at_m, 1.75 * line_in, counted, color=colours.of("ink"), weight="bold", **looks)


def _draw_balls(
    axes: Axes, table: pandas.DataFrame, depth_m: float, colours: Colours, room_in: tuple[float, float, float]
) -> None:
    """Draw every landing at its depth; high piles are of smaller balls, several side by side."""
    width_in, floor_in, top_in = room_in
    landed = table[landed_mask(table)]
    shapes = np.array(shapes_of(landed), dtype=object)
    order = np.argsort([FROM_THE_FLOOR.index(shape) for shape in shapes], kind="stable")
    shapes, y_m = shapes[order], landed["y_m"].to_numpy(dtype=float)[order]
    pile, number = piled(y_m, depth_m + BEHIND_M)
    in_per_m = width_in / (depth_m + BEHIND_M + BEFORE_NET_M)
    highest, across = int(number.max(initial=0)) + 1, 1
    while -(-highest // across) * min(PILE_M * in_per_m / across, LARGEST_BALL_IN) > top_in - floor_in:
        across += 1
    ball_in = min(PILE_M * in_per_m / across, LARGEST_BALL_IN)
    beside_m = (number % across - (across - 1) / 2) * ball_in / in_per_m
    places_m, heights_in = (pile + 0.5) * PILE_M + beside_m, floor_in + 0.02 + ball_in * (number // across + 0.5)
    for shape in FROM_THE_FLOOR:
        there = shapes == shape
        if there.any():
            plot_marks(axes, places_m[there], heights_in[there], shape, colours, 54 * ball_in)


def piled(y_m: Floats, beyond_m: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return in which pile, counted from the net, each landing (N,) lies, and how many lie there before it (N,).

    What fell beyond ``beyond_m`` lies in the last pile.

    Examples
    --------
    >>> pile, number = piled(np.array([8.1, 8.2, 3.0]), 10.5)
    >>> pile.tolist(), number.tolist()
    ([32, 32, 12], [0, 1, 0])
    """
    pile = np.floor(np.clip(y_m, 0.0, beyond_m - 0.01) / PILE_M).astype(np.int64)
    number = np.zeros(len(pile), dtype=np.int64)
    for one in np.unique(pile):
        there = pile == one
        number[there] = np.arange(there.sum())
    return pile, number
