"""Every sentence of the product: those written in its code, and those of a page as it is drawn."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from serve_marker.report.page_canvas import Page

LONGEST = 14
FIELD = "\ufffc"
"""What stands in an f-string's text for a field, and counts as one word."""
SENTENCE_END = re.compile(r"(?<=[.!?])[\")”]*\s+|\n+| · ")
DATABASE = re.compile(r"\s*(?:CREATE|ALTER|UPDATE|INSERT|SELECT|DELETE)\s")
FOR_PROGRAMMERS = {"AssertionError", "IndexError", "KeyError", "RuntimeError", "TypeError", "ValueError"}


def sentences_of(text: str) -> list[str]:
    """Return the sentences of a text: each ends with its stop or its line."""
    return [sentence.strip() for sentence in SENTENCE_END.split(text) if sentence.strip()]


def count_of_words(sentence: str) -> int:
    """Return how many words a sentence has; a number and its unit, held by a no-break space, are one."""
    return sum(bool(re.search(rf"[\w{FIELD}]", word)) for word in re.split(r"[ \t\n]+", sentence))


def too_long(text: str) -> list[str]:
    """Return the sentences of a text with more words than one says in one breath."""
    return [sentence for sentence in sentences_of(text) if count_of_words(sentence) > LONGEST]


def texts_of(source: str) -> Iterator[tuple[int, str]]:
    """Yield the texts of a module that a person may read, each with its line.

    Docstrings are left out, what is said to programmers, and what is said to the database.
    """
    for line, text in _texts(ast.parse(source)):
        if not DATABASE.match(text):
            yield line, text


def _texts(node: ast.AST) -> Iterator[tuple[int, str]]:
    if _is_docstring(node) or _is_for_programmers(node):
        return
    inner = list(ast.iter_child_nodes(node))
    if isinstance(node, ast.Constant | ast.JoinedStr):
        text = _text(node)
        if text:
            yield node.lineno, text
        inner = [part.value for part in ast.walk(node) if isinstance(part, ast.FormattedValue)]
    for child in inner:
        yield from _texts(child)


def _text(node: ast.expr) -> str:
    """The text of a literal, or of an f-string with a FIELD for each value."""
    if isinstance(node, ast.JoinedStr):
        return "".join(_text(part) for part in node.values)
    if isinstance(node, ast.FormattedValue):
        return FIELD
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""


def _is_docstring(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _is_for_programmers(node: ast.AST) -> bool:
    raised = node.exc.func if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) else None
    return isinstance(raised, ast.Name) and raised.id in FOR_PROGRAMMERS


def texts_drawn(page: Page) -> list[str]:
    """Return the paragraphs of a drawn page: lines of one look and margin below one another are put together."""
    found: list[str] = []
    before: tuple[tuple[object, ...], float] = (), 0.0
    for text in page.figure.texts:
        left, up = text.get_position()
        size_in = text.get_fontproperties().get_size_in_points() / 72
        look = (left, text.get_horizontalalignment(), size_in, text.get_fontweight(), text.get_color())
        if look == before[0] and 0 < (before[1] - up) * page.height_in < 1.6 * size_in:
            found[-1] += f" {text.get_text()}"
        else:
            found.append(text.get_text())
        before = look, up
    return found


def paragraphs_of(markdown: str) -> list[str]:
    """Return the paragraphs and list entries of a page in Markdown, without code, tables, headings and pictures."""
    plain = re.sub(r"```.*?```", "", markdown, flags=re.DOTALL)
    plain = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", plain)
    parts = re.split(r"\n\s*\n|\n(?=\s*(?:- |\d+\. |\||#))", plain)
    flat = [re.sub(r"^(?:- |\d+\. )", "", " ".join(part.replace("**", "").split())) for part in parts]
    return [part for part in flat if part and part[0] not in "|#!"]
