"""The expected worth of an aim against the published dart board, and against brute force.

Board and scatter: R. Tibshirani, A. Price, J. Taylor, JRSS-A 174:213 (2011) and its companion code. The expected scores
by scatter were computed by two other engines (Gauss-Legendre over sectors, and polygons by Owen's T) that agree with
each other to 1e-4.
"""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.study.worth_map import WorthMap, best_of, centre_beyond, worth_map

RINGS_MM = np.array([6.35, 15.9, 99.0, 107.0, 162.0, 170.0])
CLOCKWISE = np.array([20, 1, 18, 4, 13, 6, 10, 15, 2, 17, 3, 19, 7, 16, 8, 11, 14, 9, 12, 5])
# scatter [mm], best aim [mm], its expected score, the expected score of aiming at the centre
TABLE = [
    (10.0, (-0.73, 103.22), 29.5283, 25.468350),
    (16.4, (-1.89, 106.12), 20.2932, 17.742744),
    (20.0, (-36.53, -100.60), 17.7869, 15.6577),
    (26.9, (-40.48, -97.98), 15.2992, 13.527341),
    (50.0, (-49.01, -41.34), 12.9063, 12.2364),
]
LEAVES_TREBLE_20_MM = 16.9069
"""Above this scatter the treble 19 is the better aim (exact crossing)."""


def score(places_mm):
    radius_mm = np.hypot(*places_mm.T)
    sector_deg = (np.degrees(np.arctan2(places_mm[:, 0], places_mm[:, 1])) + 9) % 360
    number = CLOCKWISE[(sector_deg // 18).astype(int) % 20]
    ring = np.searchsorted(RINGS_MM, radius_mm)
    return np.select([ring == i for i in range(6)], [50.0, 25.0, number, 3.0 * number, number, 2.0 * number], 0.0)


@pytest.fixture(scope="module")
def board() -> WorthMap:
    return worth_map(score, (-171.0, 171.0), (-171.0, 171.0), 1.0, 50.0)


@pytest.mark.parametrize(("scatter_mm", "aim_mm", "best", "at_centre"), TABLE)
def test_best_aims_on_a_dart_board(board, scatter_mm, aim_mm, best, at_centre):
    around = board.around(np.eye(2) * scatter_mm**2)
    place_mm, found = best_of(around, board)
    assert place_mm == pytest.approx(aim_mm, abs=0.15)
    assert found == pytest.approx(best, abs=0.01)
    middle = slice(len(board.x) // 2 - 1, len(board.x) // 2 + 1)
    assert around[middle, middle].mean() == pytest.approx(at_centre, abs=0.05)


def test_the_best_aim_leaves_the_treble_20_where_it_should(board):
    def treble_20_is_better_by(scatter_mm):
        around = board.around(np.eye(2) * scatter_mm**2)
        return around[:, board.y > 60].max() - around[:, board.y < -60].max()

    assert treble_20_is_better_by(LEAVES_TREBLE_20_MM - 0.05) > 0 > treble_20_is_better_by(LEAVES_TREBLE_20_MM + 0.05)


@pytest.mark.parametrize("cut_sd", [-np.inf, -1.2, 0.3])
def test_a_leaning_scatter_with_a_cut_against_brute_force(cut_sd):
    covariance = np.array([[1.0, -0.5], [-0.5, 0.8]])
    half = worth_map(lambda places: np.where(places[:, 0] + places[:, 1] > 1, 2.0, 0.0), (-1, 1), (-1, 1), 0.1, 1.0)
    around = half.around(covariance, cut_sd, worth_of_cut=-1.0)
    chance = np.random.default_rng(3)
    scattered = chance.multivariate_normal((0.0, 0.0), covariance, 400_000)
    kept = scattered[:, 1] > cut_sd * np.sqrt(0.8)
    moved = centre_beyond(covariance, cut_sd)
    assert scattered[kept].mean(axis=0) == pytest.approx(moved, abs=0.01)
    column, row = 3, 15
    places = np.array([half.x[column], half.y[row]]) + scattered - moved
    worth = np.where(kept, np.where(places.sum(axis=1) > 1, 2.0, 0.0), -1.0)
    assert around[column, row] == pytest.approx(worth.mean(), abs=4 * worth.std() / np.sqrt(len(worth)) + 0.005)
