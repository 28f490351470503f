"""The questions a coach asks of the serves, each with its answer in words and its chart."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.desktop.study.words import (
    StudyWords,
    best_aim_of,
    better,
    climbs_of,
    how_deep,
    how_fast,
    how_many,
    how_near,
    loads_of,
    nothing_to_say,
    where,
    where_to_aim,
    which_seam,
    which_step,
    who,
    whom_to_serve,
)
from serve_marker.desktop.widgets.pointable_landings import NO_POINTS, ChartPoints
from serve_marker.errors import UserError
from serve_marker.report.aim_chart import aim_chart
from serve_marker.report.charts import court_chart
from serve_marker.report.comparison_charts import pace_chart, periods_chart, seam_chart, servers_chart
from serve_marker.report.density import newest_landings
from serve_marker.report.figure_pixels import DRAWING, pixels_of
from serve_marker.report.grid_chart import grid_chart
from serve_marker.report.match_day_page import match_card_of, match_day_grid
from serve_marker.report.passers_chart import common_formation, passers_chart
from serve_marker.report.place_words import landing_error_words
from serve_marker.report.sheets import ReportData, common_aim
from serve_marker.report.side_view import depth_chart
from serve_marker.report.wall_pages import ladder_grid, load_grid
from serve_marker.study.filter import ServeFilter, filter_serves
from serve_marker.study.load_words import load_columns
from serve_marker.study.passers import gap_words
from serve_marker.study.sentences import pace_words, unit_of
from serve_marker.study.trend import steps_passed

if TYPE_CHECKING:
    import pandas
    from matplotlib.figure import Figure

DOTS_PER_IN, LEAST_DOTS_PER_IN = 120.0, 100.0
ROOM_IN = (5.6, 2.7)
"""What a chart needs to be read [inch]: where letters so large leave it less, they grow less."""
POINT_COLUMNS = (
    *("serve_id", "server", "area", "outcome", "verdict", "missed", "estimated", "error_m", "gap_m", "floor_gap_m"),
    *("nearest", "pace_mps"),
)
Size = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Answer:
    """A question answered for one choice of serves; ``pixels`` is the chart (H, W, 4) RGBA."""

    data: ReportData
    words: StudyWords
    pixels: NDArray[np.uint8]
    points: ChartPoints = NO_POINTS

    def with_more(self, sentence: str) -> Answer:
        """Return the answer with one more thing worth knowing, said first."""
        more = f"{sentence} {self.words.more}".strip()
        return replace(self, words=replace(self.words, more=more))


@dataclass(frozen=True)
class StudyQuestion:
    """One question: its heading, how it is answered, whether landings can be picked in its chart, whether it asks how
    the serves flew, and whether serves count that were only counted beside the court.
    """

    heading: str
    say: Callable[[pandas.DataFrame, ReportData], StudyWords]
    draw: Callable[[pandas.DataFrame, ReportData, str, Size], Figure]
    on_court: bool = False
    of_flights: bool = False
    of_tallies: bool = False


def answer(
    data: ReportData,
    choice: ServeFilter,
    question: StudyQuestion,
    look: str,
    size_px: Size,
    scale: float,
    text_scale: float = 1.0,
) -> Answer:
    """Answer a question; ``size_px`` is the room for the chart and ``scale`` the screen's dots per pixel.

    Letters, lines and marks are ``text_scale`` times as large as at 100 %.
    """
    rows = filter_serves(data.table, choice)
    most = min(px / needed_in for px, needed_in in zip(size_px, ROOM_IN, strict=True))
    dots_per_in = max(LEAST_DOTS_PER_IN, min(DOTS_PER_IN * text_scale, most))
    size_in = (max(size_px[0], 360.0) / dots_per_in, max(size_px[1], 220.0) / dots_per_in)
    with DRAWING:
        figure = question.draw(rows, data, look, size_in)
        pixels = pixels_of(figure, dots_per_in * scale)
        points = _points(rows, figure, pixels) if question.on_court else NO_POINTS
    something = len(rows) or (question.of_tallies and data.has_tallies)
    words = question.say(rows, data) if something else nothing_to_say(data)
    return Answer(data, words, pixels, points)


def _points(rows: pandas.DataFrame, figure: Figure, pixels: NDArray[np.uint8]) -> ChartPoints:
    landed = newest_landings(rows)
    if not len(landed):
        return NO_POINTS
    axes = figure.axes[0]
    (left_m, right_m), (low_m, high_m) = axes.get_xlim(), axes.get_ylim()
    x_m = np.clip(landed["x_m"].to_numpy(dtype=float), left_m, right_m)
    y_m = np.clip(landed["y_m"].to_numpy(dtype=float), low_m, high_m)
    drawn = axes.transData.transform(np.column_stack([x_m, y_m]))
    height, width = pixels.shape[:2]
    places = np.column_stack([drawn[:, 0] / width, 1 - drawn[:, 1] / height])
    shown = landed[list(POINT_COLUMNS)]

    def describe(number: int) -> tuple[str, str]:
        row = shown.iloc[number].to_dict()
        return str(row["serve_id"]), point_words(row, unit_of(shown))

    return ChartPoints(places, describe)


def point_words(row: dict[str, Any], unit: str = "km/h") -> str:
    """Return what one landing is: "7 Marit, deep 1, in, \u00b10.07 m"."""
    place = "" if row["verdict"] == "out" else row["area"]
    verdict = "received" if row.get("outcome") == "received" else f"{row['verdict']} {row['missed']}".strip()
    estimated = "estimated" if row.get("estimated") else ""
    near = gap_words(str(row.get("nearest", "")), row.get("gap_m", math.nan), row.get("floor_gap_m", math.nan))
    known_to = landing_error_words(row["error_m"])
    parts = [row["server"], place, verdict, estimated, known_to, near, pace_words(row["pace_mps"], unit=unit)]
    return ", ".join(part for part in parts if part)


def _draw_where(rows: pandas.DataFrame, data: ReportData, look: str, size_in: Size) -> Figure:
    aim = common_aim(rows, data.court, data.scheme)
    return court_chart(rows, data.court, data.scheme, aim, look, size_in)


def _draw_near(rows: pandas.DataFrame, data: ReportData, look: str, size_in: Size) -> Figure:
    return passers_chart(rows, data.court, data.scheme, data.formations, data.settings, look, size_in)


def _draw_seams(rows: pandas.DataFrame, data: ReportData, look: str, size_in: Size) -> Figure:
    if common_formation(rows, data.formations) is not None:
        return _draw_near(rows, data, look, size_in)
    return seam_chart(rows, data.court, data.scheme, look, size_in)


def _draw_aim(rows: pandas.DataFrame, data: ReportData, look: str, size_in: Size) -> Figure:
    try:
        found = best_aim_of(rows, data)
    except UserError:
        found = None
    return aim_chart(found, data.court, data.scheme, look, size_in)


def _draw_ladder(rows: pandas.DataFrame, data: ReportData, look: str, size_in: Size) -> Figure:
    return grid_chart(ladder_grid(*climbs_of(rows, data)), look, size_in)


def _draw_periods(rows: pandas.DataFrame, data: ReportData, look: str, size_in: Size) -> Figure:
    players = set(rows["player_id"]) - {""}
    passed = steps_passed(data.table, players.pop(), data.ladder) if len(players) == 1 else {}
    return periods_chart(rows, look, size_in, passed)


def _draw_load(rows: pandas.DataFrame, data: ReportData, look: str, size_in: Size) -> Figure:
    return grid_chart(load_grid(load_columns(loads_of(rows, data))), look, size_in)


def _draw_match_day(rows: pandas.DataFrame, data: ReportData, look: str, size_in: Size) -> Figure:
    return grid_chart(match_day_grid(match_card_of(rows, data)), look, size_in)


QUESTIONS = (
    StudyQuestion("Where?", where, _draw_where, on_court=True),
    StudyQuestion(
        "How deep?",
        how_deep,
        lambda rows, data, look, size_in: depth_chart(rows, data.court, data.scheme, look, size_in),
    ),
    StudyQuestion("Which seam?", which_seam, _draw_seams, on_court=True, of_flights=True),
    StudyQuestion("How near a passer?", how_near, _draw_near, on_court=True, of_flights=True),
    StudyQuestion(
        "How fast?", how_fast, lambda rows, _data, look, size_in: pace_chart(rows, look, size_in), of_flights=True
    ),
    StudyQuestion("Who?", who, lambda rows, _data, look, size_in: servers_chart(rows, look, size_in)),
    StudyQuestion("Where to aim?", where_to_aim, _draw_aim),
    StudyQuestion("Whom to serve?", whom_to_serve, _draw_match_day, of_flights=True),
    StudyQuestion("Which step?", which_step, _draw_ladder),
    StudyQuestion("How many?", how_many, _draw_load, of_tallies=True),
    StudyQuestion("Better than before?", better, _draw_periods),
)
