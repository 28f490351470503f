"""How many serves are needed before a rate, a pull or a spread is told at all."""

from __future__ import annotations

FEWEST = 5


def too_few_words(n: int) -> str:
    """Return what to say of fewer serves.

    Examples
    --------
    >>> too_few_words(1), too_few_words(4)
    ('1 serve so far: 5 or more are needed to say.', '4 serves so far: 5 or more are needed to say.')
    """
    return f"{n} serve{'' if n == 1 else 's'} so far: {FEWEST} or more are needed to say."
