"""Charts of landings: the receiving half as the server sees it.

Figures are made without pyplot, so that they can be drawn off the window's thread. Shapes and hatching carry the
meaning; colour repeats it, so that a print in grey loses nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from serve_marker.confidence_level import ELLIPSE_95
from serve_marker.court.aims import Aim
from serve_marker.court.areas import AreaScheme, area_polygon
from serve_marker.court.dimensions import Court, Floats
from serve_marker.report.colours import COLOURS, Colours
from serve_marker.report.density import density_legend, draw_density, newest_landings
from serve_marker.report.figure_pixels import new_figure
from serve_marker.report.lettering import CHART_PT, FAMILY, write
from serve_marker.report.overlay_items import SHAPE_WORDS, ellipse_polygon
from serve_marker.study.fewest_serves import FEWEST
from serve_marker.study.rates import area_rates, landed_mask
from serve_marker.study.sentences import hits_words
from serve_marker.study.serve_shape import shapes_of
from serve_marker.study.spread import HALF_INSIDE, spread_of

if TYPE_CHECKING:
    import pandas
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Side = Literal["left", "right"]
Edge = Literal["top", "bottom"]

BESIDE_M = 1.1
BEHIND_M = 1.5
BEFORE_M = 0.6
LARGE_LANDING_ERROR_M = 0.3
MOST_WITH_ERRORS = 80
RIM_SHARE, MOST_WITH_OWN_RIM = 0.15, 300
MARKERS: dict[str, dict[str, Any]] = {
    "disc": {"marker": "o", "fillstyle": "full"},
    "ring": {"marker": "o", "fillstyle": "none"},
    "cross": {"marker": "x"},
    "bar": {"marker": "_"},
    "diamond": {"marker": "D", "fillstyle": "none"},
    "half-disc": {"marker": "o", "fillstyle": "left"},
    "square": {"marker": "s", "fillstyle": "none"},
    "caret": {"marker": "^", "fillstyle": "none"},
}


def court_chart(
    table: pandas.DataFrame,
    court: Court,
    scheme: AreaScheme,
    aim: Aim | None = None,
    look: str = "light",
    size_in: tuple[float, float] = (6.2, 6.6),
) -> Figure:
    """Return the landings on the receiving half as the server sees it, net at the bottom, with counts per area.

    The legend stands below, or beside where the figure is wide.
    """
    figure = new_figure(*size_in, look)
    add_court(figure, table, court, scheme, aim, COLOURS[look])
    return figure


def add_court(
    figure: Figure,
    table: pandas.DataFrame,
    court: Court,
    scheme: AreaScheme,
    aim: Aim | None,
    colours: Colours,
    more: Sequence[tuple[Artist, str]] = (),
) -> Axes:
    """Fill a figure with the court and its legend, and return the court's axes; ``more`` goes into the legend too."""
    marked = newest_landings(table)
    is_dense = len(marked) < landed_mask(table).sum()
    more = [*aim_legend(aim, colours), *(density_legend(colours) if is_dense else ()), *more]
    width_in, height_in = figure.get_size_inches()
    if width_in > 1.25 * height_in:
        court_in = min(height_in * 1.02, width_in - 2.6)
        axes = figure.add_axes((0.01, 0.01, court_in / width_in, 0.98))
        draw_legend(figure, table, colours, (court_in / width_in + 0.02, 0.9), 9.0, 1, "upper left", more)
    else:
        axes = figure.add_axes((0.02, 0.13, 0.96, 0.86))
        draw_legend(figure, table, colours, (0.5, 0.005), more=more)
    draw_court(axes, table, court, scheme, aim, colours, marked=marked)
    if is_dense:
        draw_density(axes, table, colours)
    return axes


def aim_legend(aim: Aim | None, colours: Colours) -> list[tuple[Artist, str]]:
    """Return what the hatched area means, for a legend."""
    from matplotlib.colors import to_rgba
    from matplotlib.patches import Patch

    looks: dict[str, Any] = {"facecolor": to_rgba(colours.of("aim-tint"), 0.35), "edgecolor": colours.of("faint-ink")}
    return [] if aim is None else [(Patch(**looks, hatch="////", linewidth=0.6), "aimed at")]


def draw_court(
    axes: Axes,
    table: pandas.DataFrame,
    court: Court,
    scheme: AreaScheme,
    aim: Aim | None,
    colours: Colours,
    size_pt: float = CHART_PT,
    marked: pandas.DataFrame | None = None,
) -> None:
    """Draw court, areas with counts, aim, landings and spread into axes; ``marked`` are those drawn one by one."""
    depth_m = court.half_length_m
    draw_half_court(axes, court, scheme, aim, colours)
    draw_area_counts(axes, table, court, scheme, colours, size_pt)
    draw_landings(axes, table if marked is None else marked, colours, 0.85 * size_pt)
    _draw_spread(axes, table, colours)
    words = {"size": size_pt, "color": colours.of("faint-ink"), "ha": "center", "va": "top"}
    write(axes, court.width_m / 2, -0.12, "net (the server stands below)", **words)
    if len(table) == 0:
        middle = (court.width_m / 2, depth_m / 2)
        write(axes, *middle, "no serves", size=size_pt + 2, color=colours.of("faint-ink"), ha="center", va="center")


def draw_half_court(axes: Axes, court: Court, scheme: AreaScheme, aim: Aim | None, colours: Colours) -> None:
    """Draw the half's floor and lines, the borders of areas and the aim, and set the axes to hold them."""
    from matplotlib.patches import Polygon, Rectangle

    axes.set_xlim(-BESIDE_M, court.width_m + BESIDE_M)
    axes.set_ylim(-BEFORE_M, court.half_length_m + BEHIND_M)
    axes.set_aspect("equal")
    axes.set_axis_off()
    width_m, depth_m = court.width_m, court.half_length_m
    axes.add_patch(Rectangle((0, 0), width_m, depth_m, facecolor=colours.of("floor"), edgecolor="none", zorder=0))
    if aim is not None:
        hatched: dict[str, Any] = {"hatch": "////", "edgecolor": colours.of("rule"), "linewidth": 0.0, "zorder": 1}
        axes.add_patch(Polygon(np.asarray(aim.polygon.exterior.coords), fill=False, **hatched))
        draw_aim(axes, aim, colours)
    border: dict[str, Any] = {"color": colours.of("faint-ink"), "linewidth": 0.6, "linestyle": (0, (3, 3)), "zorder": 2}
    for x_m in scheme.column_borders_m:
        axes.plot([x_m, x_m], [0, depth_m], **border)
    for y_m in scheme.row_borders_m:
        axes.plot([0, width_m], [y_m, y_m], **border)
    line = colours.of("court-line")
    if court.attack_line_m is not None:
        axes.plot([0, width_m], [court.attack_line_m] * 2, color=line, linewidth=1.4, zorder=2)
    axes.plot([0, 0, width_m, width_m], [0, depth_m, depth_m, 0], color=line, linewidth=1.8, zorder=2)
    axes.plot([-0.5, width_m + 0.5], [0, 0], color=colours.of("net"), linewidth=3.0, zorder=2)


def draw_aim(axes: Axes, aim: Aim, colours: Colours) -> None:
    """Tint the floor of an aim, with a border that stays in grey."""
    from matplotlib.patches import Polygon

    corners = np.asarray(aim.polygon.exterior.coords)
    axes.add_patch(Polygon(corners, facecolor=colours.of("aim-tint"), alpha=0.35, edgecolor="none", zorder=1))
    axes.add_patch(Polygon(corners, fill=False, edgecolor=colours.of("ink"), linewidth=1.2, zorder=2))


def draw_area_counts(
    axes: Axes, table: pandas.DataFrame, court: Court, scheme: AreaScheme, colours: Colours, size_pt: float
) -> None:
    """Write each area's name and count into the corner of the area that hides the fewest landings."""
    from matplotlib.patheffects import withStroke

    halo = [withStroke(linewidth=3.0, foreground=colours.of("floor"))]
    landings_m = table.loc[landed_mask(table), ["x_m", "y_m"]].to_numpy(dtype=float)
    for name, rate in area_rates(table, court.name).items():
        (x_m, y_m), across, down = _free_corner(area_polygon(name, court, scheme).bounds, landings_m, bool(rate.most))
        first_pt, second_pt = (0.0, -1.3 * size_pt) if down == "top" else (1.3 * size_pt, 0.0)
        lines = [(name, colours.of("ink"), "normal", first_pt if rate.most else 0.0)]
        if rate.most:
            share = f" ({100 * rate.share:.0f} %)" if rate.hits == rate.most and rate.enough else ""
            lines.append((f"{hits_words(rate)}{share}", colours.of("ink"), "bold", second_pt))
        for words, colour, weight, up_pt in lines:
            axes.annotate(
                words,
                (x_m, y_m),
                xytext=(0, up_pt),
                textcoords="offset points",
                family=FAMILY,
                size=size_pt,
                weight=weight,
                color=colour,
                ha=across,
                va=down,
                zorder=8,
                path_effects=halo,
            )


def _free_corner(
    bounds_m: tuple[float, float, float, float], landings_m: Floats, with_count: bool
) -> tuple[tuple[float, float], Side, Edge]:
    """Return a corner of an area for its words, and which side of the words lies there: the upper left where it can."""
    left_m, low_m, right_m, top_m = bounds_m
    room_m = (0.62 * (right_m - left_m), (0.26 if with_count else 0.16) * (top_m - low_m))
    corners: list[tuple[tuple[float, float], Side, Edge]] = [
        ((left_m, top_m), "left", "top"),
        ((right_m, top_m), "right", "top"),
        ((left_m, low_m), "left", "bottom"),
        ((right_m, low_m), "right", "bottom"),
    ]
    hidden = [int((np.abs(landings_m - corner_m) < room_m).all(axis=1).sum()) for corner_m, _, _ in corners]
    (x_m, y_m), side, edge = corners[int(np.argmin(hidden))]
    inwards_m = (0.12 if side == "left" else -0.12, -0.12 if edge == "top" else 0.12)
    return (x_m + inwards_m[0], y_m + inwards_m[1]), side, edge


def draw_landings(axes: Axes, table: pandas.DataFrame, colours: Colours, size: float, with_errors: bool = True) -> None:
    """Draw each landing's shape, and the errors of the badly known ones where there are few."""
    landed = table[landed_mask(table)]
    shapes = np.array(shapes_of(landed), dtype=object)
    size *= 1.0 if len(landed) <= 120 else 0.7 if len(landed) <= 600 else 0.45
    x_m, y_m = drawn_places(axes, landed).T
    if with_errors and len(landed) <= MOST_WITH_ERRORS:
        _draw_errors(axes, landed, colours)
    for shape in SHAPE_WORDS:
        there = shapes == shape
        if there.any():
            plot_marks(axes, x_m[there], y_m[there], shape, colours, size)


def plot_marks(axes: Axes, x_m: Floats, y_m: Floats, shape: str, colours: Colours, size: float) -> None:
    """Draw one shape at places; each with its own rim, but where there are very many, all rims below all of them."""
    looks = marker_looks(shape, colours, size)
    if len(x_m) > MOST_WITH_OWN_RIM:
        del looks["path_effects"]
        rim_looks = {"color": colours.of("rim"), "markeredgecolor": colours.of("rim")}
        width_pt = looks["markeredgewidth"] + RIM_SHARE * size
        axes.plot(x_m, y_m, **looks | rim_looks | {"markeredgewidth": width_pt}, zorder=4, clip_on=False)
    axes.plot(x_m, y_m, **looks, zorder=5, clip_on=False)


def drawn_places(axes: Axes, landed: pandas.DataFrame) -> Floats:
    """Return where landings (N, 2) are drawn [m]: those far off at the edge of what the axes show."""
    low_m, high_m = np.array([axes.get_xlim(), axes.get_ylim()]).T
    return np.asarray(np.clip(landed[["x_m", "y_m"]].to_numpy(dtype=float), low_m + 0.15, high_m - 0.15))


def _draw_errors(axes: Axes, landed: pandas.DataFrame, colours: Colours) -> None:
    from matplotlib.patches import Polygon

    for row in landed[landed["error_m"] > LARGE_LANDING_ERROR_M].itertuples():
        covariance_m2 = np.array([[row.cov_xx, row.cov_xy], [row.cov_xy, row.cov_yy]])
        if np.isfinite(covariance_m2).all():
            outline = ellipse_polygon(np.array([row.x_m, row.y_m]), covariance_m2, ELLIPSE_95)
            looks: dict[str, Any] = {"edgecolor": colours.of("error"), "linewidth": 0.5, "alpha": 0.7, "zorder": 4}
            axes.add_patch(Polygon(outline, fill=False, **looks))


def has_spread(table: pandas.DataFrame) -> bool:
    """Whether landings are enough, and meant for one place, so that their middle and spread say something."""
    aims = set(table["aim"].to_numpy()[landed_mask(table)])
    return len(aims) == 1 and spread_of(table).n >= FEWEST


def _draw_spread(axes: Axes, table: pandas.DataFrame, colours: Colours) -> None:
    from matplotlib.patches import Polygon

    if not has_spread(table):
        return
    found = spread_of(table)
    outline = ellipse_polygon(found.centre_m, found.covariance_m2, HALF_INSIDE)
    colour = colours.of("spread")
    axes.add_patch(Polygon(outline, fill=False, edgecolor=colours.of("paper"), linewidth=3.4, zorder=6))
    axes.add_patch(Polygon(outline, fill=False, edgecolor=colour, linewidth=1.4, linestyle=(0, (6, 2)), zorder=6))
    x_m, y_m = found.centre_m
    axes.plot(x_m, y_m, marker="+", markersize=16, markeredgewidth=4.0, color=colours.of("paper"), zorder=6)
    axes.plot(x_m, y_m, marker="+", markersize=15, markeredgewidth=2.0, color=colour, zorder=7)


def marker_looks(shape: str, colours: Colours, size: float = 7.0) -> dict[str, Any]:
    """Return how matplotlib draws one shape, with a rim that lifts it off any ground."""
    from matplotlib.patheffects import withStroke

    colour = colours.of(shape)
    looks = dict(MARKERS[shape])
    looks |= {"color": colour, "markeredgecolor": colour, "markersize": size, "linestyle": "none"}
    looks["markeredgewidth"] = {"cross": 2.0, "bar": 2.6, "half-disc": 0.9}.get(shape, 1.5) * min(1.0, size / 6.0)
    rim_pt = looks["markeredgewidth"] + RIM_SHARE * size
    looks["path_effects"] = [withStroke(linewidth=rim_pt, foreground=colours.of("rim"))]
    if looks.get("fillstyle") == "left":
        looks["markerfacecoloralt"] = colours.of("paper")
    return looks


def draw_legend(
    figure: Figure,
    table: pandas.DataFrame,
    colours: Colours,
    at: tuple[float, float],
    size_pt: float = CHART_PT,
    ncols: int = 3,
    loc: Literal["lower center", "upper left"] = "lower center",
    more: Sequence[tuple[Artist, str]] = (),
    on_map: bool = True,
) -> None:
    """Draw what each shape means with its count; ``at`` is where ``loc`` lies.

    The counts add up to all serves of the table. ``on_map`` tells of the spread and the errors too, where a map of
    these serves shows them.
    """
    from matplotlib.lines import Line2D

    shapes = shapes_of(table)
    present = [shape for shape in SHAPE_WORDS if shape in shapes] or ["disc", "ring", "cross"]
    handles: list[Artist] = [Line2D([], [], **marker_looks(shape, colours)) for shape in present]
    aimed = table["aim"] != ""
    ring = SHAPE_WORDS["ring"] if aimed.all() else f"{SHAPE_WORDS['ring']} or had none" if aimed.any() else "in"
    said = SHAPE_WORDS | {"ring": ring}
    words = [f"{said[shape]}: {shapes.count(shape)}" for shape in present]
    if on_map and has_spread(table):
        spread_looks: dict[str, Any] = {"color": colours.of("spread"), "markersize": 10, "markeredgewidth": 1.8}
        handles.append(Line2D([], [], marker="+", linestyle=(0, (6, 2)), **spread_looks))
        words.append("mean, half land inside")
    if on_map and (table["error_m"] > LARGE_LANDING_ERROR_M).any() and len(table) <= MOST_WITH_ERRORS:
        handles.append(Line2D([], [], color=colours.of("error"), linewidth=0.8))
        words.append("how well a landing is known")
    handles += [handle for handle, _ in more]
    words += [text for _, text in more]
    legend = figure.legend(
        handles,
        words,
        loc=loc,
        bbox_to_anchor=at,
        ncols=ncols,
        frameon=False,
        prop={"family": FAMILY, "size": size_pt},
        labelcolor=colours.of("ink"),
        handlelength=2.2,
        columnspacing=1.4,
        handletextpad=0.6,
    )
    legend.set_zorder(9)


def style_axes(axes: Axes, colours: Colours, size_pt: float) -> None:
    """Give axes the palette's colours, without a box around."""
    axes.set_facecolor(colours.of("paper"))
    axes.spines[["top", "right"]].set_visible(False)
    axes.spines[["left", "bottom"]].set_color(colours.of("rule"))
    axes.tick_params(colors=colours.of("faint-ink"), labelsize=size_pt, length=2.5)
