"""What a ball is worth wherever it lands, and what a server's scatter makes of that around each place.

The worth of centring at a place is the mean of the map under the scatter centred there: E(place) = (map * N(0, S))
(place) (R. J. Tibshirani, A. Price and J. Taylor, "A statistician plays darts", J. R. Stat. Soc. A 174:213, 2011).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from serve_marker.court.dimensions import Floats

SAMPLES_ALONG_CELL = 4
"""A thin region needs its share of each cell: sampled once, the best aim on a dart board jumps at the wrong scatter."""
REACH_SD = 5.0
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

    def around(self, covariance: Floats) -> Floats:
        """Return the mean worth (W, H) of what is centred at each cell and scatters by ``covariance`` (2, 2).

        The map holds means of cells already, which spread by a twelfth of a cell squared: the scatter is less by that.
        """
        along_x, along_y = np.fft.fftfreq(self._shape[0], self.cell), np.fft.rfftfreq(self._shape[1], self.cell)
        (xx, xy), (_, yy) = covariance - np.eye(2) * self.cell**2 / 12
        square = xx * along_x[:, None] ** 2 + 2 * xy * np.outer(along_x, along_y) + yy * along_y**2
        spread_out = np.fft.irfft2(self._spectrum * np.exp(-2 * np.pi**2 * square), s=self._shape)
        (left, near), (width, height) = self._margin, (len(self.x), len(self.y))
        return np.asarray(spread_out[left : left + width, near : near + height])


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
    within = ((np.arange(SAMPLES_ALONG_CELL) + 0.5) / SAMPLES_ALONG_CELL - 0.5) * cell
    total = np.zeros((len(x_cells), len(y_cells)))
    for aside in within:
        for along in within:
            places = np.stack(np.meshgrid(x_cells + aside, y_cells + along, indexing="ij"), axis=-1)
            total += worth_at(places.reshape(-1, 2)).reshape(total.shape)
    return total / SAMPLES_ALONG_CELL**2
