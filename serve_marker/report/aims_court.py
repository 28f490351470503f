"""The receiving half for the wall: every aim tinted and named with its hits, the balls numbered as served."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from serve_marker.court.aims import Aim, aim_name
from serve_marker.court.areas import DEPTH_BANDS, AreaScheme, classify
from serve_marker.court.dimensions import Court, Floats
from serve_marker.report.charts import draw_aim, draw_area_counts, draw_half_court, draw_landings, drawn_places
from serve_marker.report.colours import PAPER_COLOURS
from serve_marker.report.free_places import FreePlaces
from serve_marker.report.lettering import NOTE_PT, SENTENCE_PT, width_of, write
from serve_marker.study.rates import landed_mask
from serve_marker.study.serve_shape import on_target, untold_words
from serve_marker.study.what_to_do import AimRows, rows_at_aims

if TYPE_CHECKING:
    import pandas
    from matplotlib.axes import Axes

MOST_NUMBERED = 50
MOST_AIMS = 9
BALL_PT, BALL_NUMBER_PT, AIM_PT = 10.0, 8.0, 10.0
BEFORE_M, BEYOND_M, LEAST_BEYOND_M, BESIDE_M = 0.7, 1.2, 0.25, 1.0
INSET_IN, REACH_IN = 0.05, 0.06
BELOW_IN, FAR = (0.12, 0.4, 0.9, 1.4, 1.9), 0.003
MOST_COVERED = 0.3
"""A number that would cover more of others and of balls, as a share of its own size, is left away."""


def draw_aims_court(
    axes: Axes, rows: pandas.DataFrame, court: Court, scheme: AreaScheme, size_in: tuple[float, float]
) -> bool:
    """Draw the half into axes of that size [inch], as large as the height lets it be, with all that landed.

    Without any aim each area tells how many fell there. Returns whether every ball has its number.
    """
    draw_half_court(axes, court, scheme, None, PAPER_COLOURS)
    landed = rows[landed_mask(rows)]
    longest_m = float(landed["y_m"].max()) if len(landed) else 0.0
    in_per_m = _fit(axes, court, size_in, longest_m)
    numbered = len(rows) <= MOST_NUMBERED
    at_aims = rows_at_aims(rows, court, scheme)[:MOST_AIMS]
    for aim, _ in at_aims:
        draw_aim(axes, aim, PAPER_COLOURS)
    if not at_aims:
        draw_area_counts(axes, rows, court, scheme, PAPER_COLOURS, SENTENCE_PT)
    draw_landings(axes, rows, PAPER_COLOURS, BALL_PT if numbered else 0.8 * BALL_PT, with_errors=False)
    places_in = drawn_places(axes, landed) * in_per_m
    free = FreePlaces(np.hstack([places_in - BALL_PT / 144, places_in + BALL_PT / 144]))
    _name_aims(axes, at_aims, court, scheme, in_per_m, free)
    _name_bands(axes, court, scheme)
    if not numbered:
        return False
    order = np.flatnonzero(landed_mask(rows)) + 1
    return _number_balls(axes, places_in, [str(number) for number in order], in_per_m, free)


def _fit(axes: Axes, court: Court, size_in: tuple[float, float], longest_m: float) -> float:
    """Show the half with what fell beyond its end line, and the room beside it; return inches per metre."""
    width_in, height_in = size_in
    beyond_m = float(np.clip(longest_m + 0.3 - court.half_length_m, LEAST_BEYOND_M, BEYOND_M))
    low_m, high_m = -BEFORE_M, court.half_length_m + beyond_m
    in_per_m = min(height_in / (high_m - low_m), width_in / (court.width_m + 2 * BESIDE_M))
    beside_m = (width_in / in_per_m - court.width_m) / 2
    axes.set_xlim(-beside_m, court.width_m + beside_m)
    axes.set_ylim(low_m, high_m)
    axes.set_anchor("N")
    return in_per_m


def _name_aims(
    axes: Axes, at_aims: AimRows, court: Court, scheme: AreaScheme, in_per_m: float, free: FreePlaces
) -> None:
    """Write each aim's name and how often it was hit where that hides the least: in it, or below with a line to it."""
    for aim, own in sorted(at_aims, key=lambda one: one[0].polygon.area):
        found = on_target(own)
        counted = [f"{found.hits} of {found.n}"] if found.n else []
        lines = [aim_in_its_area(aim, court, scheme), *counted, *filter(None, [untold_words(found)])]
        size_in = (
            max(width_of(line, AIM_PT, bold=True) for line in lines) + 2 * INSET_IN,
            len(lines) * 1.3 * AIM_PT / 72,
        )
        places_in = [*_corners(aim, size_in, in_per_m), *_below(aim, size_in, court.width_m, in_per_m)]
        left_in, low_in, right_in, high_in = free.take(places_in, later=FAR) or places_in[0]
        aim_left_in, lowest_in, aim_right_in, _ = (in_per_m * side_m for side_m in aim.polygon.bounds)
        ground: dict[str, Any] = {}
        if high_in < lowest_in:
            ground = {"bbox": {"facecolor": PAPER_COLOURS.of("floor"), "edgecolor": "none", "pad": 1.0}}
            middle_m = (max(left_in, aim_left_in) + min(right_in, aim_right_in)) / 2 / in_per_m
            line: dict[str, Any] = {"color": PAPER_COLOURS.of("ink"), "linewidth": 0.8, "zorder": 4}
            axes.plot([middle_m] * 2, [high_in / in_per_m, (lowest_in + REACH_IN) / in_per_m], **line)
        for number, words in enumerate(reversed(lines)):
            up_in = low_in + number * 1.3 * AIM_PT / 72
            weight = "bold" if words == lines[0] else "normal"
            _write_on_floor(axes, left_in / in_per_m, up_in / in_per_m, words, size=AIM_PT, weight=weight, **ground)


def aim_in_its_area(aim: Aim, court: Court, scheme: AreaScheme) -> str:
    """The name of an aim; a spot or a target is told by the area it lies in."""
    named = aim_name(aim.text)
    if aim.kind not in ("point", "outline"):
        return named
    (area,) = classify(np.array([aim.centre_m]), court, scheme).area
    return f"{named.removeprefix('the ')} in {area}" if area else named


def _below(
    aim: Aim, size_in: tuple[float, float], court_m: float, in_per_m: float
) -> list[tuple[float, float, float, float]]:
    """Boxes of that size below an aim on the court, from left to right, the nearer ones first."""
    left_in, low_in, right_in, _ = (in_per_m * side_m for side_m in aim.polygon.bounds)
    width_in, height_in = size_in
    first_in = max(min(left_in + INSET_IN, right_in - 0.4 * width_in - width_in / 2), INSET_IN)
    last_in = min(max(right_in - INSET_IN - width_in, left_in), court_m * in_per_m - width_in - INSET_IN)
    lefts_in = np.linspace(first_in, last_in, 4).tolist()
    highs_in = [low_in - down_in for down_in in BELOW_IN if low_in - down_in > height_in]
    return [(left, high - height_in, left + width_in, high) for high in highs_in for left in lefts_in]


def _corners(aim: Aim, size_in: tuple[float, float], in_per_m: float) -> list[tuple[float, float, float, float]]:
    """Boxes of that size in the corners of an aim, at its upper border first; of a seam also along its middle."""
    left_in, low_in, right_in, high_in = (in_per_m * side_m for side_m in aim.polygon.bounds)
    width_in, height_in = size_in
    narrow = right_in - left_in < width_in + 2 * INSET_IN
    middle_in = (left_in + right_in - width_in) / 2
    lefts_in = (middle_in,) if narrow else (left_in + INSET_IN, right_in - INSET_IN - width_in)
    lows_in = [high_in - INSET_IN - height_in, low_in + INSET_IN]
    if aim.kind == "seam":
        lows_in = [low_in + INSET_IN, *np.linspace(low_in, high_in, 7)[1:-1].tolist()]
    return [(left, low, left + width_in, low + height_in) for low in lows_in for left in lefts_in]


def _number_balls(axes: Axes, places_in: Floats, numbers: Sequence[str], in_per_m: float, free: FreePlaces) -> bool:
    """Write each ball's number beside it, on the side that hides the least; return whether none is left away."""
    all_numbered = True
    away_in = BALL_PT / 144 + 0.025
    high_in = 0.75 * BALL_NUMBER_PT / 72
    for (x_in, y_in), number in zip(places_in, numbers, strict=True):
        wide_in = width_of(number, BALL_NUMBER_PT, bold=True)
        corners_in = [
            (x_in + away_in, y_in - high_in / 2),
            (x_in - away_in - wide_in, y_in - high_in / 2),
            (x_in - wide_in / 2, y_in + away_in),
            (x_in - wide_in / 2, y_in - away_in - high_in),
            (x_in + 0.7 * away_in, y_in + 0.7 * away_in),
            (x_in - 0.7 * away_in - wide_in, y_in + 0.7 * away_in),
            (x_in + 0.7 * away_in, y_in - 0.7 * away_in - high_in),
            (x_in - 0.7 * away_in - wide_in, y_in - 0.7 * away_in - high_in),
        ]
        box_in = free.take([(x, y, x + wide_in, y + high_in) for x, y in corners_in], MOST_COVERED)
        if box_in is None:
            all_numbered = False
        else:
            at_m = box_in[0] / in_per_m, box_in[1] / in_per_m
            _write_on_floor(axes, *at_m, number, size=BALL_NUMBER_PT, weight="bold")
    return all_numbered


def _write_on_floor(axes: Axes, x_m: float, y_m: float, words: str, **looks: Any) -> None:
    from matplotlib.patheffects import withStroke

    halo = [withStroke(linewidth=2.2, foreground=PAPER_COLOURS.of("floor"))]
    usual: dict[str, Any] = {"color": PAPER_COLOURS.of("ink"), "ha": "left", "va": "baseline", "zorder": 8}
    write(axes, x_m, y_m, words, path_effects=halo, **usual | looks)


def _name_bands(axes: Axes, court: Court, scheme: AreaScheme) -> None:
    """Write short, between and deep beside the court, and where the server stands."""
    faint: dict[str, Any] = {"size": NOTE_PT + 1, "color": PAPER_COLOURS.of("faint-ink")}
    borders_m = (0.0, *scheme.row_borders_m, court.half_length_m)
    for name, low_m, high_m in zip(DEPTH_BANDS, borders_m, borders_m[1:], strict=False):
        at_m = axes.get_xlim()[1] - 0.05
        write(axes, at_m, (low_m + high_m) / 2, name, ha="right", va="center", **faint)
    write(axes, court.width_m / 2, -0.15, "net (the server stands below)", ha="center", va="top", **faint)
