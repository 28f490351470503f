"""A table of marks (MARKS.csv) into a logbook: the same records as the window makes, all of them or none.

The columns are those of the command line's contract; their order is free.
"""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from serve_marker.errors import UserError
from serve_marker.logbook.any_record import Record
from serve_marker.logbook.clip_places import may_open
from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.outcomes import OUTCOMES, RECEPTIONS
from serve_marker.logbook.practice_of_clip import UNNAMED_PRACTICE
from serve_marker.logbook.records import (
    SERVE_TYPES,
    TARGET_KINDS,
    ClipEntry,
    Gym,
    Mark,
    Player,
    Practice,
    Season,
    Serve,
    StoredView,
    new_id,
    number_name,
)
from serve_marker.logbook.seasons import ended_season_at, players_at, with_shirt
from serve_marker.marking.filming_day import filming_day
from serve_marker.marking.marks_csv import Line, quoted, read_table
from serve_marker.plain_json import read_json

if TYPE_CHECKING:
    from serve_marker.camera.view.view import View
    from serve_marker.logbook.store import Logbook
    from serve_marker.video.clip import Clip
    from serve_marker.video.progress import Progress

DEFAULT_GYM = "Gym"
HIGHEST_SHIRT_NUMBER = 999
BESIDE_LINES = ("reference", "own_click_sd_px", "click_frames_off", "misfit_sd_px", "crossing_misfit_sd_px")
"""What a view's text holds beside its lines: the picture of its place, and what is known of the hand."""
_R = TypeVar("_R", Gym, StoredView, Practice, ClipEntry)


def import_marks(
    logbook: Logbook,
    csv_path: str | Path,
    clip: Clip,
    view: View,
    view_text: str,
    practice_name: str = UNNAMED_PRACTICE,
    date: str = "",
    best_pass: int = 3,
    from_film: bool = True,
    progress: Progress | None = None,
) -> int:
    """Read a table of marks made on a clip into a logbook, in one transaction, and return how many serves it held.

    Parameters
    ----------
    logbook : where the serves go; practice, gym, view, clip and players are found there or added.
    csv_path : the table, UTF-8.
    clip : the opened clip the frames count on.
    view : the view that turns pixels into floor points.
    view_text : the view as the text of a view file, which is what the logbook keeps.
    practice_name, date : which practice; the date as YYYY-MM-DD. Without one, the date the clip has here
        already, else the day it was filmed on.
    best_pass : the best rating of the team's scale.
    from_film : the film around landings and contacts is looked at, and sharpens them where it tells touch or hit.
    progress : hears how many landings have been looked at.

    Raises
    ------
    UserError
        Where anything is wrong, naming line and column; then nothing was written.
    """
    from serve_marker.camera.fitting.repeatability import OWN_CLICK, text_clicked_by
    from serve_marker.camera.view.viewfile import view_from_text
    from serve_marker.marking.film_sharpening import with_film_marks
    from serve_marker.marking.landing import place_all

    if tuple(view.image_size) != (clip.width, clip.height):
        raise UserError(
            f"The view is for {view.image_size[0]} × {view.image_size[1]} pixels, but "
            f"{Path(clip.path).name} has {clip.width} × {clip.height}. Choose the view made for this clip."
        )
    lines = read_table(csv_path)
    if not lines:
        raise UserError(
            f"{Path(csv_path).name} holds no serves; write one serve on each line below the columns' names."
        )
    with logbook.one_change():
        view_text = text_clicked_by(logbook.get_setting(OWN_CLICK), view_text)
        setting = _Setting(logbook, clip, view_text, practice_name.strip() or UNNAMED_PRACTICE, _checked_date(date))
        roster = _Roster(logbook.players(), logbook.seasons(), setting.practice.date)
        reader = _ServeReader(clip, view, logbook.get_setting("scheme"), best_pass, setting.practice.target_kind)
        marked = [
            replace(
                reader.serve(line, setting.clip_entry.id, roster.player(line, "server"), roster.player(line, "passer")),
                view_id=setting.stored_view.id,
            )
            for line in lines
        ]
        kept = {_told_apart(serve) for serve in logbook.serves(clip_id=setting.clip_entry.id)}
        timed = [serve for serve in marked if serve.contact or serve.landing]
        if timed and all(_told_apart(serve) in kept for serve in timed):
            raise UserError(
                f"{logbook.path.name} already holds every serve of {Path(csv_path).name}; nothing was read in again."
            )
        view = view_from_text(setting.stored_view.document, setting.stored_view.name)
        time_scale = clip.time_scale(setting.clip_entry.filmed_at_fps)
        serves = place_all(marked, view, time_scale)
        _require_floor(lines, serves)
        if from_film:
            serves = place_all(with_film_marks(serves, view, clip, time_scale, progress), view, time_scale)
        logbook.put(*roster.added, *roster.seasons_changed(), *setting.changes, *serves)
    return len(serves)


def _require_floor(lines: Sequence[Line], serves: Sequence[Serve]) -> None:
    for line, serve in zip(lines, serves, strict=True):
        if serve.outcome == "floor" and serve.landing and serve.landing.pixel and serve.landing_point is None:
            line.refuse("landing_y_px", "this pixel shows no floor; mark where the ball touched it")


def _told_apart(serve: Serve) -> tuple[object, ...]:
    return serve.player_id, serve.outcome, serve.contact, serve.landing


def _checked_date(date: str) -> str:
    try:
        if not date or datetime.date.fromisoformat(date).isoformat() == date:
            return date
    except ValueError:
        pass
    raise UserError(f"The date {quoted(date)} is not a day written as YYYY-MM-DD; write it like 2026-03-14.")


class _Roster:
    """The players known, and those the table adds."""

    def __init__(self, players: Sequence[Player], seasons: Sequence[Season], date: str) -> None:
        self._players = players_at(players, seasons, date)
        self._ended = ended_season_at(seasons, date)
        self.added: list[Player] = []

    def seasons_changed(self) -> list[Season]:
        """The season of the table, where it has ended and the table adds numbers to it."""
        return [self._ended] if self._ended is not None and self.added else []

    def player(self, line: Line, column: str) -> Player | None:
        """The player a cell names, "server" or "passer"; one nobody knows is added."""
        text = line.text(column)
        if not text:
            return None
        number = self._shirt_number(line, column, text)
        if number is not None:
            found = [player for player in self._players if player.number == number]
        else:
            written = text.casefold()
            found = [player for player in self._players if written in _names(player)]
        if len(found) > 1:
            line.refuse(column, f"{quoted(text)} fits {len(found)} players; write the name or number of one of them")
        return found[0] if found else self._add(text, number)

    @staticmethod
    def _shirt_number(line: Line, column: str, text: str) -> int | None:
        if not re.fullmatch(r"[+-]?\d+([.,]\d*)?", text):
            return None
        return line.whole_number_in(column, 0, HIGHEST_SHIRT_NUMBER)

    def _add(self, text: str, number: int | None) -> Player:
        player = Player(id=new_id(), name=text if number is None else number_name(number), number=number)
        self._players.append(player)
        if self._ended is not None and number is not None:
            self._ended = with_shirt(self._ended, player, number)
            player = replace(player, number=None)
        self.added.append(player)
        return player


def _names(player: Player) -> tuple[str, str]:
    name = player.name.casefold()
    return name, f"{player.number} {name}"


class _Setting:
    """Gym, stored view, practice and clip entry: found in the logbook, or made. ``changes`` are those not there yet."""

    def __init__(self, logbook: Logbook, clip: Clip, view_text: str, practice_name: str, date: str) -> None:
        self.changes: list[Record] = []
        self._path = Path(clip.path)
        self._size_and_fingerprint = fingerprint(self._path)
        gyms, views, practices = logbook.gyms(), logbook.views(), logbook.practices()
        date = date or self._day_of_clip(logbook, practices, practice_name)
        practice = next((known for known in practices if (known.name, known.date) == (practice_name, date)), None)
        lines = _lines_in(view_text)
        view = next((known for known in views if lines and _lines_in(known.document) == lines), None)
        if view is not None and (document := _with_picture(view.document, view_text)) != view.document:
            view = self._changed(replace(view, document=document))

        gym_id = (practice and practice.gym_id) or (view and view.gym_id) or self._gym_id(gyms)
        self.stored_view = view or self._changed(
            StoredView(id=new_id(), gym_id=gym_id, name=self._path.stem, made_on=date, document=view_text)
        )
        self.practice = practice or Practice(id=new_id(), date=date, name=practice_name)
        if self.practice.gym_id is None:
            self.practice = self._changed(replace(self.practice, gym_id=gym_id))
        self.clip_entry = self._clip_entry(logbook)

    def _day_of_clip(self, logbook: Logbook, practices: Sequence[Practice], practice_name: str) -> str:
        for practice in practices:
            if practice.name == practice_name and any(map(self._same_film, logbook.clips(practice.id))):
                return practice.date
        return filming_day(self._path)

    def _same_film(self, entry: ClipEntry) -> bool:
        return (entry.size_bytes, entry.fingerprint) == self._size_and_fingerprint

    def _changed(self, record: _R) -> _R:
        self.changes.append(record)
        return record

    def _gym_id(self, gyms: Sequence[Gym]) -> str:
        usual = next((gym for gym in gyms if gym.name == DEFAULT_GYM), None)
        return (usual or self._changed(Gym(id=new_id(), name=DEFAULT_GYM))).id

    def _clip_entry(self, logbook: Logbook) -> ClipEntry:
        place = str(self._path.absolute())
        size_bytes, digest = self._size_and_fingerprint
        for entry in logbook.clips(self.practice.id):
            if self._same_film(entry):
                moved = not (may_open(logbook, entry.path) and Path(entry.path).exists())
                known = replace(
                    entry, path=place if moved else entry.path, view_id=entry.view_id or self.stored_view.id
                )
                return known if known == entry else self._changed(known)
        return self._changed(
            ClipEntry(
                id=new_id(),
                practice_id=self.practice.id,
                path=place,
                size_bytes=size_bytes,
                fingerprint=digest,
                view_id=self.stored_view.id,
            )
        )


def _lines_in(view_text: str) -> dict[str, object]:
    """What a view's text says of the court, without the picture and the hand's error kept with it; {} where damaged."""
    try:
        plain = dict(read_json(view_text))
    except (ValueError, TypeError):
        return {}
    return {key: value for key, value in plain.items() if key not in BESIDE_LINES}


def _with_picture(kept_text: str, view_text: str) -> str:
    """The text of a view kept in the logbook, with the picture that came with another where it has none."""
    kept, read = read_json(kept_text), read_json(view_text)
    if "reference" in kept or "reference" not in read:
        return kept_text
    return json.dumps(kept | {"reference": read["reference"]}, indent=1, allow_nan=False)


class _ServeReader:
    """Cells of a line to a serve with raw marks."""

    def __init__(self, clip: Clip, view: View, scheme_text: str, best_pass: int, target_kind: str) -> None:
        from serve_marker.court.areas import scheme_from_setting

        self._clip = clip
        self._court = view.court
        self._scheme = scheme_from_setting(scheme_text, view.court)
        self._best_pass = best_pass
        self._target_kind = target_kind
        self._aims = {"": ""}

    def serve(self, line: Line, clip_id: str, server: Player | None, passer: Player | None) -> Serve:
        contact = self._mark(line, "contact")
        landing = self._mark(line, "landing")
        if contact and landing and landing.time_s < contact.time_s:
            line.refuse("landing_frame", f"{line.text('landing_frame')} comes before the contact")
        outcome = line.word("outcome", OUTCOMES)
        reception = line.word("reception", RECEPTIONS)
        if reception and outcome != "received":
            line.refuse("reception", f"{reception} is said of a ball whose outcome is {outcome}, not received")
        return Serve(
            id=new_id(),
            clip_id=clip_id,
            player_id=server.id if server else None,
            serve_type=line.word("serve_type", ("", *SERVE_TYPES)),
            aim=self._aim(line),
            outcome=outcome,
            contact=contact,
            landing=landing,
            pass_rating=line.whole_number_in("pass_rating", 0, self._best_pass),
            passer_id=passer.id if passer else None,
            reception=reception,
            target_kind=line.word("target_kind", ("", *TARGET_KINDS)) or self._target_kind,
            note=line.text("note"),
        )

    def _aim(self, line: Line) -> str:
        from serve_marker.court.aims import parse_aim

        text = line.text("aim")
        if text not in self._aims:
            try:
                aim = parse_aim(text, self._court, self._scheme)
            except UserError as error:
                raise UserError(f"Line {line.number}, aim: {error}") from None
            self._aims[text] = aim.text if aim else ""
        return self._aims[text]

    def _mark(self, line: Line, event: str) -> Mark | None:
        """The mark of a frame; pixels corrected for lens bend may lie up to half a picture outside."""
        frame = line.whole_number_in(f"{event}_frame", 0, self._clip.frame_count - 1)
        x_px = line.number_in(f"{event}_x_px", -0.5 * self._clip.width, 1.5 * self._clip.width)
        y_px = line.number_in(f"{event}_y_px", -0.5 * self._clip.height, 1.5 * self._clip.height)
        if (x_px is None) != (y_px is None):
            line.refuse(f"{event}_{'x' if x_px is None else 'y'}_px", "a pixel needs both x and y")
        if frame is None:
            if x_px is not None:
                line.refuse(f"{event}_frame", "a pixel needs the frame it was marked on")
            return None
        pixel = None if x_px is None or y_px is None else (x_px, y_px)
        gap_before_s, gap_after_s = self._clip.gaps_s(frame)
        return Mark(float(self._clip.time_s(frame)), pixel, float(gap_before_s), float(gap_after_s))
