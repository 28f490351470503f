"""Every serve of a logbook as one row, with what was judged of it: the table all studies and exports start from."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.view import View
from serve_marker.camera.viewfile import view_from_text
from serve_marker.court.aims import parse_aim
from serve_marker.court.areas import AreaScheme, scheme_from_setting
from serve_marker.court.dimensions import COURTS, Court
from serve_marker.errors import UserError
from serve_marker.logbook.records import ELLIPSE_95, FloorPoint, Mark, Player, Serve, player_words
from serve_marker.logbook.store import Logbook
from serve_marker.marking import is_carried_on, judge_all, served_to
from serve_marker.study.effort import effort_columns
from serve_marker.study.faced import FACED_COLUMNS, faced_columns, formations_of
from serve_marker.study.flown import FLIGHT_COLUMNS, arrays_of, flight_columns, pace_columns, time_scales, timed
from serve_marker.study.settings import settings_of
from serve_marker.study.turns import when_columns

if TYPE_CHECKING:
    import pandas

EXPORT_COLUMNS = (
    *("serve_id", "practice", "date", "server", "serve_type", "aim", "aim_hit", "outcome", "verdict", "half"),
    *("x_m", "y_m", "error_m", "area", "area_sure", "zone", "depth_band", "seam", "line_margin_m", "area_margin_m"),
    *("gap_m", "passer", "pace_mps", "pace_low_mps", "pace_high_mps", "effort", "net_clearance_m", "clip"),
    *("contact_s", "landing_s", "pass_rating", "note"),
)
HELPER_COLUMNS = (
    *("practice_id", "clip_id", "player_id", "number", "name", "purpose", "target_kind", "served_to", "court"),
    *("court_x_m", "court_y_m", "cov_xx", "cov_xy", "cov_yy", "missed", "aim_x_m", "aim_y_m"),
    *("estimated", "full_pace", "effort_of", "formation_id", "formation", "served_from", "turn"),
    *(*FACED_COLUMNS[1:], *FLIGHT_COLUMNS[1:], "flight_s"),
)
Columns = dict[str, Any]
Floats = NDArray[np.float64]


def serve_table(logbook: Logbook, practice_id: str | None = None, with_flights: bool = True) -> pandas.DataFrame:
    """Return one row per serve: EXPORT_COLUMNS in their order, then HELPER_COLUMNS.

    ``with_flights`` solves how each serve flew (FLIGHT_COLUMNS); without, those columns are NaN, which is quicker.

    Numbers that are unknown are NaN, unknown words "", unknown yes-or-no None. ``cov_*`` [m2] and ``aim_x_m``,
    ``aim_y_m`` (centre of the aim) are in the half frame; ``x_m``, ``y_m`` too.
    """
    import pandas as pd

    serves = logbook.serves(practice_id=practice_id)
    settings, views = settings_of(logbook), views_of(logbook, serves)
    courts = [view.court if view else COURTS["indoor"] for view in views]
    columns = _judged(logbook, serves, courts) | _named(logbook, serves) | _measured(serves)
    columns["court"] = [court.name for court in courts]
    in_time = timed(serves, views, time_scales(logbook.clips(), serves))
    columns |= pace_columns(in_time, settings.frames_off)
    if with_flights:
        players = {player.id: player for player in logbook.players()}
        net_heights_m = [view.net_height_m if view else np.nan for view in views]
        columns |= flight_columns(in_time, players, net_heights_m, settings.frames_off)
    else:
        columns |= {name: np.full(len(serves), np.nan) for name in FLIGHT_COLUMNS}
    formations = formations_of(logbook)
    places_m = np.column_stack([columns["x_m"], columns["y_m"]])
    columns |= faced_columns(serves, places_m, columns["flight_s"], courts, formations, settings)
    columns["passer"] = [serve.passer or near for serve, near in zip(serves, columns["nearest"], strict=True)]
    names = {key: formation.name for key, formation in formations.items()}
    columns["formation"] = [names.get(serve.formation_id or "", "") for serve in serves]
    columns |= when_columns(serves, columns["practice_id"], columns["served_to"], courts)
    of = ("player_id", "date", "pace_mps", "full_pace")
    columns |= effort_columns(pd.DataFrame({name: columns[name] for name in of}))
    table = pd.DataFrame({name: _plain(columns[name]) for name in (*EXPORT_COLUMNS, *HELPER_COLUMNS)})
    table.attrs["pace_unit"] = settings.pace_unit
    return table


def _plain(values: Any) -> Any:
    """Words as plain objects, which are read many times faster than what pandas makes of them; numbers as they are."""
    import pandas as pd

    array = np.asarray(values)
    return pd.Series(array, dtype=object) if array.dtype.kind in "OUS" else array


def court_and_scheme(logbook: Logbook, names: Sequence[str] | None = None) -> tuple[Court, AreaScheme]:
    """Return the court most serves of the logbook were hit on, and the areas the team uses on it.

    ``names`` are the names of each serve's court, where they are known already.
    """
    names = [court.name for court in courts_of(logbook, logbook.serves())] if names is None else names
    courts = {view.court.name: view.court for stored in logbook.views() if (view := view_from_text(stored.document))}
    usual = max(Counter(names).items(), key=lambda pair: pair[1])[0] if names else ""
    court = courts.get(usual) or (COURTS["indoor"] if names else _latest_court(logbook))
    return court, scheme_for(logbook, court)


def scheme_for(logbook: Logbook, court: Court) -> AreaScheme:
    """Return the area scheme kept in the logbook, or the court's default."""
    return scheme_from_setting(logbook.get_setting("scheme"), court)


def courts_of(logbook: Logbook, serves: Sequence[Serve]) -> list[Court]:
    """Return each serve's court: its view's, else its clip's view's, else the indoor court."""
    return [view.court if view else COURTS["indoor"] for view in views_of(logbook, serves)]


def views_of(logbook: Logbook, serves: Sequence[Serve]) -> list[View | None]:
    """Return the view each serve was seen through: its own, else its clip's, else None."""
    by_id = {view.id: view_from_text(view.document) for view in logbook.views()}
    by_clip = {clip.id: by_id.get(clip.view_id or "") for clip in logbook.clips()}
    return [by_id.get(serve.view_id or "") or by_clip.get(serve.clip_id) for serve in serves]


def server_words(player: Player | None) -> str:
    """Return how a server is written everywhere: "7 Marit", or the name alone, or "" where unknown.

    Examples
    --------
    >>> server_words(Player(id="p", name="Marit", number=7))
    '7 Marit'
    """
    return player_words(player) if player else ""


def _latest_court(logbook: Logbook) -> Court:
    views = sorted(logbook.views(), key=lambda view: view.made_on)
    return view_from_text(views[-1].document).court if views else COURTS["indoor"]


def _judged(logbook: Logbook, serves: Sequence[Serve], courts: Sequence[Court]) -> Columns:
    alike = {id(court): court for court in courts}
    first_of = {key: id(next(other for other in alike.values() if other == court)) for key, court in alike.items()}
    rows_of: dict[int, list[int]] = defaultdict(list)
    for row, court in enumerate(courts):
        rows_of[first_of[id(court)]].append(row)
    count = len(serves)
    columns: Columns = {
        name: np.full(count, np.nan)
        for name in ("x_m", "y_m", "line_margin_m", "area_margin_m", "aim_x_m", "aim_y_m", "cov_xx", "cov_xy", "cov_yy")
    }
    columns |= {name: np.full(count, "", dtype=object) for name in ("half", "area", "zone", "depth_band", "seam")}
    columns |= {name: np.full(count, "", dtype=object) for name in ("verdict", "missed")}
    columns |= {name: np.full(count, None, dtype=object) for name in ("aim_hit", "area_sure")}
    for key, rows in rows_of.items():
        court = alike[key]
        scheme = scheme_for(logbook, court)
        chosen = [serves[row] for row in rows]
        judged = judge_all(chosen, court, scheme)
        names = {"half_x_m": "x_m", "half_y_m": "y_m"}
        for name in ("half_x_m", "half_y_m", "line_margin_m", "area_margin_m"):
            columns[names.get(name, name)][rows] = judged[name]
        for name in ("half", "area", "zone", "depth_band", "seam", "verdict", "missed"):
            columns[name][rows] = [word or "" for word in judged[name]]
        placed = np.isfinite(np.asarray(judged["half_x_m"], dtype=float))
        columns["area_sure"][rows] = [
            bool(sure) if known else None for sure, known in zip(judged["area_sure"], placed, strict=True)
        ]
        columns["aim_hit"][rows] = [None if hit is None else bool(hit) for hit in judged["aim_hit"]]
        covariances_m2 = np.asarray(judged["cov_half_m2"], dtype=float).reshape(-1, 2, 2)
        for name, (i, j) in {"cov_xx": (0, 0), "cov_xy": (0, 1), "cov_yy": (1, 1)}.items():
            columns[name][rows] = covariances_m2[:, i, j]
        centres_m = _aim_centres_m([serve.aim for serve in chosen], court, scheme)
        columns["aim_x_m"][rows], columns["aim_y_m"][rows] = centres_m[:, 0], centres_m[:, 1]
    return columns


def _aim_centres_m(aims: Sequence[str], court: Court, scheme: AreaScheme) -> Floats:
    centres_m: dict[str, tuple[float, float]] = {}
    for text in set(aims):
        try:
            aim = parse_aim(text, court, scheme)
        except UserError:
            aim = None
        centres_m[text] = aim.centre_m if aim else (np.nan, np.nan)
    return np.array([centres_m[text] for text in aims], dtype=float).reshape(-1, 2)


def _named(logbook: Logbook, serves: Sequence[Serve]) -> Columns:
    players = {player.id: player for player in logbook.players()}
    practices = {practice.id: practice for practice in logbook.practices()}
    clips = {clip.id: clip for clip in logbook.clips()}
    file_names = {clip_id: PurePath(clip.path).name for clip_id, clip in clips.items()}
    clip_of = [clips.get(serve.clip_id) for serve in serves]
    practice_of = [practices.get(clip.practice_id) if clip else None for clip in clip_of]
    player_of = [players.get(serve.player_id or "") for serve in serves]
    return {
        "serve_id": [serve.id for serve in serves],
        "clip_id": [serve.clip_id for serve in serves],
        "clip": [file_names.get(serve.clip_id, "") for serve in serves],
        "practice_id": [practice.id if practice else "" for practice in practice_of],
        "practice": [practice.name if practice else "" for practice in practice_of],
        "date": [practice.date if practice else "" for practice in practice_of],
        "purpose": [practice.purpose if practice else "" for practice in practice_of],
        "target_kind": [practice.target_kind if practice else "" for practice in practice_of],
        "player_id": [serve.player_id or "" for serve in serves],
        "server": [server_words(player) for player in player_of],
        "number": [np.nan if player is None or player.number is None else player.number for player in player_of],
        "name": [player.name if player else "" for player in player_of],
    }


def _measured(serves: Sequence[Serve]) -> Columns:
    points = [serve.landing_point for serve in serves]
    return {
        "serve_type": [serve.serve_type for serve in serves],
        "aim": [serve.aim for serve in serves],
        "outcome": [serve.outcome for serve in serves],
        "estimated": [is_carried_on(serve) for serve in serves],
        "full_pace": [serve.full_pace for serve in serves],
        "formation_id": [serve.formation_id or "" for serve in serves],
        "note": [serve.note for serve in serves],
        "pass_rating": [np.nan if serve.pass_rating is None else serve.pass_rating for serve in serves],
        "served_to": [served_to(serve) or "" for serve in serves],
        "court_x_m": [np.nan if point is None else point.x_m for point in points],
        "court_y_m": [np.nan if point is None else point.y_m for point in points],
        "error_m": _errors_m(points),
        "contact_s": [_time_s(serve.contact) for serve in serves],
        "landing_s": [_time_s(serve.landing) for serve in serves],
    }


def _time_s(mark: Mark | None) -> float:
    return np.nan if mark is None else mark.time_s


def _errors_m(points: Sequence[FloorPoint | None]) -> Floats:
    _, covariances_m2 = arrays_of(points)
    xx, xy, yy = covariances_m2[:, 0, 0], covariances_m2[:, 0, 1], covariances_m2[:, 1, 1]
    longest_m2 = (xx + yy) / 2 + np.hypot((xx - yy) / 2, xy)
    return np.asarray(ELLIPSE_95 * np.sqrt(np.maximum(longest_m2, 0.0)))
