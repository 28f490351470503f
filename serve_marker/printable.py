"""Text from outside, made fit for one line of a terminal or of a sentence."""

from __future__ import annotations

import unicodedata

JOINERS = "\u200c\u200d"
"""Zero-width characters that names and emoji need; they steer no terminal."""
_UNPRINTABLE = {"Cc", "Cf", "Cs", "Cn", "Zl", "Zp"}
LONGEST_NAME = 60


def printable(text: str) -> str:
    r"""Return a text with what steers a terminal or turns the direction of writing as its escape.

    Examples
    --------
    >>> print(printable("Noor\x1b[2J, 7\u202e"), printable("Zofia 🏐"))
    Noor\x1b[2J, 7\u202e Zofia 🏐
    """
    if text.isprintable():
        return text
    return "".join(
        character.encode("unicode_escape").decode()
        if unicodedata.category(character) in _UNPRINTABLE and character not in JOINERS
        else character
        for character in text
    )


def quoted_name(text: object) -> str:
    """Return a name that somebody else chose, in quotes, on one line and not longer than a line.

    Examples
    --------
    >>> print(quoted_name("serve"), quoted_name("a" * 99)[-3:])
    "serve" a…"
    """
    name = printable(str(text))
    return f'"{name if len(name) <= LONGEST_NAME else name[:LONGEST_NAME] + "…"}"'
