"""What is said of proposals and their review."""

from __future__ import annotations

from serve_marker.desktop.dialogs.shortcut_card import key_words
from serve_marker.logbook.records import StoredProposal
from serve_marker.spotting.confidence import REBOUND_UNSEEN
from serve_marker.study.sentences import count_words

CONFIDENT = 0.9
"""From here on a proposal is called sure (docs/glossary.md, confidence)."""
NOTHING_FOUND = "No serves are found here. Mark them by hand."
ALL_ANSWERED = "You have reviewed every serve found here."


def missed_words() -> str:
    """Return what to do about a serve that was not found."""
    return f"Mark the missed serve by hand. {key_words('Ctrl+F')} goes on with the review."


def rejected_words() -> str:
    """Return what became of a proposal that is no serve."""
    return f"Not a serve. {key_words('Ctrl+Z')} brings it back."


def review_of_words(proposal: StoredProposal, more: int) -> str:
    """Return how sure a proposal is, what speaks most against it, and how many more wait.

    Examples
    --------
    >>> from serve_marker.logbook.records import Serve
    >>> serve = Serve(id="s", clip_id="c")
    >>> review_of_words(StoredProposal(serve, confidence=0.98), 3)
    'Sure. 3 more.'
    >>> review_of_words(StoredProposal(serve, confidence=0.98, why="no rebound is seen"), 1)
    'Look at the landing: no rebound is seen. 1 more.'
    >>> review_of_words(StoredProposal(serve, confidence=0.7, why="the toss is not seen; no rebound is seen"), 0)
    'Look twice: the toss is not seen. The last one.'
    """
    doubts = proposal.why.split("; ")
    sure = "Sure" if proposal.confidence >= CONFIDENT else f"Look twice: {doubts[0]}"
    if sure == "Sure" and REBOUND_UNSEEN in doubts:
        sure = f"Look at the landing: {REBOUND_UNSEEN}"
    return f"{sure}. {f'{more} more' if more else 'The last one'}."


def search_words(percent: int, waiting: int) -> str:
    """Return how far a search is, and how many serves wait for an answer.

    Examples
    --------
    >>> search_words(34, 0), search_words(60, 3)
    ('Finding serves, 34 %.', 'Finding serves, 60 %. 3 to look at.')
    """
    return f"Finding serves, {percent} %." + (f" {waiting} to look at." if waiting else "")


def waiting_words(waiting: int) -> str:
    """Return how many found serves wait, for the coach who comes back to a clip.

    Examples
    --------
    >>> waiting_words(1), waiting_words(5)
    ('1 found serve waits. Ctrl+F shows it.', '5 found serves wait. Ctrl+F shows them.')
    """
    wait, them = ("waits", "it") if waiting == 1 else ("wait", "them")
    return f"{count_words(waiting, 'found serve')} {wait}. {key_words('Ctrl+F')} shows {them}."


def review_words(entered: int, actions: int, spent_s: float, later: int) -> str:
    """Return what a review has brought and what it cost.

    Examples
    --------
    >>> review_words(6, 7, 26.0, 0), review_words(1, 1, 3.0, 2)
    ('6 serves, 7 actions, 4 seconds a serve.', '1 serve, 1 action, 3 seconds a serve. 2 left for later.')
    """
    each_s = round(spent_s / max(entered, 1))
    words = (
        f"{count_words(entered, 'serve')}, {count_words(actions, 'action')}, {count_words(each_s, 'second')} a serve."
    )
    return f"{words} {later} left for later." if later else words
