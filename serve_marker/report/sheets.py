"""What all sheets of a logbook are made from, and what they have in common."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from serve_marker.court.aims import Aim, parse_aim
from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.court.formations import Formation
from serve_marker.errors import UserError
from serve_marker.logbook.records import TARGET_WORDS, PracticePlan, player_words
from serve_marker.report.page_canvas import Column
from serve_marker.study.ladder import LadderStep, ladder_of
from serve_marker.study.loads import by_week, iso_week, serving_loads, tally_table
from serve_marker.study.passers import at_passers_mask, at_passers_sentence, gap_sentence, pass_sentence, reach_sentence
from serve_marker.study.rates import aim_rate, in_rate
from serve_marker.study.sentences import (
    count_words,
    date_words,
    interval_words,
    span_words,
    type_words,
)
from serve_marker.study.serve_columns import FlightsPending, court_and_scheme, table_without_flights
from serve_marker.study.serve_shape import on_target, on_target_words
from serve_marker.study.settings import StudySettings, settings_of
from serve_marker.study.stored_formations import formations_of

if TYPE_CHECKING:
    import pandas

    from serve_marker.logbook.store import Logbook


COUNT_COLUMNS = (
    Column("serves", 0.5, "right"),
    Column("in", 0.62, "right"),
    Column("on target", 0.98, "right"),
    Column("true rate", 0.8, "right"),
    Column("", 0.08),
)


@dataclass(frozen=True, eq=False)
class ReportData:
    """What the sheets of one logbook are made from: read once, used for every page.

    ``pending`` is what the flights are solved from where that is left for later.
    """

    team: str
    table: pandas.DataFrame
    court: Court
    scheme: AreaScheme
    formations: Mapping[str, Formation] = field(default_factory=dict)
    settings: StudySettings = field(default_factory=StudySettings)
    ladder: tuple[LadderStep, ...] = ()
    tallies: pandas.DataFrame | None = None
    plans: tuple[PracticePlan, ...] = ()
    players: Mapping[str, str] = field(default_factory=dict)
    pending: FlightsPending | None = None

    @property
    def has_tallies(self) -> bool:
        """Whether serves were counted beside the court."""
        return self.tallies is not None and len(self.tallies) > 0

    def plan_for(self, practice_id: str | None) -> PracticePlan | None:
        """Return the plan of a practice's day or the first one after it, else the newest; None where there is none."""
        days = [] if practice_id is None else list(self.of_practice(practice_id)["date"])
        since = [plan for plan in self.plans if days and plan.date >= max(days)]
        return next(iter((*since[:1], *reversed(self.plans))), None)

    def of_practice(self, practice_id: str | None) -> pandas.DataFrame:
        """Return the rows of a practice, or all."""
        return self.table if practice_id is None else self.table[self.table["practice_id"] == practice_id]

    def with_flights(self) -> ReportData:
        """Return the same with every flight solved."""
        return self if self.pending is None else replace(self, table=self.pending.with_flights(), pending=None)


def read_report_data(logbook: Logbook) -> ReportData:
    """Return all serves of a logbook, judged, with the court and areas the sheets are drawn on."""
    return read_report_data_without_flights(logbook).with_flights()


def read_report_data_without_flights(logbook: Logbook) -> ReportData:
    """As `read_report_data`, with how the serves flew left for later: it takes longer than all the rest."""
    pending = table_without_flights(logbook)
    court, scheme = court_and_scheme(logbook, pending.table["court"])
    settings = settings_of(logbook)
    ladder = ladder_of(logbook, court, settings.topspin_gate_mps)
    players = {player.id: player_words(player) for player in logbook.players()}
    found = formations_of(logbook), settings, ladder, tally_table(logbook), tuple(logbook.plans()), players
    return ReportData(logbook.team, pending.table, court, scheme, *found, pending)


def player_ids(logbook: Logbook, who: str) -> list[str]:
    """Return the ids of the players with that name, or that shirt number in this season or another.

    Raises
    ------
    UserError
        Naming the players there are.
    """
    wanted = " ".join(who.split()).casefold()
    players = logbook.players()
    past: dict[str, list[str]] = {}
    for player_id, number in (shirt for season in logbook.seasons() for shirt in season.shirts):
        past.setdefault(player_id, []).append(str(number))
    found = [
        player.id
        for player in players
        if wanted and wanted in (" ".join(player.name.split()).casefold(), str(player.number), *past.get(player.id, ()))
    ]
    if found:
        return found
    known = ", ".join(player.name if player.number is None else f"{player.number} {player.name}" for player in players)
    raise UserError(f"{logbook.path.name} has no server {who}; it has: {known or 'none yet'}.")


def passer_sentences(rows: pandas.DataFrame, data: ReportData) -> list[str]:
    """Return what the serves asked of the passers and how the passes were, one sentence for each formation."""
    sentences = []
    for key in dict.fromkeys(rows["formation_id"]):
        own = rows[rows["formation_id"] == key]
        parts = (gap_sentence(own), reach_sentence(own), pass_sentence(own))
        told = " ".join(sentence for sentence in parts if sentence)
        if key in data.formations:
            told = f"Against {data.formations[key].name}: {told[:1].lower()}{told[1:] or 'no landing is known.'}"
        sentences.append(told)
    return [sentence for sentence in sentences if sentence]


def at_passers_first(rows: pandas.DataFrame) -> list[str]:
    """Return the first figures of serves most of which were hit at passers; none of others."""
    mostly = 2 * int(at_passers_mask(rows).sum()) > len(rows)
    return [at_passers_sentence(rows)] if mostly else []


def type_sentence(rows: pandas.DataFrame) -> str:
    """Return which serve types these are, "" where none is known."""
    words = type_words(rows)
    return f"Serve types: {words}." if words else ""


def common_aim(rows: pandas.DataFrame, court: Court, scheme: AreaScheme) -> Aim | None:
    """Return the aim all aimed serves share, None where there is none or more than one."""
    aims = {aim for aim in rows["aim"] if aim}
    if len(aims) != 1:
        return None
    try:
        return parse_aim(aims.pop(), court, scheme)
    except UserError:
        return None


def practice_words(rows: pandas.DataFrame) -> str:
    """Return which practice some serves are of, or of how many."""
    names = [name for name in rows.drop_duplicates("practice_id")["practice"] if name]
    if len(names) > 1:
        return count_words(len(names), "practice")
    return str(names[0]) if names else ""


def practices_by_day(rows: pandas.DataFrame) -> dict[str, str]:
    """Return what each practice of some serves is called in a list, by its id, the oldest first.

    That is its day, with the practice's name where several are of that day; without a day its name. Days of several
    years have the year instead of the weekday.
    """
    practices = rows[["practice_id", "practice", "date"]].drop_duplicates("practice_id")
    practices = practices.sort_values("date", kind="stable")
    known = [date for date in practices["date"] if date]
    years = len({date[:4] for date in known}) > 1
    names = zip(practices["practice_id"], practices["practice"], practices["date"], strict=True)
    return {
        practice_id: ", ".join(
            part for part in (_day_words(date, years) if date else "", "" if known.count(date) == 1 else name) if part
        )
        for practice_id, name, date in names
    }


def _day_words(date: str, with_year: bool) -> str:
    words = date_words(date, with_year)
    return words.partition(" ")[2] if with_year else words


def days_words(rows: pandas.DataFrame) -> str:
    """Return the day of some serves, or the first and the last; "" where none is known."""
    dates = sorted({date for date in rows["date"] if date})
    return " to ".join(date_words(date) for date in dict.fromkeys((dates[0], dates[-1]))) if dates else ""


def drill_words(rows: pandas.DataFrame) -> str:
    """Return what some serves were for and at which kinds of target: "drill · mats on the floor"."""
    purposes = sorted({purpose for purpose in rows["purpose"] if purpose})
    targets = sorted(TARGET_WORDS[kind] for kind in set(rows["target_kind"]) - {"none"})
    return " · ".join(words for words in (" and ".join(purposes), " and ".join(targets)) if words)


def loads_of_week(rows: pandas.DataFrame, data: ReportData) -> pandas.DataFrame:
    """Return what everybody served in the week of the newest of some serves, by player: COUNTED."""
    week = iso_week(max(rows["date"], default=""))[0]
    loads = by_week(serving_loads(data.table, data.tallies))
    return loads[loads["week"] == week].set_index("player_id")


def count_cells(own: pandas.DataFrame) -> list[str]:
    """Return how many serves, how many in and on target, and the range of that, for a table: COUNT_COLUMNS."""
    good = in_rate(own)
    hits = on_target_words(on_target(own))
    return [str(len(own)), span_words(good.hits, good.most), hits, interval_words(aim_rate(own))]
