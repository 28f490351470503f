"""The match-day card as a coach says it."""

from __future__ import annotations

from collections import Counter

from serve_marker.court.aims import aim_words
from serve_marker.study.match_day import MatchCard, MatchCell
from serve_marker.study.pass_quality import PERFECT_WINS
from serve_marker.study.sentences import count_words

MOST_OTHERS = 2
FEW_PASSES = 30
"""Below so many independent passes the usual passer has about as much to say as they do (own choice)."""
NO_CARD_WORDS = "No server has a timed serve at an aim on a dated practice."


def best_aim_words(cell: MatchCell) -> str:
    """Return the best of the aims she has served.

    Examples
    --------
    >>> from serve_marker.study.match_day import Promise
    >>> best = Promise("seam 5-6", 0.456, 0.4, 0.5, 20)
    >>> best_aim_words(MatchCell(best, ())), best_aim_words(MatchCell(None, ()))
    ('seam 5-6', 'too few serves')
    """
    return aim_words(cell.best.aim) if cell.best else "too few serves"


def promise_words(cell: MatchCell, short: bool = False) -> str:
    """Return how many rallies the best aim wins, and which aims may be as good; in ``short`` only how many these are.

    Examples
    --------
    >>> from serve_marker.study.match_day import Promise
    >>> some = [Promise(aim, 0.456, 0.4, 0.5, 20) for aim in ("deep 1", "seam 5-6", "short 4", "deep 5")]
    >>> cell = MatchCell(some[0], tuple(some[1:]))
    >>> promise_words(cell), promise_words(cell, short=True)
    ('wins 46 of 100 (40–50) · or seam 5-6, short 4, 1 more', '46 (40–50) or 3')
    """
    one, count = cell.best, len(cell.others)
    if one is None:
        return ""
    wins, range_words = f"{100 * one.chance:.0f}", f"({100 * one.low:.0f}–{100 * one.high:.0f})"
    if short:
        return f"{wins} {range_words} or {count}" if count else f"{wins} {range_words}"
    others = [aim_words(other.aim) for other in cell.others[:MOST_OTHERS]]
    others += [f"{count - MOST_OTHERS} more"] if count > MOST_OTHERS else []
    return " · or ".join([f"wins {wins} of 100 {range_words}", *([", ".join(others)] if others else [])])


def practise_sentence(card: MatchCard) -> str:
    """Return which aims may win more than all that their servers have served, and for whom; "" where none does."""
    asked: dict[str, dict[str, None]] = {}
    for server, cells in zip(card.servers, card.cells, strict=True):
        for cell in cells:
            if cell.untried:
                asked.setdefault(aim_words(cell.untried.aim), {})[server.words.partition(" ")[0]] = None
    parts = [f"{aim} ({', '.join(who)})" for aim, who in asked.items()]
    return f"May win more, once practised: {', '.join(parts)}." if parts else ""


def match_card_sentence(card: MatchCard) -> str:
    """Return the aim that promises most to most servers; what is missing where there is no card."""
    best = Counter(cell.best.aim for row in card.cells for cell in row if cell.best)
    if not best:
        return "Nobody has served any aim five times this season." if card.cells else NO_CARD_WORDS
    aim, count = best.most_common(1)[0]
    of = "servers" if len(card.formations) == 1 else "pairings"
    return f"In the match {aim_words(aim)} is best for {count} of {best.total()} {of}."


def passes_sentence(card: MatchCard) -> str:
    """Return how much the team's own passes had to say."""
    quality = card.quality
    if not quality.n:
        return "No pass is rated yet, so we assume ordinary passers."
    passes = count_words(quality.n, "rated pass", "rated passes")
    if quality.effective < FEW_PASSES:
        return f"Only {passes} so far, so we lean on an ordinary passer."
    return f"Based on {passes} of your own team."


def card_notes(card: MatchCard, short: bool = False) -> list[str]:
    """Return what the card's words mean, told of the first of them, and what is taken for granted."""
    notes = [
        "A serve nobody reaches counts as won.",
        f"After a perfect pass {100 * PERFECT_WINS:.0f} of 100 count as won (our choice).",
        "We assume her serves spread the same at every aim.",
        "This is for the match; what to practise stands on the ladder.",
    ]
    first = next((cell.best for row in card.cells for cell in row if cell.best), None)
    if first is None:
        return notes
    wins, low, high = (f"{100 * share:.0f}" for share in (first.chance, first.low, first.high))
    told = f"“{wins} ({low}–{high})”" if short else f"“Wins {wins} of 100 ({low}–{high})”"
    as_good = "“Or 2”: two more aims may be as good." if short else "Aims after “or” may be as good."
    return [f"{told}: rallies won from 100 such serves. It may be {low}, it may be {high}. {as_good}", *notes]
