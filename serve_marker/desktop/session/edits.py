"""The edits that can be undone: to serves, to other records, to a clip's rate; `view_edits` has those of its view.

An edit is a plain object that knows neither the window nor the undo stack. The workspace writes it to the logbook
first, in one transaction, and only then moves the undo stack; so a refused write (full disk, read-only folder, another
window's work) leaves both as they were.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Self

from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.desktop.session.serving_order import ServingOrder
from serve_marker.errors import UserError
from serve_marker.logbook.any_record import Record
from serve_marker.logbook.consents import Consent
from serve_marker.logbook.records import (
    ClipEntry,
    Gym,
    Player,
    Practice,
    PracticePlan,
    Season,
    Serve,
    StoredFormation,
    Tally,
    Trial,
)
from serve_marker.logbook.store import Logbook
from serve_marker.marking.landing import place_all

ServePair = tuple[Serve | None, Serve | None]
SeasonPair = tuple[Season | None, Season]
RecordPair = (
    tuple[Player | None, Player | None]
    | tuple[Practice, Practice]
    | tuple[Gym, Gym]
    | SeasonPair
    | tuple[None, StoredFormation]
    | tuple[Tally | None, Tally | None]
    | tuple[PracticePlan | None, PracticePlan | None]
    | tuple[Trial | None, Trial | None]
    | tuple[Consent | None, Consent | None]
)
TimeScale = Callable[[float | None], float]
"""What a clip's time is multiplied by to be true, by the rate it was filmed at [1/s] (`Clip.time_scale`)."""
CHANGED_ELSEWHERE = "Another window changed this meanwhile, so nothing was changed. Open the logbook again."


@dataclass(frozen=True)
class Touched:
    """What has to be shown anew once an edit is written.

    Parameters
    ----------
    serve_ids : the serves that were changed; None where none were.
    selects : the serves changed are selected, where they are still there.
    clips : clips were moved to another practice, came or went.
    clip_ids : the clips to which all this belongs; none where it belongs to no clip alone.
    turns : whose turn it is by then, None where that stays.
    records : players, practices, formations or settings were changed.
    views : a view was changed, or where it holds, and with it the places of serves.
    """

    serve_ids: tuple[str, ...] | None = None
    turns: ServingOrder | None = None
    records: bool = False
    views: bool = False
    selects: bool = True
    clips: bool = False
    clip_ids: tuple[str, ...] = ()


class UndoableEdit(ABC):
    """One change to a logbook, named ``text`` in the undo stack, with both of its sides."""

    text: str

    @abstractmethod
    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write one side of the edit, in one transaction; refused with a UserError where it no longer fits."""

    @abstractmethod
    def touches(self, *, forward: bool) -> Touched:
        """Return what that side changes."""

    def followed_by(self, later: UndoableEdit) -> Self | None:
        """Return this edit and the one after it as a single one, None where they stay two steps of undo."""
        return None


@dataclass(frozen=True)
class ChangeServes(UndoableEdit):
    """Serves before and after, and whose turn it was; None on one side means the serve appears or goes."""

    text: str
    pairs: Sequence[ServePair]
    turns: tuple[ServingOrder, ServingOrder] | None = None
    selects: bool = True

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the serves of one side, unless another window changed one of them."""
        logbook.change_serves(self.pairs if forward else [(after, before) for before, after in self.pairs])

    def touches(self, *, forward: bool) -> Touched:
        """Return the serves, and the turn on that side."""
        serves = [serve for before, after in self.pairs if (serve := before or after)]
        turns = self.turns[1 if forward else 0] if self.turns else None
        clip_ids = tuple(dict.fromkeys(serve.clip_id for serve in serves))
        return Touched(tuple(serve.id for serve in serves), turns, selects=self.selects, clip_ids=clip_ids)


@dataclass(frozen=True)
class ChangeRecords(UndoableEdit):
    """Players, seasons, practices, formations, settings before and after; None on one side: it comes or goes."""

    text: str
    pairs: Sequence[RecordPair] = ()
    settings: Mapping[str, tuple[str, str]] = field(default_factory=dict)

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the records and settings of one side, unless another window changed one of them."""
        pairs = [pair if forward else pair[::-1] for pair in self.pairs]
        with logbook.one_change():
            numbered: tuple[Record, ...] = (*logbook.players(), *logbook.seasons())
            planned = {plan.date for plan in logbook.plans()}
            ahead: tuple[Record, ...] = (*logbook.tallies(), *logbook.plans(), *logbook.trials())
            kept: tuple[Record, ...] = (*numbered, *ahead, *logbook.practices(), *logbook.gyms(), *logbook.formations())
            found: dict[tuple[type[Record], str], Record] = {
                (type(record), record.id): record for record in (*kept, *logbook.consents())
            }
            for before, after in pairs:
                record = before or after
                if record is not None and found.get((type(record), record.id)) != before:
                    raise UserError(CHANGED_ELSEWHERE)
                if before is None and isinstance(record, PracticePlan) and record.date in planned:
                    raise UserError(CHANGED_ELSEWHERE)
            for key, (old, new) in self.settings.items():
                if logbook.get_setting(key) != (old if forward else new):
                    raise UserError(CHANGED_ELSEWHERE)
                logbook.set_setting(key, new if forward else old)
            logbook.put(*(after for _, after in pairs if after is not None))
            logbook.remove(*(before for before, after in pairs if before is not None and after is None))

    def touches(self, *, forward: bool) -> Touched:
        """Return that records were changed."""
        return Touched(records=True)


@dataclass(frozen=True)
class ChangeCaptureRate(UndoableEdit):
    """The rate a clip was filmed at before and after; its serves, as they are by then, are placed in the true time."""

    text: str
    before: ClipEntry
    after: ClipEntry
    time_scale: TimeScale

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the rate, and where the serves' views place them at it."""
        before, after = (self.before, self.after) if forward else (self.after, self.before)
        with logbook.one_change():
            entry = next((clip for clip in logbook.clips() if clip.id == after.id), None)
            if entry is None or entry.filmed_at_fps != before.filmed_at_fps:
                raise UserError(CHANGED_ELSEWHERE)
            logbook.put(replace(entry, filmed_at_fps=after.filmed_at_fps))
            serves = logbook.serves(clip_id=entry.id)
            for stored in logbook.views():
                of_view = [serve for serve in serves if serve.view_id == stored.id]
                if of_view:
                    view = view_from_text(stored.document)
                    logbook.put(*place_all(of_view, view, self.time_scale(after.filmed_at_fps)))

    def touches(self, *, forward: bool) -> Touched:
        """Return that the clip's serves have other places."""
        return Touched(views=True, clip_ids=(self.after.id,))
