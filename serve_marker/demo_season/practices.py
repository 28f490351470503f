"""The invented season as records of a logbook, beside what is filmed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.court.formations import Formation
from serve_marker.demo_season.attempts import DrawnServes, drawn
from serve_marker.demo_season.endings import ended
from serve_marker.demo_season.flights import DrawnFlights, flown
from serve_marker.demo_season.marks import marked
from serve_marker.demo_season.scenario import Evening, SeasonScenario
from serve_marker.logbook.records import ClipEntry, Player, Practice, Serve, StoredFormation, StoredView, Tally, new_id
from serve_marker.marking.landing import place_all
from serve_marker.study.stored_formations import formation_record

if TYPE_CHECKING:
    from serve_marker.logbook.store import Logbook

CLIP_NAME = "without film, invented {date}.mp4"
"""It says what it is, and stands after the filmed clips of its practice."""


def players_of(season: SeasonScenario) -> list[Player]:
    """Return the team, each with a fresh id."""
    return [Player(id=new_id(), **plain) for plain in season.players]


def served(
    season: SeasonScenario,
    evening: Evening,
    view: View,
    common: Serve,
    players: Sequence[Player],
    formations: Sequence[StoredFormation],
) -> tuple[list[Serve], DrawnServes, DrawnFlights]:
    """Return the placed serves of an evening, and as what they were drawn; the same each time."""
    rng = np.random.default_rng((season.seed, season.evenings.index(evening)))
    attempts = drawn(season, evening, view.court, rng)
    flights = flown(attempts, {player.name: player for player in players}, view.court, view.net_height_m, rng)
    standing = {plain["name"]: Formation.from_dict(plain) for plain in season.formations}
    endings = ended(attempts, flights, evening, standing, view.court, rng)
    player_ids, formation_ids = ({one.name: one.id for one in records} for records in (players, formations))
    serves = marked(evening, attempts, flights, endings, view, common, player_ids, formation_ids, rng)
    return place_all(serves, view), attempts, flights


def add_season(logbook: Logbook, season: SeasonScenario, clips: Path) -> None:
    """Add the season's formations, its practices with their serves, and what was counted beside the court.

    Views and players are in the logbook already, and so are the filmed practices, which get further serves.
    """
    players, views = logbook.players(), {view.name: view for view in logbook.views()}
    formations = _formations(season, players)
    logbook.put(*formations)
    for evening in season.evenings:
        _add_evening(logbook, season, evening, clips, players, formations, views[evening.view])
    ids = {player.name: player.id for player in players}
    logbook.put(*(Tally(id=new_id(), player_id=ids[name], **counts) for name, counts in season.counted.items()))


def _formations(season: SeasonScenario, players: Sequence[Player]) -> list[StoredFormation]:
    ids = {player.name: player.id for player in players}
    found = []
    for plain in season.formations:
        formation = Formation.from_dict(plain)
        standing = tuple(replace(passer, player_id=ids.get(passer.name, "")) for passer in formation.passers)
        found.append(formation_record(new_id(), replace(formation, passers=standing)))
    return found


def _add_evening(
    logbook: Logbook,
    season: SeasonScenario,
    evening: Evening,
    clips: Path,
    players: Sequence[Player],
    formations: Sequence[StoredFormation],
    view: StoredView,
) -> None:
    formation_ids: Mapping[str, str] = {formation.name: formation.id for formation in formations}
    filmed = next((practice for practice in logbook.practices() if practice.date == evening.date), None)
    last = evening.blocks[-1]
    practice = filmed or Practice(
        id=new_id(),
        date=evening.date,
        name=evening.practice,
        gym_id=view.gym_id,
        target_kind=evening.target_kind_of(last),
        order_b=tuple(player.id for player in players if player.name not in evening.absent),
    )
    practice = replace(practice, formation_id=formation_ids.get(evening.filmed_passers or last.passers))
    path = clips / CLIP_NAME.format(date=evening.date)
    clip = ClipEntry(
        id=new_id(), practice_id=practice.id, path=str(path), size_bytes=0, fingerprint="", view_id=view.id
    )
    common = Serve(id="", clip_id=clip.id, view_id=view.id)
    serves, _, _ = served(season, evening, view_from_text(view.document), common, players, formations)
    standing = formation_ids.get(evening.filmed_passers)
    on_film = [replace(serve, formation_id=standing) for serve in logbook.serves(practice_id=practice.id)]
    logbook.put(practice, clip, *on_film, *serves)
