"""Every serve of a logbook as one row, with what was judged of it: the table all studies and exports start from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.fitting.repeatability import OWN_CLICK, own_frames_off
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.court.aims import Aim, parse_aim
from serve_marker.court.areas import AreaScheme, scheme_from_setting
from serve_marker.court.dimensions import COURTS, Court, Floats
from serve_marker.court.reception import Playable
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, Player, player_words
from serve_marker.logbook.seasons import players_at, season_at
from serve_marker.logbook.serve_arrays import Columns
from serve_marker.logbook.store import Logbook
from serve_marker.marking.judging import JUDGED_BY, judge_columns
from serve_marker.study.effort import EFFORT_BY, effort_columns
from serve_marker.study.flight_columns import (
    Timed,
    carried_on,
    flight_columns,
    pace_columns,
    time_scales,
    timed,
    unknown_flights,
)
from serve_marker.study.groups import Coded, Rows, coded, looked_up, rows_of, where_known
from serve_marker.study.intraclass import EVENING_COLUMNS, codes_of, intraclass_correlations
from serve_marker.study.position_columns import when_columns
from serve_marker.study.rates import aim_hit_mask, good_mask
from serve_marker.study.reception_columns import playable_of, reception_columns
from serve_marker.study.settings import StudySettings, settings_of
from serve_marker.study.stored_formations import formations_of, passer_names

if TYPE_CHECKING:
    import pandas

JUDGED_NUMBERS = ("x_m", "y_m", "error_m", "line_margin_m", "area_margin_m")
JUDGED_WORDS = ("half", "area", "zone", "depth_band", "seam", "verdict", "missed")
JUDGED_BITS = ("areas_may", "bands_may", "seams_may")
JUDGED_SURE = ("seam_sure", "aim_surely", "aim_may")
WINDS = ("with the wind", "against the wind")
PLAIN_COLUMNS = (
    *("serve_type", "aim", "outcome", "reception", "rally", "target_kind", "formation_id", "note", "pass_rating"),
)
AIM_CENTRE = ("aim_x_m", "aim_y_m")


@dataclass(frozen=True, eq=False)
class FlightsPending:
    """A serve table whose flights are not solved yet, which takes longer than all the rest; FLIGHT_COLUMNS are NaN,
    and nothing is known of the passers but who stood nearest to the landing.

    ``received`` gives FACED_COLUMNS of solved flights, ``passers`` (N,) are those whom the coach named.
    """

    table: pandas.DataFrame
    in_time: Timed
    players: Mapping[str, Player]
    net_heights_m: Floats
    settings: StudySettings
    frames_off: int
    received: Callable[[Playable], dict[str, Any]]
    passers: NDArray[Any]

    def with_flights(self) -> pandas.DataFrame:
        """Return the table with every flight solved."""
        moves = self.settings.movement
        played_m = moves.lowest_m, moves.highest_m
        solved = flight_columns(self.in_time, self.players, self.net_heights_m, self.frames_off, played_m)
        asked = self.received(playable_of(solved, self.table["half"].to_numpy(dtype=object)))
        asked["passer"] = np.where(self.passers != "", self.passers, asked["nearest"])
        return self.table.assign(**solved, **{name: _plain(cells) for name, cells in asked.items()})


def serve_table(logbook: Logbook, *practice_ids: str) -> pandas.DataFrame:
    """Return one row per serve of practices, or of all, with what docs/glossary.md explains and charts need besides.

    Numbers that are unknown are NaN, unknown words "", unknown yes-or-no None. ``cov_*`` [m2] and ``aim_x_m``,
    ``aim_y_m`` (centre of the aim) are in the half frame; ``x_m``, ``y_m`` too.
    """
    return table_without_flights(logbook, *practice_ids).with_flights()


def table_without_flights(
    logbook: Logbook, *practice_ids: str, before: pandas.DataFrame | None = None
) -> FlightsPending:
    """As `serve_table`, with how the serves flew left for later; ``before`` are paces of earlier days, EFFORT_BY."""
    import pandas as pd

    raw = logbook.serve_columns(*practice_ids)
    count = len(raw["id"])
    frames_off = own_frames_off(logbook.get_setting(OWN_CLICK))
    settings, clips = settings_of(logbook), {clip.id: clip for clip in logbook.clips()}
    views = {view.id: view_from_text(view.document) for view in logbook.views()}
    seen = _seen(raw, views, clips)
    courts = _courts(seen, count)
    columns = _named(logbook, raw, clips) | _judged(logbook, raw, courts)
    for name in PLAIN_COLUMNS:
        columns[name] = raw[name]
    columns |= {"contact_s": raw["contact_time_s"], "landing_s": raw["landing_time_s"]}
    columns |= {"court_x_m": raw["landing_x_m"], "court_y_m": raw["landing_y_m"]}
    columns |= {"estimated": carried_on(raw), "full_pace": raw["full_pace"] == 1}
    in_time = timed(raw, seen, time_scales(list(clips.values()), raw))
    columns |= pace_columns(in_time, frames_off) | unknown_flights(count)
    formations = formations_of(logbook)
    places_m = np.column_stack([columns["x_m"], columns["y_m"]])
    received = partial(reception_columns, raw["formation_id"], places_m, courts, formations, settings)
    columns |= received()
    called = passer_names(logbook.players())
    passers = looked_up(raw["passer_id"], lambda key: called.get(key, ""))
    columns["passer"] = np.where(passers != "", passers, columns["nearest"])
    names = {key: formation.name for key, formation in formations.items()}
    columns["formation"] = looked_up(raw["formation_id"], lambda key: names.get(key, ""))
    columns["court"], widths_m = np.full(count, "", dtype=object), np.full(count, np.nan)
    for court, rows in courts:
        columns["court"][rows], widths_m[rows] = court.name, court.width_m
    told = (raw["wind_end"] != "") & (columns["served_to"] != "")
    columns["wind"] = np.where(told, np.where(raw["wind_end"] == columns["served_to"], *WINDS[::-1]), "")
    columns["evening"] = codes_of(columns, EVENING_COLUMNS)
    known = (columns["player_id"] != "") & (columns["practice_id"] != "")
    columns |= when_columns(raw["contact_x_m"], columns["evening"], known, columns["served_to"], widths_m)
    columns |= effort_columns(pd.DataFrame({name: columns[name] for name in EFFORT_BY}), before)
    table = pd.DataFrame({name: _plain(cells) for name, cells in columns.items()})
    hit = np.where(table["aim"] != "", aim_hit_mask(table), good_mask(table))
    table.attrs |= {"pace_unit": settings.pace_unit, "best_pass": settings.best_pass, "frames_off": frames_off}
    table.attrs["rho"] = intraclass_correlations(table, hit)
    net_heights_m = np.full(count, np.nan)
    for view, rows in seen:
        net_heights_m[rows] = view.net_height_m
    players = {player.id: player for player in logbook.players()}
    return FlightsPending(table, in_time, players, net_heights_m, settings, frames_off, received, passers)


def _plain(values: NDArray[Any]) -> Any:
    """Words as plain objects, which are read many times faster than what pandas makes of them; numbers as they are."""
    import pandas as pd

    return pd.Series(values, dtype=object) if values.dtype.kind in "OUS" else values


def court_and_scheme(logbook: Logbook, names: Sequence[str]) -> tuple[Court, AreaScheme]:
    """Return the court most serves of the logbook were hit on, and the areas the team uses on it.

    ``names`` are the names of each serve's court.
    """
    courts = {view.court.name: view.court for stored in logbook.views() if (view := view_from_text(stored.document))}
    usual = max(Counter(names).items(), key=lambda pair: pair[1])[0] if len(names) else ""
    court = courts.get(usual) or (COURTS["indoor"] if len(names) else _latest_court(logbook))
    return court, scheme_for(logbook, court)


def scheme_for(logbook: Logbook, court: Court) -> AreaScheme:
    """Return the area scheme kept in the logbook, or the court's default."""
    return scheme_from_setting(logbook.get_setting("scheme"), court)


def server_words(player: Player | None) -> str:
    """Return how a server is written everywhere: "7 Marit", or the name alone, or "" where unknown.

    Examples
    --------
    >>> server_words(Player(id="p", name="Marit", number=7))
    '7 Marit'
    """
    return player_words(player) if player else ""


def _server_among(players: Mapping[str, Player], player_id: str) -> str:
    return server_words(players.get(player_id))


def _latest_court(logbook: Logbook) -> Court:
    views = sorted(logbook.views(), key=lambda view: view.made_on)
    return view_from_text(views[-1].document).court if views else COURTS["indoor"]


def _seen(raw: Columns, views: Mapping[str, View], clips: Mapping[str, ClipEntry]) -> list[tuple[View, Rows]]:
    """The views with the rows of the serves seen through each: a serve's own, else its clip's."""
    view_ids = raw["view_id"].copy()
    unseen = ~looked_up(view_ids, views.__contains__, bool)
    by_clip = looked_up(raw["clip_id"], lambda clip_id: clips[clip_id].view_id or "" if clip_id in clips else "")
    view_ids[unseen] = by_clip[unseen]
    return [(views[view_id], rows) for view_id, rows in rows_of(view_ids).items() if view_id in views]


def _courts(seen: Sequence[tuple[View, Rows]], count: int) -> list[tuple[Court, Rows]]:
    """The courts with the rows of the serves hit on each: their view's, else the indoor court."""
    unseen = np.ones(count, dtype=bool)
    for _, rows in seen:
        unseen[rows] = False
    parts: dict[Court, list[Rows]] = {}
    for court, rows in [*((view.court, rows) for view, rows in seen), (COURTS["indoor"], np.flatnonzero(unseen))]:
        if len(rows):
            parts.setdefault(court, []).append(rows)
    return [(court, np.sort(np.concatenate(rows))) for court, rows in parts.items()]


def _judged(logbook: Logbook, raw: Columns, courts: Sequence[tuple[Court, Rows]]) -> dict[str, NDArray[Any]]:
    count = len(raw["id"])
    columns = {name: np.full(count, np.nan) for name in (*JUDGED_NUMBERS, "cov_xx", "cov_xy", "cov_yy", *AIM_CENTRE)}
    columns |= {name: np.full(count, "", dtype=object) for name in JUDGED_WORDS}
    columns |= {name: np.zeros(count, dtype=np.int64) for name in JUDGED_BITS}
    columns |= {name: np.zeros(count, dtype=bool) for name in (*JUDGED_SURE, "aim_has_depth")}
    columns |= {name: np.full(count, None, dtype=object) for name in ("aim_hit", "area_sure")}
    for court, rows in courts:
        scheme = scheme_for(logbook, court)
        chosen = {name: raw[name][rows] for name in JUDGED_BY}
        judged = judge_columns(chosen, court, scheme)
        judged |= {"x_m": judged["half_x_m"], "y_m": judged["half_y_m"]}
        names = (*JUDGED_NUMBERS, *JUDGED_WORDS, *JUDGED_BITS, *JUDGED_SURE, "aim_hit")
        for name in names:
            columns[name][rows] = judged[name]
        columns["area_sure"][rows] = where_known(judged["area_sure"], np.isfinite(judged["x_m"]))
        for name, (i, j) in {"cov_xx": (0, 0), "cov_xy": (0, 1), "cov_yy": (1, 1)}.items():
            columns[name][rows] = judged["cov_half_m2"][:, i, j]
        aims = {text: _aim(text, court, scheme) for text in dict.fromkeys(chosen["aim"])}
        for number, name in enumerate(AIM_CENTRE):
            places_m = {text: aim.centre_m[number] if aim else np.nan for text, aim in aims.items()}
            columns[name][rows] = looked_up(chosen["aim"], places_m.__getitem__, float)
        has_depth = {text: aim is not None and aim.has_depth for text, aim in aims.items()}
        columns["aim_has_depth"][rows] = looked_up(chosen["aim"], has_depth.__getitem__, bool)
    columns["served_to"] = columns["half"]
    return columns


def _aim(text: str, court: Court, scheme: AreaScheme) -> Aim | None:
    try:
        return parse_aim(text, court, scheme)
    except UserError:
        return None


def _named(logbook: Logbook, raw: Columns, clips: Mapping[str, ClipEntry]) -> dict[str, NDArray[Any]]:
    players = {player.id: player for player in logbook.players()}
    practices = {practice.id: practice for practice in logbook.practices()}
    practice_of = {clip.id: practices.get(clip.practice_id) for clip in clips.values()}
    columns = {"serve_id": raw["id"], "clip_id": raw["clip_id"], "player_id": raw["player_id"]}
    by_clip, by_player = coded(raw["clip_id"]), coded(raw["player_id"])
    columns["clip"] = by_clip.looked_up(lambda key: clips[key].file_name if key in clips else "")

    def of_practice(field: str) -> NDArray[Any]:
        return by_clip.looked_up(lambda key: getattr(practice_of.get(key), field, ""))

    columns |= {name: of_practice(name) for name in ("date", "purpose")}
    columns |= {"practice_id": of_practice("id"), "practice": of_practice("name")}
    for name in ("name", "hand", "position"):
        columns[name] = _of_players(players, by_player, name, "")
    return columns | _shirts(logbook, list(players.values()), raw["player_id"], columns["date"])


def _of_players(players: Mapping[str, Player], by_player: Coded, field: str, unknown: Any) -> NDArray[Any]:
    return by_player.looked_up(lambda key: getattr(players.get(key), field, unknown))


def _shirts(
    logbook: Logbook, players: Sequence[Player], player_ids: NDArray[Any], dates: NDArray[Any]
) -> dict[str, NDArray[Any]]:
    """Server and number (N,) as they were in the season of each serve, and its name."""
    seasons = logbook.seasons()
    server, number = np.full(len(dates), "", dtype=object), np.full(len(dates), np.nan)
    by_date = coded(dates)
    season = by_date.looked_up(lambda date: getattr(season_at(seasons, date), "name", ""))
    begun = by_date.looked_up(lambda date: getattr(season_at(seasons, date), "begins", ""))
    for begins, rows in rows_of(begun).items():
        then = {player.id: player for player in players_at(players, seasons, begins)}
        by_player = coded(player_ids[rows])
        server[rows] = by_player.looked_up(partial(_server_among, then))
        number[rows] = _of_players(then, by_player, "number", None).astype(float)
    return {"server": server, "number": number, "season": season}
