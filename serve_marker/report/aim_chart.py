"""The map of where a server's serves are worth most."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.report.charts import aim_legend, draw_half_court
from serve_marker.report.colours import COLOURS, Colours
from serve_marker.report.figure_pixels import new_figure
from serve_marker.report.lettering import CHART_PT, FAMILY, write
from serve_marker.study.best_aim import BestAim

if TYPE_CHECKING:
    from matplotlib.axes import Axes
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
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    colours = COLOURS[look]
    figure = new_figure(*size_in, look)
    width_in, height_in = size_in
    beside = width_in > 1.25 * height_in
    court_in = min(height_in * 1.02, width_in - 2.6) if beside else width_in
    axes = figure.add_axes((0.01, 0.01, court_in / width_in, 0.98) if beside else (0.02, 0.13, 0.96, 0.86))
    draw_half_court(axes, court, scheme, found.aim if found else None, colours)
    words = {"size": CHART_PT, "color": colours.of("faint-ink"), "ha": "center", "va": "top"}
    write(axes, court.width_m / 2, -0.12, "net (the server stands below)", **words)
    if found is None:
        return figure
    _draw_worth(axes, found, colours)
    spot: dict[str, Any] = {"color": colours.of("ink"), "linestyle": "none", "markersize": 11, "zorder": 6}
    best: dict[str, Any] = {"marker": "*"} | spot
    now: dict[str, Any] = {"marker": "o", "fillstyle": "none", "markeredgewidth": 1.8} | spot
    axes.plot(*found.best_m, **best)
    axes.plot(*found.now_m, **now)
    explained = [
        (Line2D([], [], **best), "worth most"),
        (Patch(fill=False, edgecolor=colours.of("ink"), linewidth=1.8), "may be as good"),
        (Line2D([], [], **now), "mean of the serves now"),
        *aim_legend(found.aim, colours),
    ]
    figure.legend(
        [mark for mark, _ in explained],
        [text for _, text in explained],
        bbox_to_anchor=(court_in / width_in + 0.02, 0.9) if beside else (0.5, 0.005),
        loc="upper left" if beside else "lower center",
        ncols=1 if beside else 2,
        frameon=False,
        labelcolor=colours.of("ink"),
        prop={"family": FAMILY, "size": CHART_PT},
    )
    return figure


def _draw_worth(axes: Axes, found: BestAim, colours: Colours) -> None:
    from matplotlib.colors import LinearSegmentedColormap

    x_m, y_m, worth = found.places.x, found.places.y, found.around.T
    ramp = LinearSegmentedColormap.from_list("worth", [colours.of(role) for role in ("floor", "error-2", "error-4")])
    levels = np.linspace(float(worth.min()), max(found.best, float(worth.max())), LEVELS + 1)
    axes.contourf(x_m, y_m, worth, levels=levels, cmap=ramp, alpha=0.55, zorder=0.5)
    lines = axes.contour(x_m, y_m, worth, levels=levels[1:-1], colors=colours.of("faint-ink"), linewidths=0.7)
    for label in axes.clabel(lines, fmt="%.2f", fontsize=CHART_PT - 1):
        label.set_color(colours.of("ink"))
    near = found.near_best.T.astype(float)
    axes.contour(x_m, y_m, near, levels=[0.5], colors=colours.of("ink"), linewidths=1.8)
