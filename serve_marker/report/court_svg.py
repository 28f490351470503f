"""The receiving half as SVG text, as the server sees it, in colours that the page around it chooses.

Aims are tinted and named with their hits; each ball is the mark it is on every sheet, told in words to whoever hears.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

import numpy as np

from serve_marker.court.aims import Aim
from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court, Floats
from serve_marker.report.aims_court import MOST_AIMS, aim_in_its_area
from serve_marker.report.overlay_items import SHAPE_WORDS
from serve_marker.study.rates import landed_mask
from serve_marker.study.sentences import count_words
from serve_marker.study.serve_shape import shapes_of
from serve_marker.study.what_to_do import rows_at_aims

if TYPE_CHECKING:
    import pandas

BESIDE_M, BEFORE_M, LEAST_BEYOND_M, MOST_BEYOND_M = 1.0, 0.5, 0.4, 2.0
BALL_M, LETTER_M, LINE_M = 0.2, 0.42, 0.06
PLACES = 6
"""At so many heights of an aim its name may stand."""
LINE_HEIGHT, LETTER_WIDTH = 1.2, 0.62
"""In heights of letters."""


def mark_svg(shape: str, x: float, y: float, radius: float) -> str:
    """Return one shape about a point, as the marks on film, charts and sheets have it.

    Examples
    --------
    >>> mark_svg("bar", 1.0, 2.0, 0.5)
    '<path class="mark bar filled" d="M0.5 1.9h1v0.2h-1z"/>'
    """
    r = radius
    half = f"M{x - r:g} {y:g}a{r:g} {r:g} 0 0 1 {2 * r:g} 0"
    circle = f"{half}a{r:g} {r:g} 0 0 1 {-2 * r:g} 0z"
    box = f"M{x - r:g} {y - r:g}h{2 * r:g}v{2 * r:g}h{-2 * r:g}z"
    paths = {
        "disc": ((circle, True),),
        "half-disc": ((circle, False), (f"M{x:g} {y - r:g}a{r:g} {r:g} 0 0 0 0 {2 * r:g}z", True)),
        "square": ((box, False),),
        "ring": ((circle, False),),
        "cross": ((f"M{x - r:g} {y - r:g}l{2 * r:g} {2 * r:g}M{x - r:g} {y + r:g}l{2 * r:g} {-2 * r:g}", False),),
        "bar": ((f"M{x - r:g} {y - 0.2 * r:g}h{2 * r:g}v{0.4 * r:g}h{-2 * r:g}z", True),),
        "diamond": ((f"M{x - r:g} {y:g}l{r:g} {-r:g}l{r:g} {r:g}l{-r:g} {r:g}z", False),),
        "caret": ((f"M{x - r:g} {y + 0.6 * r:g}l{r:g} {-1.2 * r:g}l{r:g} {1.2 * r:g}", False),),
    }
    return "".join(
        f'<path class="mark {shape}{" filled" if filled else ""}" d="{path}"/>' for path, filled in paths[shape]
    )


def court_svg(rows: pandas.DataFrame, court: Court, scheme: AreaScheme) -> str:
    """Return the half with the aims of some serves and where they landed, one metre as one unit."""
    landed = rows[landed_mask(rows)]
    longest_m = float(landed["y_m"].max()) if len(landed) else 0.0
    deep_m = court.half_length_m
    high_m = min(max(longest_m + LEAST_BEYOND_M, deep_m + LEAST_BEYOND_M), deep_m + MOST_BEYOND_M)
    at_aims = rows_at_aims(rows, court, scheme)[:MOST_AIMS]
    lines_m = [y_m for y_m in (court.attack_line_m,) if y_m is not None]
    parts = [
        f'<rect class="floor" x="0" y="{-deep_m:g}" width="{court.width_m:g}" height="{deep_m:g}"/>',
        *(_aim_area(aim.polygon.exterior.coords) for aim, _ in at_aims),
        f'<rect class="line" x="0" y="{-deep_m:g}" width="{court.width_m:g}" height="{deep_m:g}"/>',
        *(f'<path class="line" d="M0 {-y_m:g}h{court.width_m:g}"/>' for y_m in lines_m),
        f'<path class="net" d="M-0.6 0h{court.width_m + 1.2:g}"/>',
        *_balls(landed),
        *(_named(aim, aim_in_its_area(aim, court, scheme), landed) for aim, _ in at_aims),
    ]
    box = f"{-BESIDE_M:g} {-high_m:g} {court.width_m + 2 * BESIDE_M:g} {high_m + BEFORE_M:g}"
    told = f"{count_words(len(landed), 'landing')} on the court as the server sees it, net below."
    return (
        f'<svg class="court" viewBox="{box}" role="img" aria-label="{escape(told)}" '
        f'xmlns="http://www.w3.org/2000/svg">{"".join(parts)}</svg>'
    )


def _aim_area(corners_m: Sequence[tuple[float, ...]]) -> str:
    return f'<polygon class="aim" points="{" ".join(f"{x:.2f},{-y:.2f}" for x, y, *_ in corners_m)}"/>'


def _balls(landed: pandas.DataFrame) -> list[str]:
    shapes = shapes_of(landed)
    return [
        f"<g><title>{SHAPE_WORDS[shape]}</title>{mark_svg(shape, round(x_m, 2), round(-y_m, 2), BALL_M)}</g>"
        for shape, x_m, y_m in zip(shapes, landed["x_m"], landed["y_m"], strict=True)
    ]


def _named(aim: Aim, name: str, landed: pandas.DataFrame) -> str:
    """The name of an aim where in it the fewest balls lie."""
    middle_m, top_m = _free_place(aim, name, landed[["x_m", "y_m"]].to_numpy(dtype=float))
    return f'<text x="{middle_m:.2f}" y="{-top_m + LINE_HEIGHT * LETTER_M:.2f}">{escape(name)}</text>'


def _free_place(aim: Aim, name: str, balls_m: Floats) -> tuple[float, float]:
    """Middle and top of the place in an aim where its name hides the fewest balls (N, 2); the upper ones first."""
    left_m, low_m, right_m, high_m = aim.polygon.bounds
    half_m = len(name) * LETTER_WIDTH * LETTER_M / 2
    room_m = (LINE_HEIGHT + 0.4) * LETTER_M
    middle_m = (left_m + right_m) / 2
    aside_m = max((right_m - left_m) / 2 - half_m - LINE_M, 0.0)

    def hidden(place: tuple[float, float]) -> int:
        across_m, up_m = np.abs(balls_m - (place[0], place[1] - room_m / 2)).T
        return int(((across_m < half_m + BALL_M) & (up_m < room_m / 2 + BALL_M)).sum())

    tops_m = np.linspace(high_m, low_m + room_m, PLACES).tolist()
    return min(((middle_m + side * aside_m, top_m) for top_m in tops_m for side in (0, -1, 1)), key=hidden)
