"""Charts that set servers, seams and paces side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from serve_marker.court.areas import AreaScheme, seam_names, seam_polygon
from serve_marker.court.dimensions import Court
from serve_marker.report.charts import BEHIND_M, BESIDE_M, add_court, style_axes
from serve_marker.report.colours import COLOURS, Colours
from serve_marker.report.figure_pixels import new_figure
from serve_marker.report.lettering import SMALLEST_PT, TEXT_PT, fitted, write
from serve_marker.report.score_bar import PALE
from serve_marker.report.sheets import practices_by_day
from serve_marker.study.by_server import SERVER_COLUMNS, rows_by_server
from serve_marker.study.compare_servers import AIMED, COMPARED, rates_alike
from serve_marker.study.rates import (
    RATE_COLUMNS,
    Rate,
    seam_hits,
)
from serve_marker.study.sentences import (
    hits_words,
    possible_paces,
    unit_of,
)
from serve_marker.study.serve_shape import OnTarget, counted_words, on_target
from serve_marker.study.settings import PER_MPS
from serve_marker.study.trend import smoothed

if TYPE_CHECKING:
    import pandas
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

NAMES_IN = 1.7
WORDS_IN = 2.2
ROW_IN = 0.5
LEAST_ROW_IN, LEAST_AXIS_IN = 0.19, 1.0
MOST_PRACTICES = 30
MOST_WITH_RANGES = 80
Score = tuple[OnTarget, Rate]
BAR = 0.42
"""How high a bar is, of its row."""
LEAST_SPAN = 10.0
"""An axis of paces shows no less than this, in the unit they are told in."""


def servers_chart(table: pandas.DataFrame, look: str = "light", size_in: tuple[float, float] = (7.0, 4.0)) -> Figure:
    """Return each server's rate as a bar, the highest on top, and the count in words."""
    groups = rows_by_server(table[list(COMPARED)])
    what, scores = _scores(table, [own for _, own in groups])
    order = sorted(range(len(groups)), key=lambda place: -_surely(scores[place]))
    figure, axes = _rows_figure([groups[place][0] for place in order], look, size_in)
    if groups:
        _draw_scores(axes, what, [scores[place] for place in order], COLOURS[look])
    else:
        _say_instead(axes, "no serves", COLOURS[look])
    return figure


def pace_chart(table: pandas.DataFrame, look: str = "light", size_in: tuple[float, float] = (7.0, 4.0)) -> Figure:
    """Return each timed serve's pace as a point with its range, per server, and the median as a bar."""
    timed, unit = possible_paces(table), unit_of(table)
    groups = rows_by_server(timed[[*SERVER_COLUMNS, "pace_mps", "pace_low_mps", "pace_high_mps"]])
    figure, axes = _rows_figure([words for words, _ in groups], look, size_in)
    colours = COLOURS[look]
    if not groups:
        _say_instead(axes, "no timed serves", colours)
        return figure
    for place, (_, own) in enumerate(groups):
        pace_shown, low_shown, high_shown = (
            PER_MPS[unit] * own[name].to_numpy(dtype=float) for name in ("pace_mps", "pace_low_mps", "pace_high_mps")
        )
        heights = place + np.linspace(-0.28, 0.28, len(own)) if len(own) > 1 else np.array([float(place)])
        if len(own) <= MOST_WITH_RANGES:
            axes.hlines(heights, low_shown, high_shown, color=colours.of("error"), linewidth=0.8)
        axes.plot(pace_shown, heights, "o", color=colours.of("ring"), markersize=4, fillstyle="none", linestyle="none")
        middle = float(np.median(pace_shown))
        words = f"{middle:.0f} {unit}"
        if len(own) > 1:
            axes.plot([middle, middle], [place - 0.38, place + 0.38], color=colours.of("ink"), linewidth=2.2)
            words = f"typical {middle:.0f}, fastest {pace_shown.max():.0f} {unit}"
        _write_right(axes, place, words, colours)
    middle, reach = (float(part(axes.get_xlim())) for part in (np.mean, np.ptp))
    reach = max(reach, LEAST_SPAN)
    axes.set_xlim(middle - reach / 2, middle + reach / 2)
    words = f"{unit} from contact to landing (bar: typical; thin line: range)"
    axes.set_xlabel(words, size=TEXT_PT, color=colours.of("faint-ink"))
    return figure


def periods_chart(
    table: pandas.DataFrame,
    look: str = "light",
    size_in: tuple[float, float] = (7.0, 4.0),
    passed: Mapping[str, Sequence[str]] = MappingProxyType({}),
) -> Figure:
    """Return each practice's rate as a point with its range, the oldest on top, with the count in words.

    From five practices on a line smooths them; ``passed`` are the steps of the ladder passed on a day, shown as flags.
    """
    dated = table[table["date"] != ""]
    labels = dict(list(practices_by_day(dated).items())[-MOST_PRACTICES:])
    days = dated.drop_duplicates("practice_id").set_index("practice_id")["date"]
    figure, axes = _rows_figure(list(labels.values()), look, size_in)
    colours = COLOURS[look]
    if not labels:
        _say_instead(axes, "no practice has a date" if len(table) else "no serves", colours)
        return figure
    own = dict(list(table[["practice_id", *RATE_COLUMNS]].groupby("practice_id", sort=False)))
    what, scores = _scores(table, [own[practice_id] for practice_id in labels])
    _draw_scores(axes, what, scores, colours)
    middles = np.array([50 * (rate.hits + rate.most) / rate.n if rate.enough else np.nan for _, rate in scores])
    line = smoothed(middles)
    if np.isfinite(line).any():
        axes.plot(line, range(len(line)), color=colours.of("spread"), linewidth=1.6, alpha=0.8)
        axes.set_xlabel(f"{axes.get_xlabel()}; line: smoothed", size=TEXT_PT, color=colours.of("faint-ink"))
    for place, practice_id in enumerate(labels):
        if (date := days[practice_id]) in passed:
            flag: dict[str, Any] = {"size": SMALLEST_PT, "color": colours.of("ink"), "va": "center"}
            write(axes, 0, place + 0.32, f"\u2691 passed {', '.join(passed[date])}", **flag)
    return figure


def _scores(table: pandas.DataFrame, groups: Sequence[pandas.DataFrame]) -> tuple[str, list[Score]]:
    """Return what groups are compared by, and for each what is sure or too close, and where its rate may lie."""
    if not groups:
        return "", []
    what, rates = rates_alike(table, groups)
    if what == AIMED:
        return what, [(on_target(own), rate) for own, rate in zip(groups, rates, strict=True)]
    return what, [(OnTarget(rate.n, rate.hits, rate.most - rate.hits, 0), rate) for rate in rates]


def _surely(score: Score) -> float:
    """The share that is sure; below all others where there are too few to speak of one."""
    found, rate = score
    return found.hits / found.n if rate.enough and found.n else -1.0


def _draw_scores(axes: Axes, what: str, scores: list[Score], colours: Colours) -> None:
    """Draw scores of ``what`` as bars: solid for sure, pale with an outline for too close, chance a thin line below.

    Of too few serves only the count is said.
    """
    for place, (found, _) in enumerate(scores):
        _write_right(axes, place, counted_words(found), colours)
    known = [(place, *score) for place, score in enumerate(scores) if _surely(score) >= 0]
    places = np.array([place for place, _, _ in known], dtype=float)
    ends = [
        (found.hits / found.n, (found.hits + found.untold) / found.n, rate.low, rate.high) for _, found, rate in known
    ]
    share, most, low, high = 100 * np.array(ends, dtype=float).reshape(-1, 4).T
    disc = colours.of("disc")
    axes.barh(places, share, height=BAR, color=disc)
    axes.barh(places, most - share, left=share, height=BAR, color=disc, alpha=PALE)
    axes.barh(places, most - share, left=share, height=BAR, fill=False, edgecolor=disc, linewidth=1.0)
    axes.hlines(places + BAR / 2 + 0.12, low, high, color=colours.of("faint-ink"), linewidth=1.2)
    axes.set_xlim(-2, 102)
    words = f"{what}, of 100 serves (pale: cannot tell; thin line: true rate)"
    axes.set_xlabel(words, size=TEXT_PT, color=colours.of("faint-ink"))


def seam_chart(
    table: pandas.DataFrame,
    court: Court,
    scheme: AreaScheme,
    look: str = "light",
    size_in: tuple[float, float] = (6.2, 6.6),
) -> Figure:
    """Return the landings with both seams hatched and counted above the end line."""
    from matplotlib.patches import Polygon

    figure = new_figure(*size_in, look)
    colours = COLOURS[look]
    axes = add_court(figure, table, court, scheme, None, colours)
    counted = seam_hits(table, court.name)
    for name in seam_names(court.name):
        corners = np.asarray(seam_polygon(name, court, scheme).exterior.coords)
        axes.add_patch(Polygon(corners, facecolor=colours.of("aim-tint"), alpha=0.3, edgecolor="none", zorder=1))
        looks: dict[str, Any] = {"edgecolor": colours.of("faint-ink"), "linewidth": 0.8, "hatch": "////", "zorder": 1}
        axes.add_patch(Polygon(corners, fill=False, **looks))
        middle_m = float(corners[:, 0].mean())
        words = {"size": TEXT_PT, "ha": "center", "color": colours.of("ink")}
        above_m = court.half_length_m + BEHIND_M
        write(axes, middle_m, above_m - 0.45, name, va="center", **words)
        write(axes, middle_m, above_m - 0.95, hits_words(counted[name]), va="center", weight="bold", **words)
    axes.set_xlim(-BESIDE_M, court.width_m + BESIDE_M)
    return figure


def _rows_figure(names: list[str], look: str, size_in: tuple[float, float]) -> tuple[Figure, Axes]:
    """Return a figure with one row per name, no higher than the names need, with room for words on the right."""
    width_in, height_in = max(size_in[0], NAMES_IN + WORDS_IN + LEAST_AXIS_IN), size_in[1]
    colours = COLOURS[look]
    rows = max(1, len(names))
    height_in = min(max(height_in, rows * LEAST_ROW_IN + 0.75), rows * ROW_IN + 0.75)
    wanted_in = height_in - 0.75
    figure = new_figure(width_in, height_in, look)
    bottom_in = height_in - 0.15 - wanted_in
    box = (NAMES_IN / width_in, bottom_in / height_in, 1 - (NAMES_IN + WORDS_IN) / width_in, wanted_in / height_in)
    axes = figure.add_axes(box)
    style_axes(axes, colours, TEXT_PT)
    axes.set_ylim(max(1, len(names)) - 0.5, -0.5)
    axes.set_yticks([])
    axes.xaxis.grid(True, color=colours.of("rule"), linewidth=0.5)
    axes.set_axisbelow(True)
    for place, name in enumerate(names):
        words = fitted(name, NAMES_IN - 0.2, TEXT_PT)
        looks = {"color": colours.of("ink"), "ha": "right", "va": "center", "transform": axes.get_yaxis_transform()}
        write(axes, -0.02, place, words, size=TEXT_PT, **looks)
    return figure, axes


def _say_instead(axes: Axes, words: str, colours: Colours) -> None:
    """Write why there is nothing to draw in place of the empty axes."""
    axes.set_axis_off()
    looks = {"size": TEXT_PT + 2, "color": colours.of("faint-ink"), "ha": "center", "transform": axes.transAxes}
    write(axes, 0.5, 0.5, words, **looks)


def _write_right(axes: Axes, place: int, words: str, colours: Colours) -> None:
    looks = {"size": TEXT_PT, "ha": "left", "va": "center"}
    write(axes, 1.03, place, words, color=colours.of("ink"), transform=axes.get_yaxis_transform(), **looks)
