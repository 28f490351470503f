"""The landings of a drawn chart, by which it can be pointed at: where each lies in the picture, and what it is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class ChartPoint:
    """A landing in a drawn chart: its place as shares of the picture's width and height, and what it is."""

    across: float
    down: float
    serve_id: str
    words: str


class ChartPoints(Sequence[ChartPoint]):
    """The landings of a chart; each is put into words when it is asked for, as there may be many thousands.

    ``places`` (N, 2) are shares of the picture's width and height; ``describe`` tells of a number its serve and words.
    """

    def __init__(self, places: NDArray[np.float64], describe: Callable[[int], tuple[str, str]]) -> None:
        self.places = places
        self._describe = describe

    def __len__(self) -> int:
        return len(self.places)

    @overload
    def __getitem__(self, index: int) -> ChartPoint: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[ChartPoint]: ...
    def __getitem__(self, index: int | slice) -> ChartPoint | Sequence[ChartPoint]:
        if isinstance(index, slice):
            return [self[number] for number in range(*index.indices(len(self)))]
        across, down = self.places[index].tolist()
        return ChartPoint(across, down, *self._describe(index))


NO_POINTS = ChartPoints(np.empty((0, 2)), lambda _number: ("", ""))
