"""A player's page for her phone: one HTML file with all it needs, read without a network and without scripts.

Its figures and its sentence are those of her sheet (`server_page.py`), by the same functions.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from serve_marker.report.aims_court import aim_in_its_area
from serve_marker.report.colours import COLOURS, Colours
from serve_marker.report.court_svg import court_svg, mark_svg
from serve_marker.report.headline_figures import HeadlineFigure, serve_figures
from serve_marker.report.overlay_items import SHAPE_WORDS, SHAPES, legend_for
from serve_marker.report.server_page import climb_by
from serve_marker.report.sheets import ReportData, days_words, practice_words
from serve_marker.study.by_server import UNKNOWN
from serve_marker.study.sentences import count_words
from serve_marker.study.serve_shape import counted_words, on_target, shapes_of
from serve_marker.study.what_to_do import rows_at_aims, what_to_do

if TYPE_CHECKING:
    import pandas

NO_SERVES = "No serves are marked yet."
HOW = "Drawn as you see the court: the net is below. Counted as on your sheet."
COLOUR_ROLES = ("ink", "faint-ink", "paper", "panel", "rule", "floor", "court-line", "net", "aim")
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
"""Nothing is fetched and nothing runs, whatever a name holds (Content Security Policy Level 3, W3C)."""


@dataclass(frozen=True)
class PageStill:
    """A picture of one serve as JPEG, and what it shows in words."""

    jpeg: bytes
    words: str


def phone_page(
    data: ReportData, player_id: str, practice_id: str | None = None, stills: Sequence[PageStill] = ()
) -> str:
    """Return one player's page as the text of an HTML file, for one practice or over all."""
    everything = data.table[data.table["player_id"] == player_id]
    rows = data.of_practice(practice_id)
    rows = rows[rows["player_id"] == player_id]
    shown = rows if len(rows) else everything
    name = (str(shown["server"].iloc[-1]) if len(shown) else "") or UNKNOWN
    climb = climb_by(everything, data, max(rows["date"], default=""))
    advice = what_to_do(rows, data.court, data.scheme, data.settings, climb).sentence if len(rows) else NO_SERVES
    where = " · ".join(part for part in (data.team, practice_words(rows), days_words(rows)) if part)
    shapes = shapes_of(rows)
    parts = [
        f'<header><h1>{escape(name)}</h1><p class="faint">{escape(where)}</p></header>',
        f'<p class="advice">{escape(advice)}</p>',
        _figures(serve_figures(rows)),
    ]
    if len(rows):
        parts += [
            f"<section><h2>Where they landed</h2>{court_svg(rows, data.court, data.scheme)}{_legend(shapes)}</section>",
            _at_each_aim(rows, data),
            f"<section><h2>In the order served</h2>{_order(shapes)}</section>",
        ]
    if stills:
        parts.append(f"<section><h2>On film</h2>{''.join(map(_still, stills))}</section>")
    parts.append(f"<footer>{escape(HOW)}</footer>")
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(POLICY)}">'
        '<meta name="generator" content="Serve Marker">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(name)}</title><style>{_style()}</style></head>\n"
        f"<body><main>{''.join(parts)}</main></body></html>\n"
    )


def _style() -> str:
    light, dark = (_variables(COLOURS[look]) for look in ("light", "dark"))
    marks = "\n".join(f".mark.{shape} {{ color: var(--{shape}); }}" for shape in SHAPES)
    plain = Path(__file__).with_suffix(".css").read_text(encoding="utf-8")
    return f":root {{ {light} }}\n@media (prefers-color-scheme: dark) {{ :root {{ {dark} }} }}\n{plain}{marks}"


def _variables(colours: Colours) -> str:
    return " ".join(f"--{word}: {colours.of(word)};" for word in (*COLOUR_ROLES, *SHAPES))


def _figures(figures: Sequence[HeadlineFigure]) -> str:
    if not figures:
        return ""
    return f"<dl>{''.join(map(_figure, figures))}</dl>"


def _figure(figure: HeadlineFigure) -> str:
    below = "".join(f"<small>{escape(line)}</small>" for line in figure.below if line)
    number = f"<b>{escape(figure.number)}</b> {escape(figure.beside)}"
    more = f'<dd class="below">{below}</dd>' if below else ""
    return f"<div><dt>{escape(figure.name)}</dt><dd>{number}</dd>{more}</div>"


def _at_each_aim(rows: pandas.DataFrame, data: ReportData) -> str:
    """How often she hit each aim, the one served most first; "" where she had none."""
    at_aims = rows_at_aims(rows, data.court, data.scheme)
    counted = ((aim_in_its_area(aim, data.court, data.scheme), counted_words(on_target(own))) for aim, own in at_aims)
    lines = (f"<li><strong>{escape(name)}</strong> {hits}</li>" for name, hits in counted)
    return f'<section><h2>At each aim</h2><ul class="aims">{"".join(lines)}</ul></section>' if at_aims else ""


def _order(shapes: Sequence[str]) -> str:
    """Every serve as its mark with its number; its words are heard, not seen."""
    items = (
        f'<li>{_small_mark(shape)}{number}<span class="said"> {SHAPE_WORDS[shape]}</span></li>'
        for number, shape in enumerate(shapes, start=1)
    )
    return f'<ol aria-label="{escape(count_words(len(shapes), "serve"))}">{"".join(items)}</ol>'


def _legend(shapes: Sequence[str]) -> str:
    entries = (f"<li>{_small_mark(shape)}{escape(words)}</li>" for shape, words in legend_for(shapes).entries)
    return f'<ul aria-label="What the marks mean">{"".join(entries)}</ul>'


def _small_mark(shape: str) -> str:
    return f'<svg viewBox="-0.3 -0.3 0.6 0.6" aria-hidden="true">{mark_svg(shape, 0.0, 0.0, 0.2)}</svg>'


def _still(still: PageStill) -> str:
    words = escape(still.words)
    picture = base64.b64encode(still.jpeg).decode()
    image = f'<img alt="{words}" src="data:image/jpeg;base64,{picture}">'
    return f"<figure>{image}<figcaption>{words}</figcaption></figure>"
