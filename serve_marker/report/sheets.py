"""The team sheet and one page per server, as vector PDF that prints well in grey."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from serve_marker.court.aims import Aim, aim_words, parse_aim
from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.court.formations import Formation
from serve_marker.errors import UserError
from serve_marker.logbook.records import TARGET_WORDS, PracticePlan, player_words
from serve_marker.report.charts import aim_legend, draw_court, draw_depth, draw_legend
from serve_marker.report.colours import PAPER_COLOURS
from serve_marker.report.lettering import NOTE_PT, SENTENCE_PT, SMALL_CHART_PT, SMALLEST_PT, TITLE_PT
from serve_marker.report.page_canvas import MARGIN_IN, Column, Page, number_pages, save_pdf
from serve_marker.report.paper_sizes import DEFAULT_PAPER
from serve_marker.report.passers_chart import common_formation, draw_formation, formation_legend, usual_flight
from serve_marker.report.small_courts import Group, draw_small_courts
from serve_marker.study.by_server import UNKNOWN, rows_by_server
from serve_marker.study.compare import first_and_last_sentence, trend_sentence
from serve_marker.study.compare_servers import rate_asked, servers_sentences
from serve_marker.study.depth_shares import depth_shares, depth_shares_sentence
from serve_marker.study.ladder import LadderStep, ladder_of
from serve_marker.study.loads import COUNTED, LOAD_NOTE, by_week, iso_week, load_words, serving_loads, tally_table
from serve_marker.study.passers import at_passers_mask, at_passers_sentence, gap_sentence, pass_sentence, reach_sentence
from serve_marker.study.pull import bias_of
from serve_marker.study.rates import aim_rate, in_rate
from serve_marker.study.sentences import (
    INTERVAL_WORDS,
    ONE_EVENING_WORDS,
    PULL_WORDS,
    TOO_CLOSE_WORDS,
    bias_words,
    clearance_sentence,
    count_words,
    date_words,
    effort_sentence,
    gate_sentence,
    hits_words,
    interval_words,
    placed_words,
    practice_summary,
    rate_words,
    type_words,
)
from serve_marker.study.serve_columns import FlightsPending, court_and_scheme, table_without_flights
from serve_marker.study.serve_shape import on_target, on_target_words
from serve_marker.study.settings import StudySettings, settings_of
from serve_marker.study.spread_words import spread_sentence
from serve_marker.study.stored_formations import formations_of

if TYPE_CHECKING:
    import pandas

    from serve_marker.logbook.store import Logbook

NOTES_IN = 0.9


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


def team_sheet(logbook: Logbook, out_pdf: Path, practice_id: str | None = None, paper: str = DEFAULT_PAPER) -> None:
    """Write the team sheet of one practice, or of all practices together."""
    save_pdf(team_pages(read_report_data(logbook), practice_id, paper), out_pdf, "Team sheet")


def server_sheet(
    logbook: Logbook, out_pdf: Path, player_id: str, practice_id: str | None = None, paper: str = DEFAULT_PAPER
) -> None:
    """Write one server's page."""
    save_pdf(server_pages(read_report_data(logbook), player_id, practice_id, paper), out_pdf, "Server page")


def team_pages(data: ReportData, practice_id: str | None = None, paper: str = DEFAULT_PAPER) -> list[Page]:
    """Return the pages of a team sheet; servers that do not fit go on to further pages."""
    rows = data.of_practice(practice_id)
    page = Page(paper)
    title = " · ".join(part for part in (data.team, _practice_words(rows)) if part)
    page.line(title or "Team sheet", TITLE_PT, bold=True)
    _subtitle(page, rows)
    servers = " ".join(servers_sentences(rows)) if rows["player_id"].nunique() > 1 else ""
    summary = [*at_passers_first(rows), *practice_summary(rows), *([servers] if servers else [])]
    for sentence in [*summary, *passer_sentences(rows, data)]:
        page.paragraph(sentence, SENTENCE_PT)
    page.down_in += 0.08
    _charts(page, rows, data)

    table_columns, lines = _server_table(rows, data)
    notes = [
        TOO_CLOSE_WORDS,
        f"{INTERVAL_WORDS} {ONE_EVENING_WORDS} {PULL_WORDS}",
        f"Week: serves of that week, jump serves in brackets (3–9: where some types were not said). {LOAD_NOTE}",
    ]
    small = [_small(words, own, data) for words, own in rows_by_server(rows)]
    return _with_table_and_notes(page, table_columns, lines, notes, paper, small, data)


def server_pages(
    data: ReportData, player_id: str, practice_id: str | None = None, paper: str = DEFAULT_PAPER
) -> list[Page]:
    """Return the pages of one server, "" for serves whose server is not known."""
    rows = data.of_practice(practice_id)
    rows = rows[rows["player_id"] == player_id]
    page = Page(paper)
    everything = data.table[data.table["player_id"] == player_id]
    shown = rows if len(rows) else everything
    name = str(shown["server"].iloc[-1]) if len(shown) else ""
    page.line(name or UNKNOWN, TITLE_PT, bold=True)
    _subtitle(page, rows, " · ".join(part for part in (data.team, _practice_words(rows)) if part))
    more = [spread_sentence(rows), gate_sentence(rows, data.settings.topspin_gate_mps), effort_sentence(rows)]
    more += [clearance_sentence(rows), depth_shares_sentence(depth_shares(rows))]
    more += [*passer_sentences(rows, data), type_sentence(rows)]
    more.append(f"Better than before? {trend_sentence(everything)}" if len(everything) else "")
    more.append(first_and_last_sentence(rows))
    for sentence in [*at_passers_first(rows), *practice_summary(rows), *(words for words in more if words)]:
        page.paragraph(sentence, SENTENCE_PT)
    page.down_in += 0.08
    _charts(page, rows, data, court_in=4.55)
    table_columns, lines = _aim_table(rows)
    notes = [TOO_CLOSE_WORDS, f"{INTERVAL_WORDS} {PULL_WORDS}"]
    small = [_small(aim_words(str(aim)) or "no aim", own, data) for aim, own in rows.groupby("aim", sort=False)]
    return _with_table_and_notes(page, table_columns, lines, notes, paper, small, data)


def _small(title: str, rows: pandas.DataFrame, data: ReportData) -> Group:
    aimed = aim_rate(rows).n
    words = f"{on_target_words(on_target(rows))} hit the aim" if aimed else f"{rate_words(rate_asked(rows))} in"
    return title, words, rows, common_aim(rows, data.court, data.scheme)


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
            told = f"Against {data.formations[key].name}: {told or 'no landing is known.'}"
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


def _practice_words(rows: pandas.DataFrame) -> str:
    names = [name for name in rows.drop_duplicates("practice_id")["practice"] if name]
    if len(names) > 1:
        return count_words(len(names), "practice")
    return str(names[0]) if names else ""


def _subtitle(page: Page, rows: pandas.DataFrame, start: str = "") -> None:
    dates = sorted({date for date in rows["date"] if date})
    when = " to ".join(date_words(date) for date in dict.fromkeys((dates[0], dates[-1]))) if dates else ""
    purposes = sorted({purpose for purpose in rows["purpose"] if purpose})
    targets = sorted(TARGET_WORDS[kind] for kind in set(rows["target_kind"]) - {"none"})
    parts = [start, when, " and ".join(purposes), " and ".join(targets)]
    page.paragraph(" · ".join(part for part in parts if part), SENTENCE_PT, faint=True)
    page.down_in += 0.06


def _charts(page: Page, rows: pandas.DataFrame, data: ReportData, court_in: float = 4.0) -> None:
    """Draw the court on the left and depth and legend on the right, and move down past them."""
    height_in = court_in
    aim = common_aim(rows, data.court, data.scheme)
    box = page.box(MARGIN_IN, page.down_in, court_in, height_in)
    draw_court(box, rows, data.court, data.scheme, aim, PAPER_COLOURS, size_pt=SMALL_CHART_PT)
    formation = common_formation(rows, data.formations)
    flight = usual_flight(rows)
    if formation is not None:
        draw_formation(box, formation, data.court, PAPER_COLOURS, data.settings, flight, SMALLEST_PT)
    beside_in = MARGIN_IN + court_in + 0.5
    depth = page.box(beside_in, page.down_in + 0.5, page.width_in - MARGIN_IN - beside_in, 1.55)
    draw_depth(depth, rows, data.court, data.scheme, PAPER_COLOURS, size_pt=SMALL_CHART_PT)
    legend_at = page.place(beside_in - 0.3, page.down_in + 2.55)
    of_passers = formation_legend(PAPER_COLOURS, flight) if formation is not None else []
    more = [*aim_legend(aim, PAPER_COLOURS), *of_passers]
    size_pt, ncols = (SMALLEST_PT, 2 if court_in < 4.2 else 1) if of_passers else (NOTE_PT, 1)
    draw_legend(page.figure, rows, PAPER_COLOURS, legend_at, size_pt=size_pt, ncols=ncols, loc="upper left", more=more)
    page.down_in += height_in + 0.1


def _server_table(rows: pandas.DataFrame, data: ReportData) -> tuple[list[Column], list[list[str]]]:
    columns = [
        Column("server", 0.96),
        Column("serves", 0.5, "right"),
        Column("in", 0.75, "right"),
        Column("hit the aim", 1.08, "right"),
        Column("(range)", 0.72, "right"),
        Column("", 0.1),
        Column("pull", 1.45),
        Column("of", 0.72, "right"),
        Column("week (jump)", 0.9, "right"),
    ]
    week = iso_week(max(rows["date"], default=""))[0]
    loads = by_week(serving_loads(data.table, data.tallies))
    loads = loads[loads["week"] == week].set_index("player_id")
    groups, lines = rows_by_server(rows), []
    for words, own in groups:
        player_id = str(own["player_id"].iloc[0])
        hit = aim_rate(own)
        load = load_words(*loads.loc[player_id, list(COUNTED[:3])]) if player_id in loads.index else ""
        lean = bias_of(own, 2 * len(groups))
        counted = [words, str(len(own)), hits_words(in_rate(own)), on_target_words(on_target(own)), interval_words(hit)]
        lines.append([*counted, "", bias_words(lean), placed_words(lean), load])
    return columns, lines


def _aim_table(rows: pandas.DataFrame) -> tuple[list[Column], list[list[str]]]:
    columns = [
        Column("practice", 1.26),
        Column("aim", 1.17),
        Column("serves", 0.5, "right"),
        Column("in", 0.63, "right"),
        Column("hit the aim", 0.85, "right"),
        Column("(range)", 0.7, "right"),
        Column("", 0.1),
        Column("pull", 1.42),
        Column("of", 0.57, "right"),
    ]
    groups, lines = list(rows.groupby(["practice_id", "practice", "date", "aim"], sort=False)), []
    for (_, practice, date, aim), own in groups:
        hit = aim_rate(own)
        lean = bias_of(own, 2 * len(groups))
        where = f"{date_words(date, with_year=False)}, {practice}" if date else practice
        counted = [str(len(own)), hits_words(in_rate(own)), on_target_words(on_target(own)), interval_words(hit)]
        lines.append([where, aim_words(aim) or "none", *counted, "", bias_words(lean), placed_words(lean)])
    return columns, lines


def _with_table_and_notes(
    page: Page,
    columns: Sequence[Column],
    lines: list[list[str]],
    notes: Sequence[str],
    paper: str,
    small: Sequence[Group],
    data: ReportData,
) -> list[Page]:
    pages, tabled = [page], bool(lines)
    while lines:
        drawn = pages[-1].table(columns, lines)
        lines = lines[drawn:]
        if lines:
            pages.append(Page(paper))
    last = pages[-1]
    draw_small_courts(last, small, data.court, data.scheme, keep_in=NOTES_IN)
    if last.left_over_in < NOTES_IN:
        last = Page(paper)
        pages.append(last)
    last.down_in += 0.08
    for note in notes if tabled else ():
        last.paragraph(note, NOTE_PT, faint=True)
    number_pages(pages, NOTE_PT)
    return pages
