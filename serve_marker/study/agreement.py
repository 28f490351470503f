"""How far two coaches who marked the same serves agree (Bland and Altman 1986, Lancet 327:307-310)."""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from serve_marker.logbook.merge import Merged
from serve_marker.logbook.records import Serve
from serve_marker.logbook.store import Logbook
from serve_marker.study.sentences import count_words

LIMITS_SD = 1.96
FEWEST_COMMON = 5
UNKNOWN_MARKER = "the first"


@dataclass(frozen=True)
class Agreement:
    """Differences of one measure: their ``count``, mean and the limits that hold 95 % of them."""

    count: int
    bias: float
    low: float
    high: float


@dataclass(frozen=True)
class MarkersAgreement:
    """How two markers agree on where serves landed, first minus second, in the court frame [m]."""

    first: str
    second: str
    x_m: Agreement
    y_m: Agreement


def agreement_of(differences: Sequence[float]) -> Agreement:
    """Return bias and 95 % limits of agreement: the mean difference, and 1.96 standard deviations to both sides.

    Examples
    --------
    >>> agreement_of([1.0, 3.0, 2.0])
    Agreement(count=3, bias=2.0, low=0.040000000000000036, high=3.96)
    """
    if not differences:
        return Agreement(0, math.nan, math.nan, math.nan)
    bias = statistics.fmean(differences)
    spread = LIMITS_SD * statistics.stdev(differences) if len(differences) > 1 else math.nan
    return Agreement(len(differences), bias, bias - spread, bias + spread)


def markers_agreements(logbook: Logbook) -> list[MarkersAgreement]:
    """Return the agreement of each two markers who marked the same serves, by their names."""
    names = {marker.id: marker.name for marker in logbook.markers()}
    serves = {serve.id: serve for serve in logbook.serves()}
    found: defaultdict[tuple[str, str], list[tuple[float, float]]] = defaultdict(list)
    for second in logbook.second_marks():
        serve = serves.get(second.serve_id)
        if serve is None or serve.landing_point is None or second.serve.landing_point is None:
            continue
        marked = sorted(
            [(names.get(serve.id, UNKNOWN_MARKER), serve.id, serve), (second.name, second.id, second.serve)]
        )
        found[marked[0][0], marked[1][0]].append(_difference_m(marked[0][2], marked[1][2]))
    return [
        MarkersAgreement(*pair, agreement_of([x for x, _ in apart]), agreement_of([y for _, y in apart]))
        for pair, apart in sorted(found.items())
    ]


def agreement_sentences(agreements: Sequence[MarkersAgreement]) -> list[str]:
    """Return what the agreements say; too few common serves say only how many there are."""
    sentences = []
    for one in agreements:
        pair = f"{one.first} and {one.second}"
        sentences.append(f"{pair} both placed {count_words(one.x_m.count, 'serve')}.")
        if one.x_m.count >= FEWEST_COMMON:
            sentences += [_sentence("Sideways", one.x_m), _sentence("Lengthways", one.y_m)]
    return sentences


def merge_sentences(merged: Merged, book: Logbook) -> list[str]:
    """Return what there is to say of a merge, and of the logbook ``book`` that was written."""
    twice, serves = len(merged.records["second_marks"]), len(merged.records["serves"])
    counted = f"{count_words(serves, 'serve')} in {book.path.name}, {twice} of them marked twice."
    return [counted, *agreement_sentences(markers_agreements(book)), *merged.conflicts]


def _sentence(direction: str, of: Agreement) -> str:
    return f"{direction}: {of.bias:+.2f} m apart on average, 95 % within {of.low:+.2f} and {of.high:+.2f} m."


def _difference_m(first: Serve, second: Serve) -> tuple[float, float]:
    here, there = first.landing_point, second.landing_point
    assert here is not None
    assert there is not None
    return here.x_m - there.x_m, here.y_m - there.y_m
