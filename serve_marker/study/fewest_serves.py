"""How many serves are needed before a rate, a pull or a spread is told at all."""

from __future__ import annotations

FEWEST = 5


def too_few_words(n: int) -> str:
    """Return what to say of fewer serves.

    Examples
    --------
    >>> too_few_words(1), too_few_words(4)
    ('1 serve so far. 4 more serves and we can say.', '4 serves so far. One more serve and we can say.')
    """
    return f"{n} serve{'' if n == 1 else 's'} so far. {more_needed_words(n)} and we can say."


def more_needed_words(n: int, one: str = "serve") -> str:
    """Return how many more than ``n`` it takes.

    Examples
    --------
    >>> more_needed_words(4, "landing"), more_needed_words(2)
    ('One more landing', '3 more serves')
    """
    return f"One more {one}" if n == FEWEST - 1 else f"{FEWEST - n} more {one}s"
