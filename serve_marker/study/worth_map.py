"""What a ball is worth wherever it lands, and what a server's scatter makes of that around each place.

The worth of centring at a place is the mean of the map under the scatter centred there: E(place) = (map * N(0, S))
(place) (R. J. Tibshirani, A. Price and J. Taylor, "A statistician plays darts", J. R. Stat. Soc. A 174:213, 2011).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from serve_marker.court.dimensions import Floats

SAMPLES_ALONG_CELL = 16
"""A thin region needs its share of each cell: sampled once, the best aim on a dart board jumps at the wrong scatter."""
REACH_SD = 5.0
NARROWEST_CELLS = 0.5
"""A scatter narrower than the cells can tell counts as so many cells wide."""
WorthAt = Callable[[Floats], Floats]
"""Returns the worth (N,) of places (N, 2)."""


@dataclass(frozen=True, eq=False)
class WorthMap:
    """The worth of square cells of a rectangle, and of a margin about it that the scatter reaches into.

    Parameters
    ----------
    x, y : (W,) and (H,) centres of the cells of the rectangle.
    cell : side of a cell, in the unit of x and y.
    """

    x: Floats
    y: Floats
    cell: float
    _margin: tuple[int, int]
    _shape: tuple[int, int]
    _spectrum: NDArray[np.complex128]

    def around(self, covariance: Floats, cut_sd: float = -math.inf, worth_of_cut: float = 0.0) -> Floats:
        """Return the mean worth (W, H) of what scatters by ``covariance`` (2, 2) so that each cell is its centre.

        What scatters farther than ``cut_sd`` deviations along y is cut off, is worth ``worth_of_cut``, and takes no
        part in the centre. The map holds means of cells already, which spread by a twelfth of a cell squared: the
        scatter is less by that.
        """
        squared, axes = np.linalg.eigh(covariance - np.eye(2) * self.cell**2 / 12)
        narrower = axes * np.maximum(squared, (NARROWEST_CELLS * self.cell) ** 2) @ axes.T
        middle = -centre_beyond(covariance, cut_sd)
        away = np.stack(np.meshgrid(*map(self._offsets, self._shape), indexing="ij"), axis=-1) - middle
        squares = np.einsum("xyi,ij,xyj->xy", away, np.linalg.inv(narrower), away)
        shares = np.exp(-squares / 2)
        shares /= shares.sum()
        if math.isfinite(cut_sd):
            beyond_cells = (away[..., 1] - cut_sd * math.sqrt(covariance[1, 1])) / self.cell
            shares *= np.clip(beyond_cells + 0.5, 0.0, 1.0)
        mean = np.fft.irfft2(self._spectrum * np.conj(np.fft.rfft2(shares)), s=self._shape)
        (left, near), (width, height) = self._margin, (len(self.x), len(self.y))
        return np.asarray(mean[left : left + width, near : near + height] + (1 - shares.sum()) * worth_of_cut)

    def without_edge(self, cells: int) -> WorthMap:
        """Return the map without so many cells to the left, to the right and beyond; the near edge stays."""
        (left, near), inner = self._margin, slice(cells, -cells)
        return replace(self, x=self.x[inner], y=self.y[:-cells], _margin=(left + cells, near))

    def part_of(self, around: Floats, of: WorthMap) -> Floats:
        """Return what belongs to this map of the worths (W, H) of the one it was taken from."""
        left, near = (mine - its for mine, its in zip(self._margin, of._margin, strict=True))
        return around[left : left + len(self.x), near : near + len(self.y)]

    def _offsets(self, count: int) -> Floats:
        """How far each cell lies from the first, to the nearer side round about."""
        return np.asarray(np.fft.fftfreq(count, 1 / (count * self.cell)), dtype=float)


def centre_beyond(covariance: Floats, cut_sd: float) -> Floats:
    """Return how far (2,) the mean of a normal scatter moves where it is cut off below ``cut_sd`` deviations along y.

    By phi(a) / (1 - Phi(a)) deviations (moments of a truncated normal: N. Johnson, S. Kotz, N. Balakrishnan, Continuous
    Univariate Distributions 1, 1994, section 10.1).

    Examples
    --------
    >>> [round(float(moved), 4) for moved in centre_beyond(np.array([[1.0, 0.5], [0.5, 1.0]]), 0.0)]
    [0.3989, 0.7979]
    """
    if not math.isfinite(cut_sd):
        return np.zeros(2)
    above = NormalDist().pdf(cut_sd) / (1 - NormalDist().cdf(cut_sd))
    return np.asarray(covariance[:, 1] / math.sqrt(covariance[1, 1]) * above)


def worth_map(
    worth_at: WorthAt, x: tuple[float, float], y: tuple[float, float], cell: float, sd: ArrayLike
) -> WorthMap:
    """Return the map of a rectangle, for scatters of no more than ``sd`` along x and y.

    Examples
    --------
    >>> half = worth_map(lambda places: (places[:, 0] > 0).astype(float), (-1.0, 1.0), (0.0, 0.5), 0.1, 1.0)
    >>> around = half.around(np.eye(2))
    >>> [round(float(np.interp(at, half.x, around[:, 0])), 3) for at in (0.0, 0.5)]
    [0.5, 0.691]
    """
    margin = np.ceil(REACH_SD * np.broadcast_to(np.asarray(sd, dtype=float), 2) / cell).astype(int)
    counts = [round((high - low) / cell) for low, high in (x, y)]
    x_cells, y_cells = (
        low + cell * (np.arange(-beyond, count + beyond) + 0.5)
        for (low, _), count, beyond in zip((x, y), counts, margin, strict=True)
    )
    values = _cell_means(worth_at, x_cells, y_cells, cell)
    (left, near), (width, height) = margin, counts
    return WorthMap(
        x=x_cells[left : left + width],
        y=y_cells[near : near + height],
        cell=cell,
        _margin=(int(left), int(near)),
        _shape=(len(x_cells), len(y_cells)),
        _spectrum=np.fft.rfft2(values),
    )


def best_of(around: Floats, of: WorthMap) -> tuple[tuple[float, float], float]:
    """Return the place of the highest of the worths (W, H) of a map, and that worth, between the cells.

    A paraboloid through the nine cells about the highest says where between them the top lies.
    """
    column, row = (int(i) for i in np.unravel_index(int(np.argmax(around)), around.shape))
    top = float(around[column, row])
    if not (0 < column < around.shape[0] - 1 and 0 < row < around.shape[1] - 1):
        return (float(of.x[column]), float(of.y[row])), top
    nine = around[column - 1 : column + 2, row - 1 : row + 2]
    slope = np.array([nine[2, 1] - nine[0, 1], nine[1, 2] - nine[1, 0]]) / 2
    across = (nine[2, 2] - nine[2, 0] - nine[0, 2] + nine[0, 0]) / 4
    bend = np.array(
        [[nine[2, 1] - 2 * top + nine[0, 1], across], [across, nine[1, 2] - 2 * top + nine[1, 0]]],
    )
    if not np.linalg.det(bend) > 0:
        return (float(of.x[column]), float(of.y[row])), top
    step = np.clip(-np.linalg.solve(bend, slope), -1.0, 1.0)
    return (
        (float(of.x[column] + step[0] * of.cell), float(of.y[row] + step[1] * of.cell)),
        top + float(slope @ step / 2),
    )


def _cell_means(worth_at: WorthAt, x_cells: Floats, y_cells: Floats, cell: float) -> Floats:
    """The mean worth (W, H) of each cell: that of its middle if its corners are alike, else of samples within it."""
    x_edges, y_edges = (np.append(centres, centres[-1] + cell) - cell / 2 for centres in (x_cells, y_cells))
    corners, means = _worths(worth_at, x_edges, y_edges), _worths(worth_at, x_cells, y_cells)
    five = np.stack([means, corners[:-1, :-1], corners[1:, :-1], corners[:-1, 1:], corners[1:, 1:]])
    columns, rows = np.nonzero(np.ptp(five, axis=0) > 0)
    within = ((np.arange(SAMPLES_ALONG_CELL) + 0.5) / SAMPLES_ALONG_CELL - 0.5) * cell
    aside, along = (part.ravel() for part in np.meshgrid(within, within))
    places = np.stack([x_cells[columns, None] + aside, y_cells[rows, None] + along], axis=-1)
    means[columns, rows] = worth_at(places.reshape(-1, 2)).reshape(len(columns), -1).mean(axis=1)
    return np.asarray(means)


def _worths(worth_at: WorthAt, x: Floats, y: Floats) -> Floats:
    places = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1)
    return worth_at(places.reshape(-1, 2)).reshape(len(x), len(y))
