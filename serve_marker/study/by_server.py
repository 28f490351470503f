"""The servers in a table of serves in order, and the serves of each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from serve_marker.study.groups import rows_of

if TYPE_CHECKING:
    import pandas

UNKNOWN = "server not known"
SERVER_COLUMNS = ("player_id", "server", "number", "name")


def servers_of(table: pandas.DataFrame) -> list[tuple[str, str]]:
    """Return (player id, words) of everyone who served, by shirt number and then by name."""
    known = table[list(SERVER_COLUMNS)].drop_duplicates("player_id", keep="last").sort_values(["number", "name"])
    known = known[known["player_id"] != ""]
    return list(zip(known["player_id"], known["server"], strict=True))


def rows_by_server(table: pandas.DataFrame) -> list[tuple[str, pandas.DataFrame]]:
    """Return (words, their serves) per server, serves of nobody known last."""
    rows = rows_of(table["player_id"].to_numpy())
    groups = [(words, table.iloc[rows[player_id]]) for player_id, words in servers_of(table)]
    return [*groups, (UNKNOWN, table.iloc[rows[""]])] if "" in rows else groups
