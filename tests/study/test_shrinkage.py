"""Several means drawn together: held to the published baseball averages."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from serve_marker.study.shrinkage import shrunk

AVERAGES = (
    *(0.400, 0.378, 0.356, 0.333, 0.311, 0.311, 0.289, 0.267, 0.244, 0.244),
    *(0.222, 0.222, 0.222, 0.222, 0.222, 0.200, 0.178, 0.156),
)
ESTIMATES = (
    *(0.290, 0.286, 0.281, 0.277, 0.273, 0.273, 0.268, 0.264, 0.259, 0.259),
    *(0.254, 0.254, 0.254, 0.254, 0.254, 0.249, 0.244, 0.239),
)
"""18 averages of 45 trials and their estimates: Efron and Morris 1975, table 1 (from memory)."""


def test_eighteen_averages_are_drawn_together_as_published():
    steady = np.sqrt(45) * np.arcsin(2 * np.array(AVERAGES) - 1)
    drawn = (np.sin(shrunk(steady, np.ones(18), 1.0)[0] / np.sqrt(45)) + 1) / 2
    assert drawn == pytest.approx(ESTIMATES, abs=0.0011)


def test_of_equal_pairs_the_lowest_mean_is_not_believed():
    """36 server and passer pairs with eight passes each, all alike: raw the lowest looks half as good as the rest."""
    chance = np.random.default_rng(5)
    lowest = []
    for _ in range(200):
        passes = chance.choice([0, 1, 2, 3], (36, 8))
        means = passes.mean(axis=1)
        lowest.append((means.min(), shrunk(means, np.full(36, passes.var(ddof=1) / 8), 0.1)[0].min()))
    raw, drawn = np.mean(lowest, axis=0)
    assert raw < 0.75
    assert drawn > 1.35


def test_few_means_differ_as_usual():
    """Normal means with a normal prior: half way where both variances are 1, all the way where none is usual."""
    two = np.array([1.0, 3.0]), np.array([1.0, 1.0])
    assert [part.tolist() for part in shrunk(*two, 1.0)] == [[1.5, 2.5], [np.sqrt(0.5)] * 2]
    assert [part.tolist() for part in shrunk(*two, 0.0)] == [[2.0, 2.0], [0.0, 0.0]]
    assert not len(shrunk(np.array([]), np.array([]), 1.0)[0])


@given(st.lists(st.floats(-5, 5), min_size=4, max_size=12), st.floats(0.01, 10.0))
def test_means_move_towards_their_centre_and_keep_their_order(means, variance):
    means = np.array(means)
    drawn, deviations = shrunk(means, np.full(len(means), variance), 1.0)
    centre = means.mean()
    assert (np.abs(drawn - centre) <= np.abs(means - centre) + 1e-9).all()
    assert (deviations <= np.sqrt(variance)).all()
    assert (np.diff(drawn[np.argsort(means)]) >= -1e-9).all()
