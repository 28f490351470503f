"""How many serves a player hit in a week: counts, never limits."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

from serve_marker.logbook.records import JUMP_SERVE_TYPES

if TYPE_CHECKING:
    import pandas

LOAD_NOTE = (
    "Counts of what was marked here. How many serves are too many is for the athletic trainer or physician and your "
    "local rules to set."
)
COUNTED = ("serves", "jump_serves", "jump_serves_most")
LOAD_COLUMNS = ("player_id", "server", "week", "week_begins", *COUNTED)


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


def serving_loads(table: pandas.DataFrame) -> pandas.DataFrame:
    """Return serves and jump serves per player and ISO week (LOAD_COLUMNS), by week and then by server.

    Every attempt counts, nets and faults too. Serves without a known server or date are left out. Those whose type was
    not said may have been jump serves: they count in ``jump_serves_most`` alone.
    """
    import pandas as pd

    weeks = {date: iso_week(date) for date in table["date"].unique()}
    counted = pd.DataFrame(
        {
            "player_id": table["player_id"],
            "server": table["server"],
            "week": table["date"].map(lambda date: weeks[date][0]),
            "week_begins": table["date"].map(lambda date: weeks[date][1]),
            "serves": 1,
            "jump_serves": table["serve_type"].isin(JUMP_SERVE_TYPES).astype(int),
            "jump_serves_most": table["serve_type"].isin(("", *JUMP_SERVE_TYPES)).astype(int),
        }
    )
    known = counted[(counted["player_id"] != "") & (counted["week"] != "")]
    keys = ["week", "week_begins", "server", "player_id"]
    summed = known.groupby(keys, sort=True, as_index=False)[list(COUNTED)].sum()
    return summed[list(LOAD_COLUMNS)]


def load_words(serves: int, jump_serves: int, jump_serves_most: int) -> str:
    """Return the serves of a week with the jump serves among them.

    Examples
    --------
    >>> load_words(12, 3, 3), load_words(12, 3, 9)
    ('12 (3)', '12 (3 to 9)')
    """
    most = f" to {jump_serves_most}" if jump_serves_most > jump_serves else ""
    return f"{serves} ({jump_serves}{most})"
