"""What is said of how close together serves fell, and of those astray."""

import numpy as np
import pandas as pd
from scipy import stats

from serve_marker.study.spread_words import spread_sentence
from tests.study.conftest import with_evenings


def aimed(misses_m, evenings=None):
    """Floor landings in, beside an aim at (1.5, 6.0), each of an evening of its own where no other is said."""
    x_m, y_m = (np.add(misses_m, (1.5, 6.0))).T
    when = {"practice_id": [f"{place}" for place in range(len(x_m))] if evenings is None else evenings}
    where = {"x_m": x_m, "y_m": y_m, "aim_x_m": 1.5, "aim_y_m": 6.0, "aim_has_depth": True}
    return with_evenings(pd.DataFrame({"outcome": "floor", "verdict": "in", "player_id": "marit", **when, **where}))


def practice(count):
    return np.random.default_rng(2).normal((0.0, -0.6), 0.4, (count, 2))


def test_a_clean_practice_names_nobody():
    """s = 0.4 m: the next of 20 lies within 1.2176 s in half of all cases, within 2.6104 s in 95 of 100."""
    said = spread_sentence(aimed(practice(20)))
    s = np.sqrt(practice(20).var(axis=0, ddof=1).mean())
    assert f"Half of the next serves land within {1.21757 * s:.1f} m of their usual spot" in said
    assert f"95 of 100 land within {2.61039 * s:.1f} m" in said
    assert "far from the others" not in said


def test_one_far_off_is_named_and_the_rest_told_without_it():
    """Twenty 0.6 m short on average; one more, 9 m to the right, drags the mean 0.43 m to the right."""
    said = spread_sentence(aimed([*practice(20), (9.0, 0.0)]))
    assert "1 of 21 landed far from the others. Without it: 0." in said
    assert "short" in said
    assert "right" not in said


def test_few_serves():
    assert "95 of 100" not in spread_sentence(aimed(practice(9)))
    assert spread_sentence(aimed(practice(3))) == "2 more landings and we can say how steady."
    assert "One more landing" in spread_sentence(aimed(practice(4)))
    assert spread_sentence(aimed(np.zeros((0, 2)))) == ""


def test_the_next_serve_comes_from_another_evening():
    """Twenty of one evening, rho 0.03 assumed: by hand n = 20 / 1.57, and the evening shows 0.97 of the variance."""
    said = spread_sentence(aimed(5 * practice(20), "tuesday"))
    s = 5 * np.sqrt(practice(20).var(axis=0, ddof=1).mean() / 0.97)
    assert f"95 of 100 land within {s * np.sqrt(2 * (1 + 1.57 / 20) * stats.f.ppf(0.95, 2, 38)):.1f} m" in said
    assert f"within {2.61039 * np.sqrt(0.97) * s:.1f} m" not in said
