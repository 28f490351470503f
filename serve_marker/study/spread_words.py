"""Spread and bias as a coach says them, and the landings that lie astray."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from serve_marker.logbook.records import TARGET_WORDS
from serve_marker.study.fewest_serves import FEWEST, more_needed_words
from serve_marker.study.intraclass import rho_of
from serve_marker.study.pull import aimed_evenings, aimed_landings, bias
from serve_marker.study.robust import robust_spread
from serve_marker.study.sentences import bias_words, count_words, placed_words
from serve_marker.study.spread import GROUPS, spread, spread_by

if TYPE_CHECKING:
    import pandas

FEWEST_FOR_MOST = 10


def spread_sentence(table: pandas.DataFrame) -> str:
    """Return how close together the aimed landings fell and how many lie astray; "" without aimed landings.

    Places are seen from each serve's own aim. The circle is that in which the next serve lands, not the one the past
    serves fill, which would be too small.
    """
    misses_m, evenings, rho = aimed_landings(table), aimed_evenings(table), rho_of(table, "place")
    found = spread(misses_m, evenings, rho)
    if found.n == 0:
        return ""
    if found.n < FEWEST:
        return f"{more_needed_words(found.n, 'landing')} and we can say how steady."
    sentence = f"Half of the next serves land within {found.next_half_m:.1f} m of their usual spot"
    if found.n >= FEWEST_FOR_MOST:
        sentence += f". 95 of 100 land within {found.next_most_m:.1f} m"
    stray = robust_spread(misses_m)
    count = int(stray.astray.sum())
    if not count:
        return f"{sentence}."
    kept = ~stray.astray
    rest = bias_words(bias(misses_m[kept], np.zeros((found.n - count, 2)), evenings[kept], rho, directions=2))
    without = f"Without {'it' if count == 1 else 'them'}: {rest}"
    return f"{sentence}. {count} of {found.n} landed far from the others. {without}."


def group_lines(table: pandas.DataFrame, by: str) -> list[str]:
    """Return one line per group of a name of GROUPS: "7 Marit: 0.6 m short (12 of 14), half within 0.9 m"."""
    practices = table[["practice_id", "practice"]].drop_duplicates("practice_id")
    names = dict(zip(practices["practice_id"], practices["practice"], strict=True)) | TARGET_WORDS
    lines = []
    for key, found, lean in spread_by(table, GROUPS[by]):
        name = names.get(key, key)
        if lean.n < FEWEST:
            few = f"{count_words(lean.n, 'serve')}, too few" if lean.n else "no aimed landing"
            lines.append(f"{name}: {few}")
        else:
            lines.append(f"{name}: {bias_words(lean)} ({placed_words(lean)}), half within {found.next_half_m:.1f} m")
    return lines
