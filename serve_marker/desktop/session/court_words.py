"""Landmarks, lines and traced points as the coach reads them."""

from __future__ import annotations

import re

from serve_marker.camera.fitting.impossible_marks import TURNED_WORDS

LINE_NAMES = {
    "end-a": "near end line",
    "attack-a": "near attack line",
    "centre": "centre line",
    "attack-b": "far attack line",
    "end-b": "far end line",
    "left": "left sideline",
    "right": "right sideline",
}
AIR_WORDS = {"net-top": "top of the net", "antenna-top": "top of the antenna"}
OWN_SENTENCES = {
    TURNED_WORDS: "The near and far end look exchanged. Start the view over: the near end is nearer the camera."
}
"""What the window says in place of a sentence about names in files."""
LANDMARK_IN_TEXT = re.compile(r"\b(?:(?:end|attack)-[ab]|centre|net-top|antenna-top)/(?:left|right)")
END_IN_TEXT = re.compile(r"\bend ([ab])\b(?: \((?:near|far)\))?")


def landmark_words(name: str) -> str:
    """Return a landmark, a line or a traced point as the coach reads it.

    Examples
    --------
    >>> landmark_words("end-b/left"), landmark_words("net-top/right")
    ('far end line at left sideline', 'top of the net at right sideline')
    >>> landmark_words("left"), landmark_words("end-b#2")
    ('left sideline', 'far end line, point 3')
    """
    point = traced_point(name)
    if point is not None:
        return f"{LINE_NAMES[point[0]]}, point {point[1] + 1}"
    if name in LINE_NAMES:
        return LINE_NAMES[name]
    line, side = name.split("/")
    return f"{(LINE_NAMES | AIR_WORDS)[line]} at {side} sideline"


def in_coach_words(sentence: str) -> str:
    """Return a sentence about a view with its landmarks, lines and ends named as the coach reads them.

    Examples
    --------
    >>> in_coach_words("Look at end-a/left first; the points along the attack line of end b lie off.")
    'Look at near end line at left sideline first; the points along the far attack line lie off.'
    >>> in_coach_words("Check end-a/left, end-a/right and end a (near).")
    'Check near end line at left sideline, near end line at right sideline and the near end.'
    """
    sentence = OWN_SENTENCES.get(sentence, sentence)
    sentence = LANDMARK_IN_TEXT.sub(lambda found: landmark_words(found[0]), sentence)
    for line in ("end", "attack"):
        for end in ("a", "b"):
            sentence = sentence.replace(f"{line} line of end {end}", LINE_NAMES[f"{line}-{end}"])
    return END_IN_TEXT.sub(lambda found: f"the {'near' if found[1] == 'a' else 'far'} end", sentence)


def is_line(name: str) -> bool:
    """Return whether a name is a line's, not a landmark's."""
    return name in LINE_NAMES


def point_name(line: str, number: int) -> str:
    """Return the name of a point traced along a line, counted from 0."""
    return f"{line}#{number}"


def traced_point(name: str) -> tuple[str, int] | None:
    """Return line and number of a traced point's name, None for a landmark's.

    Examples
    --------
    >>> traced_point("end-b#2"), traced_point("end-b/left")
    (('end-b', 2), None)
    """
    line, found, number = name.partition("#")
    return (line, int(number)) if found else None
