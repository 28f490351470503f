"""How many serves a player hit in a day or a week, on film or counted beside the court: counts, never limits."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

from serve_marker.logbook.records import JUMP_SERVE_TYPES, player_words

if TYPE_CHECKING:
    import pandas

    from serve_marker.logbook.store import Logbook

LOAD_NOTE = (
    "Counts of what was marked or typed in here. How many are too many? Ask the athletic trainer or physician, and "
    "your local rules."
)
COUNTED = ("serves", "jump_serves", "jump_serves_most", "full_pace")
WHO = ("player_id", "server")


def iso_week(date: str) -> tuple[str, str]:
    """Return the ISO 8601 week of a day YYYY-MM-DD and its Monday; ("", "") where the date cannot be read.

    Examples
    --------
    >>> iso_week("2026-11-03"), iso_week("2027-01-01")
    (('2026-W45', '2026-11-02'), ('2026-W53', '2026-12-28'))
    """
    try:
        day = datetime.date.fromisoformat(date)
    except ValueError:
        return "", ""
    year, week, weekday = day.isocalendar()
    return f"{year}-W{week:02d}", (day - datetime.timedelta(days=weekday - 1)).isoformat()


def tally_table(logbook: Logbook) -> pandas.DataFrame:
    """Return the serves of a logbook that were counted beside the court: a row for each player, day, aim and type."""
    import pandas as pd

    words = {player.id: player_words(player) for player in logbook.players()}
    columns = ("player_id", "date", "aim", "serve_type", "serves", "hits", "full_pace")
    rows = [[getattr(one, column) for column in columns] for one in logbook.tallies()]
    table = pd.DataFrame(rows, columns=pd.Index(columns))
    return table.assign(server=[words.get(player_id, "") for player_id in table["player_id"]])


def serving_loads(table: pandas.DataFrame, tallies: pandas.DataFrame | None = None) -> pandas.DataFrame:
    """Return serves, jump serves and serves at full pace per player and day: player_id, server, date, week,
    week_begins, COUNTED.

    Every attempt counts, nets and faults too, and so do ``tallies`` of `tally_table`. Serves without a known server or
    date are left out. Those whose type was not said may be jump serves: they count in ``jump_serves_most`` alone.
    """
    import pandas as pd

    marked = table[[*WHO, "date", "serve_type"]].assign(serves=1, full_pace=table["full_pace"].astype(int))
    counted = marked if tallies is None else pd.concat([marked, tallies[marked.columns]], ignore_index=True)
    jumped = counted["serve_type"].isin(JUMP_SERVE_TYPES)
    counted["jump_serves"] = counted["serves"].where(jumped, 0)
    counted["jump_serves_most"] = counted["serves"].where(jumped | (counted["serve_type"] == ""), 0)
    weeks = {date: iso_week(date) for date in counted["date"].unique()}
    for place, name in enumerate(("week", "week_begins")):
        counted[name] = [weeks[date][place] for date in counted["date"]]
    known = counted[(counted["player_id"] != "") & (counted["week"] != "")]
    return _added_up(known, ["week", "week_begins", "date"])


def by_week(loads: pandas.DataFrame) -> pandas.DataFrame:
    """Return the `serving_loads` of each day added up over ISO weeks."""
    return _added_up(loads, ["week", "week_begins"])


def _added_up(counted: pandas.DataFrame, spans: list[str]) -> pandas.DataFrame:
    """The counts per span and player, each named as on the newest of these days: numbers change with the season."""
    newest = counted.sort_values("date", kind="stable").groupby("player_id")["server"].last()
    added = counted.groupby([*spans, "player_id"], sort=True, as_index=False)[list(COUNTED)].sum()
    return added.assign(server=added["player_id"].map(newest), date=added[spans[-1]])


def load_words(serves: int, jump_serves: int, jump_serves_most: int) -> str:
    """Return the serves of a day or a week with the jump serves among them.

    Examples
    --------
    >>> load_words(12, 3, 3), load_words(12, 3, 9)
    ('12 (3)', '12 (3–9)')
    """
    most = f"–{jump_serves_most}" if jump_serves_most > jump_serves else ""
    return f"{serves} ({jump_serves}{most})"
