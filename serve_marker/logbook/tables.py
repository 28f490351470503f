"""The tables of a logbook: their columns, in which order they are read, and records to rows and back.

Columns carry the units that the records' fields carry.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import islice
from typing import Any, cast

from serve_marker.logbook.any_record import Record
from serve_marker.logbook.consents import CONSENT_COLUMNS, Consent
from serve_marker.logbook.records import (
    ClipEntry,
    FloorPoint,
    Gym,
    Mark,
    NextServes,
    PlanBlock,
    Player,
    Practice,
    PracticePlan,
    Season,
    Serve,
    ServeSearch,
    StoredFormation,
    StoredProposal,
    StoredView,
    Tally,
    Trial,
)
from serve_marker.logbook.rows import MARK_COLUMNS, Row, Table, mark_cells, mark_from, plain_table, real_cell
from serve_marker.logbook.second_marks import Marker, SecondMark
from serve_marker.plain_json import read_json, require_kinds, texts_of

BALL_COLUMNS = ("position", *MARK_COLUMNS, "by_film", "of_contact")
_POINT_COLUMNS = {"x_m": "real", "y_m": "real", "cov_xx_m2": "real", "cov_xy_m2": "real", "cov_yy_m2": "real"}


def ball_cells(serve: Serve) -> list[Row]:
    """The rows of a serve's marks of the ball, in the order of ``BALL_COLUMNS``."""
    marks = [
        *((mark, 0, 0) for mark in serve.ball_marks),
        *((mark, 1, 0) for mark in serve.film_marks),
        *((mark, 1, 1) for mark in serve.contact_film_marks),
    ]
    return [(position, *mark_cells(mark), *of) for position, (mark, *of) in enumerate(marks)]


def with_balls(serve: Serve, rows: Sequence[Sequence[Any]]) -> Serve:
    """The serve with the marks of the ball of such rows."""
    marks: dict[str, tuple[Mark, ...]] = {}
    for _, *cells, by_film, of_contact in rows:
        mark = mark_from(cells)
        if mark is not None:
            of = "contact_film_marks" if of_contact else "film_marks" if by_film else "ball_marks"
            marks[of] = (*marks.get(of, ()), mark)
    return replace(serve, **cast(dict[str, Any], marks))


def _point_cells(point: FloorPoint | None) -> Row:
    if point is None:
        return (None,) * len(_POINT_COLUMNS)
    return (point.x_m, point.y_m, point.cov_xx_m2, point.cov_xy_m2, point.cov_yy_m2)


def _point_from(cells: Sequence[Any]) -> FloorPoint | None:
    return None if cells[0] is None else FloorPoint(*cells)


_SERVE_FIELDS = {
    **dict.fromkeys(
        ("id", "clip_id", "view_id", "player_id", "served_to", "serve_type", "aim", "outcome", "passer_id", "note"),
        "text",
    ),
    "pass_rating": "integer",
    "formation_id": "text",
    "full_pace": "integer",
    "landing_height_m": "real",
    **dict.fromkeys(("target_kind", "reception", "wind_end", "rally"), "text"),
    **dict.fromkeys(("touch_after_s", "touch_sd_s", "hit_after_s", "hit_sd_s"), "real"),
}
"""What a serve keeps in a column of the same name; its marks and places have several each."""
_SERVE_COLUMNS = {
    **_SERVE_FIELDS,
    **{f"{end}_{column}": kind for end in ("contact", "landing") for column, kind in MARK_COLUMNS.items()},
    **{f"{end}_{column}": kind for end in ("contact", "landing") for column, kind in _POINT_COLUMNS.items()},
}
DERIVED_COLUMNS = {f"{end}_{column}" for end in ("contact", "landing") for column in _POINT_COLUMNS} | {
    "touch_after_s",
    "touch_sd_s",
    "hit_after_s",
    "hit_sd_s",
}
"""What is rebuilt from the marks of a serve whenever a view changes."""


def _serve_values(serve: Serve) -> Iterable[object]:
    yield from (getattr(serve, field) for field in _SERVE_FIELDS)
    yield from (*mark_cells(serve.contact), *mark_cells(serve.landing))
    yield from (*_point_cells(serve.contact_point), *_point_cells(serve.landing_point))


def _serve_from(cells: Sequence[Any]) -> Serve:
    rest = iter(cells)
    fields = {field: next(rest) for field in _SERVE_FIELDS}
    fields["full_pace"] = bool(fields["full_pace"])
    return Serve(
        **fields,
        contact=mark_from(list(islice(rest, len(MARK_COLUMNS)))),
        landing=mark_from(list(islice(rest, len(MARK_COLUMNS)))),
        contact_point=_point_from(list(islice(rest, len(_POINT_COLUMNS)))),
        landing_point=_point_from(list(islice(rest, len(_POINT_COLUMNS)))),
    )


def serve_text(serve: Serve) -> str:
    """A whole serve as JSON: its row, and the rows of its marks of the ball."""
    return json.dumps([SERVES.row(serve), ball_cells(serve)])


def serve_from_text(text: str) -> Serve:
    """The serve of such a text."""
    row, balls = read_json(text)
    return with_balls(_serve_from(row), balls)


PLAYERS = plain_table(
    Player,
    "player",
    {
        "id": "text",
        "name": "text",
        "number": "integer",
        "position": "text",
        "hand": "text",
        "standing_reach_m": "real",
        "jump_reach_m": "real",
    },
    "number IS NULL, number, name, rowid",
)


def _shirts(plain: list[list[Any]]) -> tuple[tuple[str, int], ...]:
    shirts = tuple((who, number) for who, number in plain)
    if not all(isinstance(who, str) and type(number) is int for who, number in shirts):
        raise TypeError("shirts are a player's id and a number each")
    return shirts


SEASONS = Table(
    "season",
    dict.fromkeys(("id", "name", "begins", "shirts"), "text"),
    lambda season: (season.id, season.name, season.begins, json.dumps(season.shirts)),
    lambda cells: Season(id=cells[0], name=cells[1], begins=cells[2], shirts=_shirts(read_json(cells[3]))),
    "begins, rowid",
)
GYMS = plain_table(Gym, "gym", dict.fromkeys(("id", "name", "court"), "text"), "name, rowid")
VIEWS = plain_table(
    StoredView,
    "stored_view",
    dict.fromkeys(("id", "gym_id", "name", "made_on", "document"), "text"),
    "made_on, name, rowid",
)
PRACTICES = plain_table(
    Practice,
    "practice",
    dict.fromkeys(("id", "date", "name", "gym_id", "purpose", "target_kind", "formation_id", "wind_end"), "text"),
    "date, name, rowid",
)
NEXT_SERVES = Table(
    "next_serves",
    dict.fromkeys(("id", "practice_id", "view_id", "served_from", "aim", "serve_type", "orders"), "text"),
    lambda chosen: (
        *(chosen.id, chosen.practice_id, chosen.view_id, chosen.end, chosen.aim, chosen.serve_type),
        json.dumps(chosen.orders),
    ),
    lambda cells: NextServes(
        **dict(zip(("id", "practice_id", "view_id", "end", "aim", "serve_type"), cells, strict=False)),
        orders=(texts_of(orders[0]), texts_of(orders[1])) if (orders := read_json(cells[6])) else None,
    ),
    "rowid",
)
CLIPS = plain_table(
    ClipEntry,
    "clip",
    {
        "id": "text",
        "practice_id": "text",
        "path": "text",
        "size_bytes": "integer",
        "fingerprint": "text",
        "view_id": "text",
        "filmed_at_fps": "real",
    },
    "(SELECT date FROM practice WHERE practice.id = clip.practice_id), practice_id, clip.rowid",
)
FORMATIONS = plain_table(StoredFormation, "formation", dict.fromkeys(("id", "name", "document"), "text"), "rowid")
SERVES = Table(
    "serve",
    _SERVE_COLUMNS,
    _serve_values,
    _serve_from,
    "practice.date, practice.name, clip.practice_id, clip.rowid, "
    "coalesce(serve.landing_time_s, serve.contact_time_s, 0.0), serve.rowid",
)

TALLIES = plain_table(
    Tally,
    "tally",
    dict.fromkeys(("id", "date", "player_id", "aim", "serve_type"), "text")
    | dict.fromkeys(("serves", "hits", "full_pace"), "integer"),
    "date, rowid",
)

PLANS = Table(
    "practice_plan",
    dict.fromkeys(("id", "date", "absent", "blocks"), "text"),
    lambda plan: (plan.id, plan.date, json.dumps(plan.absent), json.dumps([vars(block) for block in plan.blocks])),
    lambda cells: PracticePlan(
        id=cells[0],
        date=cells[1],
        absent=texts_of(read_json(cells[2])),
        blocks=tuple(
            require_kinds(PlanBlock(**(block | {"player_ids": tuple(block["player_ids"])})))
            for block in read_json(cells[3])
        ),
    ),
    "date, rowid",
)

_TRIAL_TEXTS = ("id", "name", "drawn_on", "retest_on", "aim")
_TRIAL_PLAYERS = ("tries", "others")
TRIALS = Table(
    "trial",
    dict.fromkeys((*_TRIAL_TEXTS, *_TRIAL_PLAYERS), "text"),
    lambda one: (*(getattr(one, name) for name in _TRIAL_TEXTS), json.dumps(one.tries), json.dumps(one.others)),
    lambda cells: Trial(
        **dict(zip(_TRIAL_TEXTS, cells, strict=False)),
        tries=texts_of(read_json(cells[5])),
        others=texts_of(read_json(cells[6])),
    ),
    "drawn_on, rowid",
)

SEARCHES = Table(
    "serve_search",
    {"id": "text", "served_from": "text", "finished": "integer"},
    lambda search: (search.id, search.served_from, search.finished),
    lambda cells: ServeSearch(id=cells[0], served_from=cells[1], finished=bool(cells[2])),
    "rowid",
)
_PROPOSED_FIELDS = dict.fromkeys(("id", "clip_id", "served_to", "outcome"), "text") | {"landing_height_m": "real"}
"""What a proposal keeps of its serve in a column of the same name; all its marks are one text."""
_PROPOSED_MARKS = ("film_marks", "contact_film_marks")


def _proposal_values(proposal: StoredProposal) -> Iterable[object]:
    serve = proposal.serve
    marks = {
        **{end: mark_cells(getattr(serve, end)) for end in ("contact", "landing")},
        **{several: [mark_cells(mark) for mark in getattr(serve, several)] for several in _PROPOSED_MARKS},
        "flight": [mark_cells(mark) for mark in proposal.flight],
    }
    yield from (getattr(serve, field) for field in _PROPOSED_FIELDS)
    yield from (proposal.confidence, proposal.why, proposal.answer, json.dumps(marks))


def _proposal_from(cells: Sequence[Any]) -> StoredProposal:
    *of_serve, confidence, why, answer, text = cells
    marks = read_json(text)
    found: dict[str, Any] = dict(zip(_PROPOSED_FIELDS, of_serve, strict=True))
    found |= {end: mark_from(marks[end]) for end in ("contact", "landing")}
    found |= {name: _marks_from(marks[name]) for name in _PROPOSED_MARKS}
    return StoredProposal(Serve(**found), _marks_from(marks["flight"]), confidence, why, answer)


def _marks_from(rows: Sequence[Sequence[Any]]) -> tuple[Mark, ...]:
    return tuple(mark for row in rows if (mark := mark_from(row)) is not None)


PROPOSALS = Table(
    "proposal",
    _PROPOSED_FIELDS | {"confidence": "real", "why": "text", "answer": "text", "marks": "text"},
    _proposal_values,
    _proposal_from,
    "rowid",
)

CONSENTS = plain_table(Consent, "consent", dict.fromkeys(("id", *CONSENT_COLUMNS), "text"), "rowid")
MARKERS = plain_table(Marker, "marker", dict.fromkeys(("id", "name"), "text"), "id")
SECOND_MARKS = Table(
    "second_mark",
    dict.fromkeys(("id", "serve_id", "name", "serve"), "text"),
    lambda one: (one.id, one.serve_id, one.name, serve_text(one.serve)),
    lambda cells: SecondMark(id=cells[0], serve_id=cells[1], name=cells[2], serve=serve_from_text(cells[3])),
    "serve_id, id",
)

TABLE_OF: dict[type[Any], Table] = {
    Player: PLAYERS,
    Season: SEASONS,
    Gym: GYMS,
    StoredView: VIEWS,
    Practice: PRACTICES,
    NextServes: NEXT_SERVES,
    ClipEntry: CLIPS,
    StoredFormation: FORMATIONS,
    Serve: SERVES,
    Tally: TALLIES,
    PracticePlan: PLANS,
    Trial: TRIALS,
    ServeSearch: SEARCHES,
    StoredProposal: PROPOSALS,
    Consent: CONSENTS,
    Marker: MARKERS,
    SecondMark: SECOND_MARKS,
}


def parts_of(record: Record) -> tuple[str, tuple[str, ...], list[Row]] | None:
    """The table that holds the parts of a record, its columns (first the record's id) and its rows, without that id.

    None for a record that is one row alone.
    """
    if isinstance(record, Serve):
        return "ball_mark", ("serve_id", *BALL_COLUMNS), ball_cells(record)
    if isinstance(record, Practice):
        orders = (("a", record.order_a), ("b", record.order_b))
        places: list[Row] = [(end, place, player) for end, order in orders for place, player in enumerate(order)]
        return "serving_order", ("practice_id", "served_from", "position", "player_id"), places
    if isinstance(record, ClipEntry):
        views: list[Row] = [(real_cell(from_s, "from_s"), view_id) for from_s, view_id in record.later_views]
        return "clip_view", ("clip_id", "from_s", "view_id"), views
    return None


def table_of(record: Record) -> Table:
    """The table a record lives in.

    Examples
    --------
    >>> table_of(Gym(id="1", name="Hall")).name
    'gym'
    """
    try:
        return TABLE_OF[type(record)]
    except KeyError:
        raise ValueError(f"a logbook keeps no {type(record).__name__}") from None
