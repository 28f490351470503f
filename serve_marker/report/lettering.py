"""Words on charts and sheets: always in the DejaVu that matplotlib ships, never read as formulas, never too wide."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.ft2font import FT2Font
    from matplotlib.text import Text

FAMILY = "DejaVu Sans"
TITLE_PT, SENTENCE_PT, TEXT_PT, TABLE_PT, NOTE_PT = 16.0, 9.5, 9.0, 8.0, 7.5
NAME_PT, FIGURE_PT, ADVICE_PT, WALL_NAME_PT, FIGURE_NAME_PT = 38.0, 34.0, 20.0, 18.0, 13.0
"""Letters that are read from a wall."""
CHART_PT, SMALL_CHART_PT, SMALLEST_PT = 8.0, 7.0, 6.5
"""Letters of charts on screens, and those of charts on sheets."""
STAND_IN = "\u25a1"
UNIT = re.compile(r"(\d) (?=(?:m|m/s|km/h|mph|cm|s|px|degrees?)\b|%)")


def write(place: Axes | Figure, x: float, y: float, words: str, **looks: Any) -> Text:
    """Write words at a place of a figure or of axes, exactly as they are ("$" is no formula)."""
    fixed: dict[str, Any] = {"family": FAMILY, "parse_math": False}
    return place.text(x, y, drawable(words), **(fixed | looks))


def drawable(words: str) -> str:
    """Return words on one line with a box in place of every character the font does not hold."""
    held = _characters_held()
    flat = re.sub(r"[^\S\u00a0]+", " ", words).strip()
    kept = [char for char in flat if not unicodedata.category(char).startswith("C") and not _joins(char)]
    return "".join(char if ord(char) in held else STAND_IN for char in kept)


def with_units_held(words: str) -> str:
    r"""Return words in which a line never breaks between a number and its unit.

    Examples
    --------
    >>> with_units_held("Typical pace 51 km/h, of 12 timed.")
    'Typical pace 51\xa0km/h, of 12 timed.'
    """
    return UNIT.sub("\\1\u00a0", words)


def fitted(words: str, width_in: float, size_pt: float, bold: bool = False) -> str:
    """Return words cut with "..." so that they are no wider than ``width_in`` [inch] at ``size_pt``."""
    words = drawable(words)
    if width_of(words, size_pt, bold) <= width_in:
        return words
    low, high = 0, len(words)
    while low < high:
        middle = (low + high + 1) // 2
        if width_of(words[:middle].rstrip() + "\u2026", size_pt, bold) <= width_in:
            low = middle
        else:
            high = middle - 1
    return words[:low].rstrip() + "\u2026"


def wrapped(words: str, width_in: float, size_pt: float, bold: bool = False) -> list[str]:
    """Return words in lines no wider than ``width_in`` [inch]; numbers keep their unit, one long word is cut."""
    lines: list[str] = []
    line = ""
    for word in with_units_held(drawable(words)).split(" "):
        longer = f"{line} {word}".strip()
        if line and width_of(longer, size_pt, bold) > width_in:
            lines.append(line)
            line = word
        else:
            line = longer
    return [fitted(part, width_in, size_pt, bold) for part in [*lines, line] if part]


def fitting_pt(words: str, width_in: float, most_pt: float, least_pt: float) -> float:
    """Return the size at which bold words fit on one line, ``most_pt`` where they do; that too where none fits.

    Examples
    --------
    >>> fitting_pt("deep 1", 7.0, 20.0, 17.0), fitting_pt("deep 1" * 50, 7.0, 20.0, 17.0)
    (20.0, 20.0)
    """
    size_pt = most_pt * min(1.0, 0.999 * width_in / max(width_of(words, most_pt, bold=True), 1e-9))
    return size_pt if size_pt >= least_pt else most_pt


def width_of(words: str, size_pt: float, bold: bool = False) -> float:
    """Return how wide words are [inch] at a size."""
    return sum(_advance(char, bold) for char in drawable(words)) * size_pt / 72.0


@lru_cache(maxsize=4096)
def _advance(char: str, bold: bool) -> float:
    """Return how far one character moves the pen, as a share of the letter size."""
    font = _font(bold)
    font.set_size(100.0, 72.0)
    return float(font.load_char(ord(char)).linearHoriAdvance) / 65536.0 / 100.0


def _joins(char: str) -> bool:
    """Whether a character only joins or varies others, which the font cannot do for emoji."""
    return "\ufe00" <= char <= "\ufe0f" or "\U0001f3fb" <= char <= "\U0001f3ff"


@lru_cache(maxsize=1)
def _characters_held() -> frozenset[int]:
    return frozenset(_font(False).get_charmap()) & frozenset(_font(True).get_charmap()) | {ord(STAND_IN)}


def _font(bold: bool) -> FT2Font:
    from matplotlib.font_manager import FontProperties, findfont, get_font

    return get_font(findfont(FontProperties(family=FAMILY, weight="bold" if bold else "normal")))
