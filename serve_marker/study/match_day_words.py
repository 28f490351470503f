"""The match-day card as a coach says it."""

from __future__ import annotations

from collections import Counter

from serve_marker.court.aims import aim_words
from serve_marker.study.fewest_serves import FEWEST
from serve_marker.study.match_day import MatchCard, MatchCell
from serve_marker.study.pass_quality import PERFECT_WINS
from serve_marker.study.sentences import count_words

MOST_OTHERS = 2
FEW_PASSES = 30
"""Below so many independent passes the usual passer has about as much to say as they do (own choice)."""
NO_CARD_WORDS = "No known server has a timed serve at an aim on a known day yet."


def aims_words(cell: MatchCell, short: bool = False) -> str:
    """Return the best aim and those that may be as good; in ``short`` only how many these are.

    Examples
    --------
    >>> from serve_marker.study.match_day import Promise
    >>> some = [Promise(aim, 0.5, 0.4, 0.6, "Ines", 20) for aim in ("deep 1", "seam 5-6", "short 4", "deep 5")]
    >>> cell = MatchCell(some[0], tuple(some[1:]), some[0])
    >>> aims_words(cell), aims_words(cell, short=True), aims_words(MatchCell(None, (), some[0]))
    ('deep 1, or seam 5-6, short 4, 1 more', 'deep 1 or 3', 'too few serves')
    """
    if cell.best is None:
        return "too few serves"
    best, count = aim_words(cell.best.aim), len(cell.others)
    if short:
        return f"{best} or {count}" if count else best
    others = [aim_words(one.aim) for one in cell.others[:MOST_OTHERS]]
    others += [f"{count - MOST_OTHERS} more"] if count > MOST_OTHERS else []
    return ", or ".join([best, *([", ".join(others)] if others else [])])


def promise_words(cell: MatchCell, short: bool = False) -> str:
    """Return how many rallies the best aim promises; unless ``short`` who meets the ball, and what to try in practice.

    Examples
    --------
    >>> from serve_marker.study.match_day import Promise
    >>> best, other = Promise("deep 1", 0.456, 0.4, 0.5, "Ines", 20), Promise("short 4", 0.6, 0.5, 0.7, "")
    >>> promise_words(MatchCell(best, (), best)), promise_words(MatchCell(best, (), best), short=True)
    ('46 of 100 (40–50), to Ines', '46 (40–50)')
    >>> promise_words(MatchCell(best, (), best, other)), promise_words(MatchCell(None, (), best, other))
    ('46 of 100 (40–50), to Ines; try short 4', 'try short 4')
    """
    one, tried = cell.best, f"try {aim_words(cell.untried.aim)}" if cell.untried else ""
    if one is None:
        return "" if short else tried
    span = f"({100 * one.low:.0f}–{100 * one.high:.0f})"
    if short:
        return f"{100 * one.chance:.0f} {span}"
    told = f"{100 * one.chance:.0f} of 100 {span}, to {one.passer or 'nobody'}"
    return "; ".join(part for part in (told, tried) if part)


def match_card_sentence(card: MatchCard) -> str:
    """Return the aim that promises most to most servers; what is missing where there is no card."""
    best = Counter(cell.best.aim for row in card.cells for cell in row if cell.best)
    if not best:
        return "Nobody has served any aim five times this season." if card.cells else NO_CARD_WORDS
    aim, count = best.most_common(1)[0]
    return f"{aim_words(aim).capitalize()} is best most often: {count} of {best.total()}."


def passes_sentence(card: MatchCard) -> str:
    """Return how much the team's own passes had to say."""
    quality = card.quality
    if not quality.n:
        return "No pass is rated yet: a usual passer stands for theirs."
    passes = count_words(quality.n, "rated pass", "rated passes")
    if quality.effective < FEW_PASSES:
        return f"Only {passes} so far: a usual passer counts more than they do."
    return f"Told by {passes} of your own team."


def card_notes(short: bool = False) -> list[str]:
    """Return what the card's words mean, and what is taken for granted."""
    as_good = "Or 2: two more aims may be as good." if short else "An aim after “or” may be as good."
    tried = f"Try: may win more, but she has served there less than {FEWEST} times this season. Practise it first."
    return [
        f"Of 100: rallies won, should her serves centre on the aim. {as_good}",
        *([] if short else [tried]),
        f"A serve nobody reaches wins. After a perfect pass {100 * PERFECT_WINS:.0f} of 100 are won (our choice).",
        "Her scatter counts as the same at every aim, and as the team's while her serves are few.",
    ]
