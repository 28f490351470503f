"""Rows that share a word, found for many thousand serves at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

Rows = NDArray[np.int64]


def rows_of(words: NDArray[Any]) -> dict[str, Rows]:
    """Return the rows of each word (N,), in the order in which the words first occur.

    Examples
    --------
    >>> {word: rows.tolist() for word, rows in rows_of(np.array(["b", "a", "b"], dtype=object)).items()}
    {'b': [0, 2], 'a': [1]}
    """
    codes, names = _coded(words)
    order = np.argsort(codes, kind="stable")
    parts = np.split(order, np.flatnonzero(np.diff(codes[order])) + 1)
    return dict(zip(names, parts, strict=True)) if len(names) else {}


def looked_up(words: NDArray[Any], told: Callable[[str], Any], dtype: Any = object) -> NDArray[Any]:
    """Return what each word (N,) stands for, asked once per word.

    Examples
    --------
    >>> looked_up(np.array(["b", "a", "b"], dtype=object), {"a": 1, "b": 2}.get).tolist()
    [2, 1, 2]
    """
    codes, names = _coded(words)
    answers = np.empty(len(names), dtype=dtype)
    for place, name in enumerate(names):
        answers[place] = told(name)
    return answers[codes]


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


def _coded(words: NDArray[Any]) -> tuple[NDArray[np.int64], list[str]]:
    import pandas as pd

    codes, names = pd.factorize(words)
    return codes, list(names)
