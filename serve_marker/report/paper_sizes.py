"""The papers that sheets are printed on."""

from __future__ import annotations

from serve_marker.errors import UserError

PAPERS_IN = {"A4": (210 / 25.4, 297 / 25.4), "Letter": (8.5, 11.0)}
"""Width and height [inch]: ISO 216 A4, ANSI A."""
DEFAULT_PAPER = "A4"


def paper_size_in(paper: str) -> tuple[float, float]:
    """Return width and height of a paper [inch], by its name in any case.

    Examples
    --------
    >>> paper_size_in("letter")
    (8.5, 11.0)
    """
    for name, size_in in PAPERS_IN.items():
        if paper.lower() == name.lower():
            return size_in
    raise UserError(f"There is no paper called {paper!r}; choose {' or '.join(PAPERS_IN)}.")
