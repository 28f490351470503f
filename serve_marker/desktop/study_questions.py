"""The questions a coach asks of the serves, each with its answer in words and its chart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.report.charts import court_chart, depth_chart
from serve_marker.report.comparisons import pace_chart, rate_asked, rows_by_server, seam_chart, servers_chart
from serve_marker.report.figures import DRAWING, pixels_of
from serve_marker.report.sheets import Evening, common_aim
from serve_marker.study.choose import Choice, choose
from serve_marker.study.rates import (
    FEWEST,
    Rate,
    area_rates,
    depth_distribution,
    landed_mask,
    outcome_counts,
    seam_hits,
)
from serve_marker.study.spread import bias_of, spread_of
from serve_marker.study.words import (
    INTERVAL_WORDS,
    aim_sentence,
    count_words,
    depth_sentence,
    endings_words,
    pace_sentence,
    pace_words,
    rate_with_interval_words,
    rate_words,
    too_few_words,
)

if TYPE_CHECKING:
    import pandas
    from matplotlib.figure import Figure

DOTS_PER_IN = 100.0
Size = tuple[float, float]


@dataclass(frozen=True)
class Words:
    """An answer in words: the sentence, what else is worth knowing, and the statistic behind it."""

    sentence: str
    more: str
    statistic: str


@dataclass(frozen=True)
class ChartPoint:
    """A landing in a drawn chart: its place as shares of the picture's width and height, and what it is."""

    across: float
    down: float
    serve_id: str
    words: str


@dataclass(frozen=True, eq=False)
class Answer:
    """A question answered for one choice of serves; ``pixels`` is the chart (H, W, 4) RGBA."""

    evening: Evening
    words: Words
    pixels: NDArray[np.uint8]
    points: tuple[ChartPoint, ...] = field(default=())


@dataclass(frozen=True)
class Question:
    """One question: its heading, how it is answered, and whether landings can be picked in its chart."""

    heading: str
    say: Callable[[pandas.DataFrame], Words]
    draw: Callable[[pandas.DataFrame, Evening, str, Size], Figure]
    on_court: bool = False


def answer(evening: Evening, choice: Choice, question: Question, look: str, size_px: Size, scale: float) -> Answer:
    """Answer a question; ``size_px`` is the room for the chart and ``scale`` the screen's dots per pixel."""
    rows = choose(evening.table, choice)
    size_in = (max(size_px[0], 360.0) / DOTS_PER_IN, max(size_px[1], 220.0) / DOTS_PER_IN)
    with DRAWING:
        figure = question.draw(rows, evening, look, size_in)
        pixels = pixels_of(figure, DOTS_PER_IN * scale)
        points = _points(rows, figure, pixels) if question.on_court else ()
    return Answer(evening, question.say(rows), pixels, points)


def _points(rows: pandas.DataFrame, figure: Figure, pixels: NDArray[np.uint8]) -> tuple[ChartPoint, ...]:
    landed = rows[landed_mask(rows)]
    if not len(landed):
        return ()
    axes = figure.axes[0]
    (left_m, right_m), (low_m, high_m) = axes.get_xlim(), axes.get_ylim()
    x_m = np.clip(landed["x_m"].to_numpy(dtype=float), left_m, right_m)
    y_m = np.clip(landed["y_m"].to_numpy(dtype=float), low_m, high_m)
    drawn = axes.transData.transform(np.column_stack([x_m, y_m]))
    height, width = pixels.shape[:2]
    return tuple(
        ChartPoint(float(x / width), float(1 - y / height), str(row["serve_id"]), point_words(row))
        for (x, y), row in zip(drawn, landed.to_dict("records"), strict=True)
    )


def point_words(row: dict[str, Any]) -> str:
    """Return what one landing is: "7 Marit, deep 1, in, \u00b10.07 m"."""
    where = "" if row["verdict"] == "out" else row["area"]
    verdict = f"{row['verdict']} {row['missed']}".strip()
    parts = [row["server"], where, verdict, f"\u00b1{row['error_m']:.2f} m", pace_words(row["pace_mps"])]
    return ", ".join(part for part in parts if part)


def rate_statistic(rate: Rate) -> str:
    """Return the statistic behind a rate."""
    if not rate.n:
        return ""
    return f"n = {rate.n} attempts; 95 % Wilson score interval {100 * rate.low:.1f} to {100 * rate.high:.1f} %."


def _where(rows: pandas.DataFrame) -> Words:
    if not len(rows):
        return Words("No serves in this choice.", "Take a filter away, or mark some serves.", "")
    counts = outcome_counts(rows)
    areas = area_rates(rows)
    most = max(areas, key=lambda name: areas[name].hits)
    area_words = f"Most fell in {most}: {rate_words(areas[most])}." if areas[most].hits else ""
    sentence = aim_sentence(rows) or area_words or f"{count_words(counts.n, 'serve')}: {endings_words(counts)}."
    more = [f"{count_words(counts.n, 'serve')}: {endings_words(counts)}."]
    if sentence != area_words:
        more.append(area_words)
    if counts.n < FEWEST:
        more.append(too_few_words(counts.n))
    return Words(sentence, " ".join(part for part in more if part), _where_statistic(rows))


def _where_statistic(rows: pandas.DataFrame) -> str:
    found, lean = spread_of(rows), bias_of(rows)
    parts = [rate_statistic(rate_asked(rows))]
    if found.n >= FEWEST:
        parts.append(
            f"Half of {found.n} landings lie within {found.half_radius_m:.2f} m of their centre (normal scatter with "
            "unequal axes)."
        )
    if lean.n >= FEWEST:
        parts.append(
            f"Mean miss {lean.right_m:+.2f} m right ({lean.right_low_m:+.2f} to {lean.right_high_m:+.2f}), "
            f"{lean.long_m:+.2f} m long ({lean.long_low_m:+.2f} to {lean.long_high_m:+.2f}); "
            f"mean distance from the aim {lean.mean_radial_error_m:.2f} m."
        )
    return " ".join(part for part in parts if part)


def _how_deep(rows: pandas.DataFrame) -> Words:
    sentence = depth_sentence(rows) or "No landings in this choice."
    bands = depth_distribution(rows)
    more = ", ".join(f"{band} {rate_with_interval_words(rate)}" for band, rate in bands.items() if rate.n)
    landed = rows[landed_mask(rows)]["y_m"].to_numpy(dtype=float)
    statistic = (
        f"Depth of {len(landed)} landings: median {np.median(landed):.2f} m from the net." if len(landed) else ""
    )
    return Words(sentence, more.capitalize() + "." if more else "", statistic)


def _which_seam(rows: pandas.DataFrame) -> Words:
    seams = seam_hits(rows)
    if not len(rows):
        return Words("No serves in this choice.", "", "")
    parts = [f"{rate_words(rate)} in {name}" for name, rate in seams.items()]
    statistic = " ".join(f"{name}: {rate_statistic(rate)}" for name, rate in seams.items())
    return Words(f"{', '.join(parts)}.", "Seams reach from the attack line to the end line.", statistic)


def _who(rows: pandas.DataFrame) -> Words:
    groups = [(words, rate_asked(own)) for words, own in rows_by_server(rows)]
    enough = [(words, rate) for words, rate in groups if rate.enough]
    if not enough:
        return Words(f"{FEWEST} or more serves of a server are needed to compare.", "", INTERVAL_WORDS)
    best_words, best = max(enough, key=lambda group: group[1].share)
    apart = [words for words, rate in enough if rate.high < best.low]
    if len(enough) == 1:
        more = "Only one server has served often enough."
    elif apart:
        more = f"Clearly fewer: {', '.join(apart)}."
    else:
        more = "The ranges overlap: these serves do not tell the servers apart."
    return Words(f"Most often: {best_words}, {rate_with_interval_words(best)}.", more, INTERVAL_WORDS)


def _how_fast(rows: pandas.DataFrame) -> Words:
    sentence = pace_sentence(rows)
    if not sentence:
        return Words(
            "No serve in this choice is timed.", "Mark the contact of a serve, with its place, to time it.", ""
        )
    method = "Average horizontal speed from contact to landing; the range holds frame timing and both places."
    return Words(sentence, "A radar at contact shows more: the ball slows down on its way.", method)


def _draw_where(rows: pandas.DataFrame, evening: Evening, look: str, size_in: Size) -> Figure:
    aim = common_aim(rows, evening.court, evening.scheme)
    return court_chart(rows, evening.court, evening.scheme, aim, look, size_in)


QUESTIONS = (
    Question("Where?", _where, _draw_where, on_court=True),
    Question(
        "How deep?",
        _how_deep,
        lambda rows, evening, look, size_in: depth_chart(rows, evening.court, evening.scheme, look, size_in),
    ),
    Question(
        "Which seam?",
        _which_seam,
        lambda rows, evening, look, size_in: seam_chart(rows, evening.court, evening.scheme, look, size_in),
        on_court=True,
    ),
    Question("Who?", _who, lambda rows, _evening, look, size_in: servers_chart(rows, look, size_in)),
    Question("How fast?", _how_fast, lambda rows, _evening, look, size_in: pace_chart(rows, look, size_in)),
)
