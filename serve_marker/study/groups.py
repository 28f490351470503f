"""Rows that share a word, found for many thousand serves at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Rows = NDArray[np.int64]


@dataclass(frozen=True)
class Coded:
    """Words (N,) as numbers: row n holds ``names[codes[n]]``."""

    codes: NDArray[np.int64]
    names: list[str]

    def looked_up(self, told: Callable[[str], Any], dtype: Any = object) -> NDArray[Any]:
        """Return what each row's word stands for, asked once per word."""
        answers = np.empty(len(self.names), dtype=dtype)
        for place, name in enumerate(self.names):
            answers[place] = told(name)
        return answers[self.codes]


def coded(words: NDArray[Any]) -> Coded:
    """Return words (N,) as numbers, counted in the order in which they first occur.

    Examples
    --------
    >>> coded(np.array(["b", "a", "b"], dtype=object)).codes.tolist()
    [0, 1, 0]
    """
    import pandas as pd

    codes, names = pd.factorize(words)
    return Coded(codes, list(names))


def rows_of(words: NDArray[Any]) -> dict[str, Rows]:
    """Return the rows of each word (N,), in the order in which the words first occur.

    Examples
    --------
    >>> {word: rows.tolist() for word, rows in rows_of(np.array(["b", "a", "b"], dtype=object)).items()}
    {'b': [0, 2], 'a': [1]}
    """
    found = coded(words)
    order = np.argsort(found.codes, kind="stable")
    parts = np.split(order, np.flatnonzero(np.diff(found.codes[order])) + 1)
    return dict(zip(found.names, parts, strict=True)) if found.names else {}


def looked_up(words: NDArray[Any], told: Callable[[str], Any], dtype: Any = object) -> NDArray[Any]:
    """Return what each word (N,) stands for, asked once per word.

    Examples
    --------
    >>> looked_up(np.array(["b", "a", "b"], dtype=object), {"a": 1, "b": 2}.get).tolist()
    [2, 1, 2]
    """
    return coded(words).looked_up(told, dtype)


def where_known(answers: NDArray[np.bool_], known: NDArray[np.bool_]) -> NDArray[Any]:
    """Return answers (N,) as yes, no, or None where they are not known.

    Examples
    --------
    >>> where_known(np.array([True, False, True]), np.array([True, True, False])).tolist()
    [True, False, None]
    """
    told = answers.astype(object)
    told[~known] = None
    return told
