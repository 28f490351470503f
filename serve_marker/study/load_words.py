"""Serving loads as a coach reads them: the newest days and weeks, and who served most."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from serve_marker.study.loads import COUNTED, by_week, load_words
from serve_marker.study.sentences import count_words, date_words

if TYPE_CHECKING:
    import pandas

DAYS_SHOWN, WEEKS_SHOWN = 3, 3
JUMP_SENTENCE = "Each cell: all serves, in brackets the jump serves among them."
RANGE_NOTE = "A range: some types were not said. Weeks begin on Monday."
JUMP_NOTE = f"{JUMP_SENTENCE} {RANGE_NOTE}"


@dataclass(frozen=True)
class LoadColumn:
    """A day or a week: its head, and of each player who served in it (by id) the name and the counts as COUNTED.

    ``most`` is the most that anybody served in any of the days, or weeks, that are shown.
    """

    head: str
    loads: Mapping[str, tuple[str, tuple[int, ...]]]
    most: int

    def words(self, player_id: str) -> tuple[str, str]:
        """Return the counts of a player in two short lines; "" where she did not serve."""
        if player_id not in self.loads:
            return "", ""
        *jumps, full_pace = self.loads[player_id][1]
        serves, jump, most = jumps
        return load_words(serves, jump, most), f"{full_pace} full pace" if full_pace else ""

    def share(self, player_id: str) -> float:
        """Return the serves of a player over ``most`` [0-1]."""
        return self.loads[player_id][1][0] / self.most if player_id in self.loads else 0.0


def load_columns(loads: pandas.DataFrame) -> list[LoadColumn]:
    """Return the newest weeks and then the newest days of `serving_loads`, the newest last."""
    spans = ((by_week(loads), "week_begins", WEEKS_SHOWN, "week of\n"), (loads, "date", DAYS_SHOWN, ""))
    found = []
    for counted, column, shown, words in spans:
        newest = sorted(counted[column].unique())[-shown:]
        most = int(counted["serves"][counted[column].isin(newest)].max()) if newest else 1
        for begins in newest:
            own = counted[counted[column] == begins]
            of_player = {
                str(row["player_id"]): (str(row["server"]), tuple(int(row[name]) for name in COUNTED))
                for row in own.to_dict("records")
            }
            day = date_words(begins, with_year=False)
            found.append(LoadColumn(f"{words}{day.partition(' ')[2] if words else day}", of_player, most))
    return found


def week_lines(loads: pandas.DataFrame) -> list[str]:
    """Return a line for each player and each of the newest weeks of `serving_loads`."""
    weeks = by_week(loads)
    newest = sorted(weeks["week_begins"].unique())[-WEEKS_SHOWN:]
    chosen = weeks[weeks["week_begins"].isin(newest)].sort_values(["server", "week_begins"])
    lines = []
    for row in chosen.to_dict("records"):
        begun = date_words(str(row["week_begins"]), with_year=False).partition(" ")[2]
        full_pace = f", {row['full_pace']} full pace" if row["full_pace"] else ""
        counts = load_words(*(int(row[name]) for name in COUNTED[:3]))
        lines.append(f"{row['server']}, week of {begun}: {counts}{full_pace}.")
    return lines


def most_served_sentence(loads: pandas.DataFrame) -> str:
    """Return who served most in the newest week; "" where nobody did."""
    if not len(loads):
        return ""
    weeks = by_week(loads)
    newest = weeks[weeks["week_begins"] == weeks["week_begins"].max()]
    most = newest.loc[newest["serves"].idxmax()]
    jumped = load_words(*(int(most[name]) for name in COUNTED[:3])).partition(" ")[2].strip("()")
    begun = date_words(str(most["week_begins"]), with_year=False).partition(" ")[2]
    counted = count_words(int(most["serves"]), "serve")
    jumps = "jump serve" if jumped == "1" else "jump serves"
    return f"Most in the week of {begun}: {most['server']}, {counted} ({jumped} {jumps})."
