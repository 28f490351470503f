"""The few figures at the head of a page, large enough to be read across a gym."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from serve_marker.report.colours import PAPER_COLOURS
from serve_marker.report.lettering import FIGURE_NAME_PT, FIGURE_PT, fitted, width_of
from serve_marker.report.page_canvas import MARGIN_IN, Page
from serve_marker.study.fewest_serves import FEWEST
from serve_marker.study.passers import at_passers
from serve_marker.study.rates import outcome_counts
from serve_marker.study.sentences import count_words, possible_paces, unit_of
from serve_marker.study.serve_shape import on_target
from serve_marker.study.settings import PER_MPS

if TYPE_CHECKING:
    import pandas

GAP_IN, PADDING_IN = 0.14, 0.13
HEIGHT_IN, LINE_IN = 0.9, 0.122
LEAST_SHARE = 0.65
"""How much smaller the words beside a number may be."""
SMALL_PT = 8.5


@dataclass(frozen=True)
class HeadlineFigure:
    """A number, what stands small beside it ("of 24", "km/h"), what it is, and up to three short lines below."""

    number: str
    beside: str
    name: str
    below: tuple[str, ...] = ()


def serve_figures(rows: pandas.DataFrame) -> list[HeadlineFigure]:
    """Return how many were in and on target, and the pace; what nothing is known of is left out."""
    if not len(rows):
        return []
    counts, found = outcome_counts(rows), on_target(rows)
    open_ends = [(counts.too_close, "too close to a line"), (counts.unplaced, "not placed")]
    figures = [HeadlineFigure(f"{counts.good}", f"of {counts.n}", "in", (_listed(open_ends),))]
    if found.n:
        close = _listed([(found.too_close, "too close to tell")])
        received = f"{found.unsure} received: cannot tell" if found.unsure else ""
        others = len(rows) - found.n - found.received
        left_out = [(found.received, "received"), (others, "other" if others == 1 else "others")]
        beside = f"left out: {_listed(left_out)}" if found.n < len(rows) else ""
        figures.append(HeadlineFigure(f"{found.hits}", f"of {found.n}", "on target", (close, received, beside)))
    return [*figures, *_pace_figure(rows)]


def passers_figures(rows: pandas.DataFrame) -> list[HeadlineFigure]:
    """Return errors, aces, the mean pass and the gap of serves at passers; what nothing is known of is left out."""
    found = at_passers(rows)
    if found is None:
        return []
    of = f"of {found.n}"
    close = f"{found.too_close} too close to a line" if found.too_close else ""
    over = f"{found.passed_over} passed over the net" if found.passed_over else ""
    figures = [
        HeadlineFigure(f"{found.errors}", of, "errors", (close,)),
        HeadlineFigure(f"{found.aces}", of, "aces", (over,)),
    ]
    if found.passes >= FEWEST:
        told = ("low: hard to pass", f"of {found.passes} rated, aces as 0")
        figures.append(HeadlineFigure(f"{found.mean_pass:.1f}", f"of {found.best_pass}", "mean pass", told))
    if found.timed >= FEWEST:
        what = ("how far the nearest", f"passer had to go, of {found.timed}")
        figures.append(HeadlineFigure(f"{found.gap_m:.1f}", "m", "typical gap", what))
    return figures


def _listed(parts: Sequence[tuple[int, str]]) -> str:
    return ", ".join(f"{count} {words}" for count, words in parts if count)


def _pace_figure(rows: pandas.DataFrame) -> list[HeadlineFigure]:
    """The typical pace with the fastest below, or the fastest alone of few timed serves."""
    paced, unit = possible_paces(rows), unit_of(rows)
    if not len(paced):
        return []
    best = paced.loc[paced["pace_mps"].idxmax()]
    typical_mps = float(paced["pace_mps"].median())
    typical, fastest, low, high = (
        f"{PER_MPS[unit] * pace_mps:.{1 if unit == 'm/s' else 0}f}"
        for pace_mps in (typical_mps, best["pace_mps"], best["pace_low_mps"], best["pace_high_mps"])
    )
    who = f", {best['server']}" if paced["player_id"].nunique() > 1 and best["server"] else ""
    if len(paced) < FEWEST:
        return [
            HeadlineFigure(fastest, unit, "fastest", (f"{low}–{high}{who}, {count_words(len(paced), 'serve')} timed",))
        ]
    return [HeadlineFigure(typical, unit, "typical pace", (f"fastest {fastest} ({low}–{high}){who}",))]


def draw_figures(page: Page, figures: Sequence[HeadlineFigure]) -> None:
    """Draw the figures side by side in one row of cards, and move down past them."""
    width_in = (page.inner_in - (len(figures) - 1) * GAP_IN) / max(len(figures), 1)
    high_in = HEIGHT_IN + LINE_IN * max((len([*filter(None, one.below)]) for one in figures), default=0)
    for place, figure in enumerate(figures):
        _draw_figure(page, figure, MARGIN_IN + place * (width_in + GAP_IN), (width_in, high_in))
    page.down_in += high_in if figures else 0.0


def _draw_figure(page: Page, figure: HeadlineFigure, left_in: float, size_in: tuple[float, float]) -> None:
    """Draw one card of that size; what stands beside the number gets smaller where the number is long."""
    page.rectangle(left_in, page.down_in, *size_in, facecolor=PAPER_COLOURS.of("panel"), linewidth=0)
    text_in, room_in = left_in + PADDING_IN, size_in[0] - 2 * PADDING_IN
    strong, faint = {"weight": "bold"}, {"color": PAPER_COLOURS.of("faint-ink")}
    page.words(figure.number, text_in, page.down_in + 0.54, size=FIGURE_PT, va="baseline", **strong)
    beside_in = width_of(figure.number, FIGURE_PT, bold=True) + 0.08
    share = (room_in - beside_in) / max(width_of(figure.beside, FIGURE_NAME_PT), 0.01)
    beside_pt = FIGURE_NAME_PT * min(max(share, LEAST_SHARE), 1.0)
    beside = fitted(figure.beside, room_in - beside_in, beside_pt)
    page.words(beside, text_in + beside_in, page.down_in + 0.54, size=beside_pt, va="baseline", **faint)
    page.words(figure.name, text_in, page.down_in + 0.8, size=FIGURE_NAME_PT, va="baseline", **strong)
    for place, words in enumerate(filter(None, figure.below)):
        small = {"size": SMALL_PT, "va": "baseline", **faint}
        page.words(fitted(words, room_in, SMALL_PT), text_in, page.down_in + 0.955 + place * LINE_IN, **small)
