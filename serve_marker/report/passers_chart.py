"""The receiving half with its passers: whose floor is whose, the seams between them, the floor out of their reach."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.court.formations import Formation
from serve_marker.court.reception import Playable, out_of_reach
from serve_marker.court.seams import cells, seam_polygons
from serve_marker.report.charts import add_court
from serve_marker.report.colours import COLOURS, Colours
from serve_marker.report.figure_pixels import new_figure
from serve_marker.report.lettering import CHART_PT, write
from serve_marker.study.passers import with_formation
from serve_marker.study.reception_columns import playable_of
from serve_marker.study.settings import StudySettings

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from shapely import Geometry


def common_formation(table: pandas.DataFrame, formations: Mapping[str, Formation]) -> Formation | None:
    """Return the one formation that all serves with a formation were hit against, None where there are more or none."""
    found = [key for key in table["formation_id"].unique() if key in formations]
    return formations[found[0]] if len(found) == 1 else None


def passers_chart(
    table: pandas.DataFrame,
    court: Court,
    scheme: AreaScheme,
    formations: Mapping[str, Formation],
    settings: StudySettings,
    look: str = "light",
    size_in: tuple[float, float] = (6.2, 6.6),
) -> Figure:
    """Return the landings with the passers they were served at; several formations leave only the landings."""
    figure = new_figure(*size_in, look)
    formation = common_formation(table, formations)
    flight = usual_flight(table)
    more = formation_legend(COLOURS[look], flight) if formation is not None else []
    axes = add_court(figure, table, court, scheme, None, COLOURS[look], more)
    if formation is not None:
        draw_formation(axes, formation, court, COLOURS[look], settings, flight)
    return figure


def usual_flight(table: pandas.DataFrame) -> Playable | None:
    """Return the median flight of the serves at known passers, as far as it can be played; None where none is known."""
    rows = with_formation(table)
    return playable_of(rows, rows["half"].to_numpy(dtype=object)).usual()


def formation_legend(colours: Colours, flight: Playable | None) -> list[tuple[Artist, str]]:
    """Return what the marks of a formation mean, for a legend; ``flight`` as drawn."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    square = Line2D([], [], marker="s", linestyle="none", color=colours.of("paper"), markeredgecolor=colours.of("ink"))
    shown: list[tuple[Artist, str]] = [
        (square, "passer"),
        (Patch(fill=False, edgecolor=colours.of("faint-ink")), "a passer's floor"),
        (Patch(**seam_looks(colours)), "seam"),
    ]
    if flight is not None:
        crossed = Patch(fill=False, hatch="xxxx", edgecolor=colours.of("hatch"), linewidth=0.0)
        shown.append((crossed, f"landings out of reach in {flight.at_s[0, 1]:.1f} s"))
    return shown


def seam_looks(colours: Colours) -> dict[str, Any]:
    """Return how a seam is tinted; its edge keeps it visible in grey."""
    from matplotlib.colors import to_rgba

    return {"facecolor": to_rgba(colours.of("aim"), 0.28), "edgecolor": colours.of("rule"), "linewidth": 0.6}


def draw_formation(
    axes: Axes,
    formation: Formation,
    court: Court,
    colours: Colours,
    settings: StudySettings,
    flight: Playable | None = None,
    size_pt: float = CHART_PT,
) -> None:
    """Draw passers with their labels, the borders of their floor, the seams tinted, out of reach hatched."""
    for outline in seam_polygons(formation, court, settings.seam_width_m).values():
        _fill(axes, outline, {**seam_looks(colours), "zorder": 1})
    border: dict[str, Any] = {"fill": False, "edgecolor": colours.of("faint-ink"), "linewidth": 1.0, "zorder": 2}
    for cell in cells(formation, court).values():
        _fill(axes, cell, border)
    if flight is not None and formation.passers:
        away = out_of_reach(formation, court, flight, settings.movement)
        _fill(
            axes, away, {"fill": False, "hatch": "xx", "edgecolor": colours.of("hatch"), "linewidth": 0.0, "zorder": 1}
        )
    for passer in formation.passers:
        at = (passer.x_m, passer.y_m)
        axes.plot(*at, marker="s", markersize=9, color=colours.of("paper"), markeredgecolor=colours.of("ink"), zorder=6)
        looks = {"size": size_pt, "color": colours.of("ink"), "ha": "center", "va": "top", "weight": "bold"}
        write(axes, passer.x_m, passer.y_m - 0.22, passer.label, zorder=8, **looks)


def _fill(axes: Axes, shape: Geometry, looks: dict[str, Any]) -> None:
    """Draw an outline, its parts, and leave its holes open."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    for part in getattr(shape, "geoms", [shape]):
        if part.is_empty or part.geom_type != "Polygon":
            continue
        rings = [np.asarray(ring.coords) for ring in (part.exterior, *part.interiors)]
        codes = [np.r_[Path.MOVETO, np.full(len(ring) - 2, Path.LINETO), Path.CLOSEPOLY] for ring in rings]
        axes.add_patch(PathPatch(Path(np.concatenate(rings), np.concatenate(codes)), **looks))
