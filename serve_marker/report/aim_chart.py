"""The map of where a server's serves are worth most."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.report.charts import aim_legend, draw_half_court
from serve_marker.report.colours import COLOURS
from serve_marker.report.figure_pixels import new_figure
from serve_marker.report.lettering import CHART_PT, write
from serve_marker.study.best_aim import BestAim

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LEVELS = 6


def aim_chart(
    found: BestAim | None,
    court: Court,
    scheme: AreaScheme,
    look: str = "light",
    size_in: tuple[float, float] = (6.2, 6.6),
) -> Figure:
    """Return the expected worth of centring at each place of the half, with the best, its like, and the centre now.

    Without an answer the court is empty.
    """
    from matplotlib.colors import LinearSegmentedColormap
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    colours = COLOURS[look]
    figure = new_figure(*size_in, look)
    width_in, height_in = size_in
    beside = width_in > 1.25 * height_in
    court_in = min(height_in * 1.02, width_in - 2.6) if beside else width_in
    box = (0.01, 0.01, court_in / width_in, 0.98) if beside else (0.02, 0.13, 0.96, 0.86)
    axes = figure.add_axes(box)
    draw_half_court(axes, court, scheme, None if found is None else found.aim, colours)
    words = {"size": CHART_PT, "color": colours.of("faint-ink"), "ha": "center", "va": "top"}
    write(axes, court.width_m / 2, -0.12, "net (the server stands below)", **words)
    if found is None:
        return figure
    ramp = LinearSegmentedColormap.from_list(
        "worth", [colours.of("floor"), *(colours.of(f"error-{k}") for k in (2, 4))]
    )
    low, high = float(found.around.min()), found.best
    levels = np.linspace(low, high, LEVELS + 1)
    axes.contourf(found.places.x, found.places.y, found.around.T, levels=levels, cmap=ramp, alpha=0.55, zorder=0.5)
    drawn = axes.contour(
        found.places.x,
        found.places.y,
        found.around.T,
        levels=levels[1:-1],
        colors=colours.of("faint-ink"),
        linewidths=0.7,
    )
    for text in axes.clabel(drawn, fmt="%.2f", fontsize=CHART_PT - 1):
        text.set_color(colours.of("ink"))
    near = found.near_best.T.astype(float)
    axes.contour(found.places.x, found.places.y, near, levels=[0.5], colors=colours.of("ink"), linewidths=1.8)
    look_of = {"color": colours.of("ink"), "linestyle": "none", "markersize": 10}
    axes.plot(*found.best_m, marker="*", **look_of, zorder=6)
    axes.plot(*found.now_m, marker="o", fillstyle="none", markeredgewidth=1.8, **look_of, zorder=6)
    handles = [
        (Line2D([], [], marker="*", **look_of), "worth most here"),
        (Line2D([], [], marker="o", fillstyle="none", markeredgewidth=1.8, **look_of), "they centre here now"),
        (Patch(fill=False, edgecolor=colours.of("ink"), linewidth=1.8), "may be as good"),
        *aim_legend(found.aim, colours),
    ]
    at = ((court_in / width_in + 0.02, 0.9), "upper left", 1) if beside else ((0.5, 0.005), "lower center", 2)
    figure.legend(
        *map(list, zip(*handles, strict=True)),
        bbox_to_anchor=at[0],
        loc=at[1],
        ncols=at[2],
        frameon=False,
        fontsize=CHART_PT,
        labelcolor=colours.of("ink"),
    )
    return figure
