"""Which serves a question is asked of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas


@dataclass(frozen=True)
class ServeFilter:
    """A choice of serves. An empty field does not narrow the choice; dates are YYYY-MM-DD, both ends included."""

    practice_ids: tuple[str, ...] = ()
    date_from: str = ""
    date_to: str = ""
    player_ids: tuple[str, ...] = ()
    serve_types: tuple[str, ...] = ()
    aims: tuple[str, ...] = ()
    purposes: tuple[str, ...] = ()
    target_kinds: tuple[str, ...] = ()
    formations: tuple[str, ...] = ()
    served_from: tuple[str, ...] = ()
    turns: tuple[str, ...] = ()
    winds: tuple[str, ...] = ()
    hands: tuple[str, ...] = ()
    positions: tuple[str, ...] = ()


_COLUMN_OF = {
    "practice_ids": "practice_id",
    "player_ids": "player_id",
    "serve_types": "serve_type",
    "aims": "aim",
    "purposes": "purpose",
    "target_kinds": "target_kind",
    "formations": "formation",
    "served_from": "served_from",
    "turns": "turn",
    "winds": "wind",
    "hands": "hand",
    "positions": "position",
}


def filter_serves(table: pandas.DataFrame, choice: ServeFilter) -> pandas.DataFrame:
    """Return the rows of a serve table that a choice names, in their order, with the old index dropped.

    Where it names all, that is the table itself.
    """
    kept = np.ones(len(table), dtype=bool)
    for field, column in _COLUMN_OF.items():
        wanted = getattr(choice, field)
        if wanted:
            kept &= table[column].isin(wanted).to_numpy()
    if choice.date_from:
        kept &= (table["date"] >= choice.date_from).to_numpy()
    if choice.date_to:
        kept &= ((table["date"] <= choice.date_to) & (table["date"] != "")).to_numpy()
    return table if kept.all() else table[kept].reset_index(drop=True)
