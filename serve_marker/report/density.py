"""Many landings as a tint of the floor, darker where more fell; the newest stay marks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from serve_marker.report.colours import Colours
from serve_marker.study.rates import landed_mask

if TYPE_CHECKING:
    import pandas
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

MOST_AS_MARKS, NEWEST = 600, 200
CELL_M = 0.5
DARKEST = 0.45
"""How far the tint goes from the floor's colour to the ink's, so that marks stand out on it."""


def newest_landings(table: pandas.DataFrame) -> pandas.DataFrame:
    """Return the landings that are drawn one by one: all of them, of more than 600 the newest 200."""
    landed = table[landed_mask(table)]
    if len(landed) <= MOST_AS_MARKS:
        return landed
    return landed.sort_values("date", kind="stable").tail(NEWEST)


def draw_density(axes: Axes, table: pandas.DataFrame, colours: Colours) -> None:
    """Tint the floor of the axes where landings fell, in cells of half a metre."""
    from matplotlib.colors import LinearSegmentedColormap, to_hex

    landed = table[landed_mask(table)]
    (left_m, right_m), (low_m, high_m) = axes.get_xlim(), axes.get_ylim()
    cells = round((right_m - left_m) / CELL_M), round((high_m - low_m) / CELL_M / 3**0.5)
    tint = LinearSegmentedColormap.from_list("density", [to_hex(colours.of("floor")), _darkest(colours)])
    looks: dict[str, Any] = {"cmap": tint, "mincnt": 1, "linewidths": 0.0, "zorder": 0.5}
    extent = (left_m, right_m, low_m, high_m)
    axes.hexbin(landed["x_m"], landed["y_m"], gridsize=cells, extent=extent, **looks)


def density_legend(colours: Colours) -> list[tuple[Artist, str]]:
    """Return what tint and marks mean, for a legend."""
    from matplotlib.patches import Patch

    return [(Patch(facecolor=_darkest(colours)), f"more fell here; marks: newest {NEWEST}")]


def _darkest(colours: Colours) -> str:
    from matplotlib.colors import to_hex, to_rgb

    floor, ink = to_rgb(colours.of("floor")), to_rgb(colours.of("faint-ink"))
    red, green, blue = (a + DARKEST * (b - a) for a, b in zip(floor, ink, strict=True))
    return to_hex((red, green, blue))
