"""What is said of how close together serves fell, and of those astray."""

import numpy as np
import pandas as pd

from serve_marker.study.scatter import spread_sentence


def aimed(misses_m):
    """Floor landings in, beside an aim at (1.5, 6.0)."""
    x_m, y_m = (np.add(misses_m, (1.5, 6.0))).T
    return pd.DataFrame(
        {"outcome": "floor", "verdict": "in", "x_m": x_m, "y_m": y_m, "aim_x_m": 1.5, "aim_y_m": 6.0},
    )


def practice(count):
    return np.random.default_rng(2).normal((0.0, -0.6), 0.4, (count, 2))


def test_a_clean_practice_names_nobody():
    """s = 0.4 m: the next of 20 lies within 1.2176 s in half of all cases, within 2.6104 s in 95 of 100."""
    said = spread_sentence(aimed(practice(20)))
    s = np.sqrt(practice(20).var(axis=0, ddof=1).mean())
    assert f"within {1.21757 * s:.1f} m of its usual place beside the aim in half of all cases" in said
    assert f"within {2.61039 * s:.1f} m in 95 of 100" in said
    assert "far from the others" not in said


def test_one_far_off_is_named_and_the_rest_told_without_it():
    """Twenty 0.6 m short on average; one more, 5 m to the right, drags the mean 0.24 m to the right."""
    said = spread_sentence(aimed([*practice(20), (5.0, 0.0)]))
    assert "1 of 21 landed far from the others; without it: 0." in said
    assert "short" in said
    assert "right" not in said


def test_few_serves():
    assert "95 of 100" not in spread_sentence(aimed(practice(9)))
    assert "4 serves so far" in spread_sentence(aimed(practice(4)))
    assert spread_sentence(aimed(np.zeros((0, 2)))) == ""
