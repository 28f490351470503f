"""Serves as columns instead of records: what the studies of many thousand serves start from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import repeat
from typing import Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.logbook.records import Serve
from serve_marker.logbook.tables import SERVES

Columns = dict[str, NDArray[Any]]
Pool = dict[str | None, str]
OF_ITS_OWN = ("id", "note")
"""Words that hardly any two serves share."""


def columns_from(batches: Iterable[Sequence[Sequence[Any]]]) -> Columns:
    """Return batches of rows of the serve table as one array (N,) per column: words as objects, numbers as floats.

    What is not there is "" among words and NaN among numbers. Many small batches are read faster than one large one.
    """
    pool: Pool = {None: ""}
    parts = [_batch(rows, pool) for rows in batches if rows] or [_batch([], pool)]
    return {name: np.concatenate([part[name] for part in parts]) for name in SERVES.columns}


def in_order(columns: Columns, clip_ids: Sequence[str]) -> Columns:
    """Return the columns by clip, in the order of ``clip_ids``, and by moment, otherwise as they stood.

    Serves of other clips are left out.
    """
    place = {clip_id: number for number, clip_id in enumerate(clip_ids)}
    clips = np.fromiter(map(place.get, columns["clip_id"], repeat(-1)), int, len(columns["clip_id"]))
    moments = np.where(np.isnan(columns["landing_time_s"]), columns["contact_time_s"], columns["landing_time_s"])
    order = np.lexsort((np.nan_to_num(moments), clips))
    kept = order[clips[order] >= 0]
    return {name: cells[kept] for name, cells in columns.items()}


def columns_of(serves: Sequence[Serve]) -> Columns:
    """Return records as columns.

    Examples
    --------
    >>> columns = columns_of([Serve(id="s", clip_id="c", aim="deep 1")])
    >>> columns["aim"].tolist(), columns["player_id"].tolist(), columns["landing_x_m"].tolist()
    (['deep 1'], [''], [nan])
    """
    return columns_from([[SERVES.row(serve) for serve in serves]])


def points_in(columns: Columns, end: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Floor points (N, 2) [m] and covariances (N, 2, 2) [m2] of the "contact" or the "landing"; NaN where unknown."""
    xx, xy, yy = (columns[f"{end}_cov_{part}_m2"] for part in ("xx", "xy", "yy"))
    return np.column_stack([columns[f"{end}_x_m"], columns[f"{end}_y_m"]]), np.column_stack([xx, xy, xy, yy]).reshape(
        -1, 2, 2
    )


def _batch(rows: Sequence[Sequence[Any]], pool: Pool) -> Columns:
    across = list(zip(*rows, strict=True)) if rows else [()] * len(SERVES.columns)
    return {
        name: _words(cells, {None: ""} if name in OF_ITS_OWN else pool) if kind == "text" else _numbers(cells)
        for (name, kind), cells in zip(SERVES.columns.items(), across, strict=True)
    }


def _numbers(cells: Sequence[float | None]) -> NDArray[np.float64]:
    """The numbers, NaN where there is none: known at once where there are none at all, as in columns rarely used."""
    if cells and cells[0] is None and cells.count(None) == len(cells):
        return np.full(len(cells), np.nan)
    return np.array(cells, float)


def _words(cells: Sequence[str | None], pool: Pool) -> NDArray[Any]:
    """The words as objects, equal ones the same object: they are compared many times, and quicker so."""
    for cell in set(cells) - pool.keys():
        pool[cell] = cell or ""
    return np.fromiter(map(pool.__getitem__, cells), object, len(cells))
