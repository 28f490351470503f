"""Serving loads over two logbooks: a player in two teams has one shoulder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from serve_marker.logbook.merge import merge, merged_in_memory
from serve_marker.logbook.same_records import kept_id, player_pairs
from serve_marker.study.loads import serving_loads, tally_table
from serve_marker.study.serve_columns import table_without_flights

if TYPE_CHECKING:
    import pandas

    from serve_marker.logbook.store import Logbook


def loads_in(logbook: Logbook) -> pandas.DataFrame:
    """Return the `serving_loads` of a logbook, unfilmed serves too."""
    return serving_loads(table_without_flights(logbook).table, tally_table(logbook))


def loads_of_both(
    first: Logbook, second: Logbook, answers: Mapping[frozenset[str], bool]
) -> tuple[pandas.DataFrame, set[str]]:
    """Return the `serving_loads` of two logbooks together, and the ids of the players who are in both.

    A serve that both marked on one film counts once, as in a merge. Counts typed in by hand add up, also equal ones:
    they may be of two practices of one day. ``answers`` say whether two players are one, by the ids of both.

    Raises
    ------
    PlayersInDoubtError
        Where only the coach can say.
    """
    merged = merge(first, second, answers)
    pairs, _ = player_pairs(first.players(), second.players(), answers)
    kept = {one.id: kept_id(pair) for pair in pairs for one in pair if one is not None}
    tallies = {one.id: one for book in (first, second) for one in book.tallies()}
    merged.records["tallies"] = [replace(one, player_id=kept[one.player_id]) for one in tallies.values()]
    in_both = {kept_id(pair) for pair in pairs if None not in pair}
    with merged_in_memory(merged, first.path) as book:
        return loads_in(book), in_both
