"""The smoother against a published table, and steps passed on the way."""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.report.comparison_charts import periods_chart
from serve_marker.study.trend import smoothed, steps_passed
from tests.study.test_climb import BAD, DEEP, GOOD, table

NIST = np.fromstring(
    "52.0 47.0 53.0 49.3 50.1 47.0 51.0 50.1 51.2 50.5 49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1", sep=" "
)
EWMA = np.fromstring(
    "50.60 49.52 50.56 50.18 50.16 49.21 49.75 49.85 50.26 50.33 50.11 49.36 49.52 50.05 49.38 49.92 50.73 51.23 "
    "51.94 51.99",
    sep=" ",
)


def test_the_smoother_is_that_of_the_handbook():
    """NIST/SEMATECH e-Handbook 6.3.2.4, lambda .3, begun at the mean 50."""
    assert smoothed(np.concatenate([[50.0], NIST]))[1:] == pytest.approx(EWMA, abs=0.0051)


def test_few_practices_have_no_trend_and_unknown_ones_change_nothing():
    assert np.isnan(smoothed(NIST[:4])).all()
    assert np.isnan(smoothed(np.array([]))).all()
    with_gaps = np.insert(NIST[:6], [0, 3], np.nan)
    found = smoothed(with_gaps)
    assert np.isnan(found[0])
    assert found[[1, 2, 3, 5, 6, 7]] == pytest.approx(smoothed(NIST[:6]))
    assert found[4] == found[3]


def test_steps_passed_stand_on_their_day_in_the_chart():
    serves = table(*[GOOD] * 5).assign(season="", target_kind="none")
    passed = steps_passed(serves, "marit", [DEEP])
    assert passed == {"2026-10-02": ["deep 1"]}
    serves["practice"] = "Tuesday"
    figure = periods_chart(serves, "light", (9.0, 4.0), passed)
    said = [text.get_text() for axes in figure.axes for text in axes.texts]
    assert "⚑ passed deep 1" in said
    assert "line: smoothed" in figure.axes[0].get_xlabel()
    assert steps_passed(table(BAD, BAD), "marit", [DEEP]) == {}
    assert "line: smoothed" not in periods_chart(serves[serves["date"] < "2026-10-05"]).axes[0].get_xlabel()
