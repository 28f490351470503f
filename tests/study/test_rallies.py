"""Rallies won on serve, and how often a risky serve may miss."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from serve_marker.study.rallies import break_even_errors, rallies_of, rallies_sentence

shares = st.floats(0.05, 0.95)


def serves(*groups):
    """Groups of (aim, won, lost, into the net): each serve an evening of its own."""
    rows = []
    for aim, won, lost, net in groups:
        rows += [(aim, "received", "won")] * won + [(aim, "received", "lost")] * lost + [(aim, "net", "")] * net
    table = pd.DataFrame(rows, columns=["aim", "outcome", "rally"]).assign(verdict="")
    return table.assign(evening=np.arange(len(table)))


def test_misses_are_of_all_serves_and_wins_of_those_noted():
    """8 won and 12 lost when in, 5 into the net; three more were in and nobody noted who won."""
    table = pd.concat([serves(("deep 1", 8, 12, 5)), serves(("deep 1", 3, 0, 0)).assign(rally="")])
    told = rallies_of(table)
    assert (told.missed.hits, told.missed.n) == (5, 28)
    assert (told.won.hits, told.won.n) == (8, 20)


def test_drills_beside_a_match_change_no_break_even():
    """A drill with the same share of misses, of which nobody noted a winner."""
    match = serves(("deep 1", 40, 60, 10), ("seam 5-6", 90, 10, 20))
    drill = serves(("deep 1", 300, 0, 30), ("seam 5-6", 100, 0, 20)).assign(rally="")
    both = pd.concat([match, drill], ignore_index=True)
    both["evening"] = np.arange(len(both))
    assert rallies_sentence(both).split(".")[-2] == rallies_sentence(match).split(".")[-2]


def test_the_break_even_of_the_worked_example():
    """5 % errors and 38 % won when in against 45 % won when in: up to 20 % may miss (1 - .95 x .38 / .45)."""
    assert break_even_errors(0.05, 0.38, 0.45) == pytest.approx(1 - 0.361 / 0.45)
    assert break_even_errors(0.05, 0.38, 0.0) == 0.0


@given(shares, shares, shares)
def test_at_break_even_both_win_the_same(missed, safe, risky):
    may = break_even_errors(missed, safe, risky)
    won = (1 - may) * risky
    assert won == pytest.approx((1 - missed) * safe) if may else won <= (1 - missed) * safe + 1e-12


def test_a_break_even_is_told_only_where_the_difference_is():
    """90 of 100 against 40 of 100 is told; 5 of 10 against 4 of 10 is not."""
    told = rallies_sentence(serves(("deep 1", 40, 60, 2), ("seam 5-6", 90, 10, 20)))
    assert told.endswith("Seam 5-6 may miss 56 of 100 before deep 1 wins as much.")
    assert "may miss" not in rallies_sentence(serves(("deep 1", 4, 6, 0), ("seam 5-6", 5, 5, 2)))


def test_without_a_noted_rally_nothing_is_said():
    assert rallies_sentence(serves(("deep 1", 3, 3, 1)).assign(rally="")) == ""
